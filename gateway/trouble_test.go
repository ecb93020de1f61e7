package gateway

import (
	"context"
	"net/http"
	"time"

	"telltale/alarms"
	"telltale/gateway/model"
)

// troubles are the kinds of what goes wrong, and what each does.
var troubles = map[string]func(l *long){
	"killed before the journal has it":       func(l *long) { l.killedIn(unsynced) },
	"killed before it is saved":              func(l *long) { l.killedIn(unsaved) },
	"killed before it is told":               func(l *long) { l.killedIn(untoldYet) },
	"killed before the telling is recorded":  func(l *long) { l.killedIn(unrecorded) },
	"killed while nothing happens":           (*long).kill,
	"another config":                         (*long).reload,
	"the broker is gone":                     (*long).brokerGone,
	"the disk is full":                       (*long).diskFull,
	"the disk does not answer":               (*long).diskHangs,
	"the clock is set":                       (*long).clockSet,
	"the phone refuses":                      func(l *long) { l.refusing(l.phone, http.StatusServiceUnavailable) },
	"both ways to tell refuse":               (*long).bothRefuse,
	"answers of the phone are lost":          func(l *long) { l.refusing(l.phone, 0) },
	"something in the garden breaks":         (*long).broken,
	"something in the garden breaks, again":  (*long).broken,
	"something in the garden breaks, thrice": (*long).broken,
}

// killedIn kills the watch at the next transition, at a moment of its saving.
func (l *long) killedIn(d death) {
	l.w.mu.Lock()
	l.w.dies = d
	l.w.mu.Unlock()
	for range 288 { // a day
		if l.slice(true); l.died() {
			break
		}
	}
	l.kill()
}

func (l *long) reload() {
	l.t.Helper()
	ok(l.t, l.stop())
	l.high = 67 - l.high // 33 or 34
	l.cfg = longConfig(l.t, l.at, l.phone, l.post, l.high)
	l.w.replan(l.cfg.Plan)
	l.start(l.marker())
}

func (l *long) brokerGone() {
	l.t.Helper()
	ok(l.t, l.broker.Close())
	await(l.t, "the loss is known", func() bool { l.tick(); return l.downIs(true) })
	for range 1 + l.rng.IntN(36) {
		l.slice(false)
	}
	l.startBroker(l.at)
	await(l.t, "the link is up", func() bool { return l.p.link.Stats().Up })
	await(l.t, "the core knows", func() bool { l.tick(); return l.downIs(false) })
}

func (l *long) downIs(down bool) bool {
	l.w.mu.Lock()
	defer l.w.mu.Unlock()
	return l.w.down.IsZero() != down
}

func (l *long) diskFull() {
	set := func(refuses bool) {
		l.w.mu.Lock()
		defer l.w.mu.Unlock()
		l.w.refuses = refuses
	}
	set(true)
	for range 1 + l.rng.IntN(24) {
		l.slice(true)
	}
	set(false)
	await(l.t, "the disk takes it", func() bool { l.tick(); return l.w.quiet() })
}

// diskHangs: the disk answers nothing for a while, and has all in the end.
func (l *long) diskHangs() {
	l.w.hang.Lock()
	before := l.p.link.Stats().Received
	end := l.clock.Core().Add(longSlice)
	l.clock.Step(longSlice)
	messages := l.sim.Advance(end)
	for _, m := range messages {
		l.send(m)
		l.probes.Publish(m.Topic, 1, false, m.Payload)
	}
	await(l.t, "it has been received", func() bool { return l.p.link.Stats().Received >= before+uint64(len(messages)) })
	ok(l.t, l.p.watch.Do(context.Background(), alarms.Input{Kind: alarms.Tick}))
	l.w.hang.Unlock()
	await(l.t, "the disk has it", func() bool { l.tick(); return l.w.quiet() })
}

// clockSet puts the clock on the wall forward or back for some hours.
func (l *long) clockSet() {
	by := time.Duration(10+l.rng.IntN(80)) * time.Minute
	if l.rng.IntN(2) == 0 {
		by = -by
	}
	for _, by := range []time.Duration{by, -by} {
		put(l.clock, by)
		l.tick()
		for range 12 {
			l.slice(true)
		}
	}
}

func (l *long) refusing(r *receiver, how int) {
	r.set(how)
	defer r.set(http.StatusNoContent)
	for range 1 + l.rng.IntN(72) {
		l.slice(true)
	}
}

func (l *long) bothRefuse() {
	l.barred.Store(true)
	l.post.set(http.StatusServiceUnavailable)
	l.refusing(l.phone, http.StatusServiceUnavailable)
	l.post.set(http.StatusNoContent)
	for range 24 { // the longest pause before another try is over
		l.slice(true)
	}
	l.barred.Store(false)
}

// broken lets something in the garden break for some hours.
func (l *long) broken() {
	houses, probes := []alarms.HouseID{"long-house", "low-house"}, []alarms.ProbeID{"bench-1", "bench-2", "ridge-1", "bed-1", "outside-1", "low-bench-1", "heater-1"}
	f := []model.Fault{
		{Kind: model.FanDead, House: houses[l.rng.IntN(2)]}, {Kind: model.FanStuckOn, House: houses[0]}, {Kind: model.LoopFanDead, House: houses[0]},
		{Kind: model.HeaterDead, House: houses[1]}, {Kind: model.ShutterStuckClosed, House: houses[0]},
		{Kind: model.BreakerTripped, House: houses[0], Circuit: model.North}, {Kind: model.BreakerTripped, House: houses[1], Circuit: model.South},
		{Kind: model.ProbeSilent, Probe: probes[l.rng.IntN(len(probes))]}, {Kind: model.ProbeStuck, Probe: probes[l.rng.IntN(len(probes))]},
		{Kind: model.ProbeSpikes, Probe: probes[l.rng.IntN(len(probes))]}, {Kind: model.ProbeGarbled, Probe: probes[l.rng.IntN(len(probes))]},
	}[l.rng.IntN(11)]
	ok(l.t, l.sim.Switch(f, true))
	for range 6 + l.rng.IntN(72) {
		l.slice(true)
	}
	ok(l.t, l.sim.Switch(f, false))
}
