package gateway

import (
	"context"
	"fmt"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/link"
	"telltale/gateway/store"
)

// still builds a watch that does not run: the test plays the owner.
func still(t *testing.T, dir string, start time.Time) *parts {
	t.Helper()
	p, err := buildVictim(dir, &said{told: map[string]bool{}}, start)
	ok(t, err)
	t.Cleanup(func() {
		if err := p.page.Run(canceled()); err != nil {
			t.Error(err)
		}
		if err := p.close(); err != nil {
			t.Error(err)
		}
	})
	return p
}

// held gives the owner a message that waited at the broker, and reports
// whether its value counts as of the present.
func held(p *parts, value string, at time.Time) bool {
	p.owner.message(link.Message{Topic: "g/p0", Payload: []byte(value), Held: true, Received: at})
	return !point(p.owner.engine.Picture(), "bench", alarms.Temperature).Retained
}

func TestWhatTheBrokerHeldForLongIsOld(t *testing.T) {
	t.Parallel()
	p := still(t, t.TempDir(), victimStart)
	at := func(d time.Duration) time.Time { return victimStart.Add(d) }
	o := p.owner
	if held(p, "20.0", at(time.Second)) {
		t.Error("a first start took what may have waited for days as new")
	}
	o.change(link.Change{At: at(2 * time.Second), Up: true})
	o.change(link.Change{At: at(time.Hour), Why: "lost"})
	o.change(link.Change{At: at(time.Hour + time.Second), Why: "still lost"})
	o.change(link.Change{At: at(time.Hour + 20*time.Second), Up: true})
	if !held(p, "21.0", at(time.Hour+21*time.Second)) {
		t.Error("after 20 s without the broker what it held was taken as old")
	}
	o.change(link.Change{At: at(2 * time.Hour), Why: "lost"})
	o.change(link.Change{At: at(2*time.Hour + 10*time.Minute), Up: true})
	o.message(link.Message{Topic: "g/p0", Payload: []byte("22.0"), Held: true, Received: at(2*time.Hour + 10*time.Minute)})
	if pt := point(o.engine.Picture(), "bench", alarms.Temperature); pt.Live {
		t.Errorf("after ten minutes without the broker what it held was taken as new: %+v", pt)
	}
	o.change(link.Change{At: at(3 * time.Hour), Why: "lost"})
	o.change(link.Change{At: at(3*time.Hour + time.Second), Up: true})
	o.message(link.Message{Topic: "g/p0", Payload: []byte("23.0"), Held: true, Received: at(3*time.Hour + 2*time.Second)})
	if pt := point(o.engine.Picture(), "bench", alarms.Temperature); !pt.Live || pt.Value != 23 {
		t.Errorf("a short loss after a long one took what was held as old: %+v", pt)
	}
}

func TestWhatTheBrokerHeldWhileTheWatchWasAwayIsOld(t *testing.T) {
	t.Parallel()
	for away, want := range map[time.Duration]bool{20 * time.Second: true, 20 * time.Minute: false} {
		dir := t.TempDir()
		first, err := buildVictim(dir, &said{told: map[string]bool{}}, victimStart)
		ok(t, err)
		first.owner.message(link.Message{Topic: "g/p0", Payload: []byte("20.0"), Received: victimStart})
		ok(t, first.owner.finish())
		ok(t, first.page.Run(canceled()))
		ok(t, first.close())
		p := still(t, dir, victimStart.Add(away))
		p.owner.begin()
		p.owner.message(link.Message{Topic: "g/p0", Payload: []byte("21.0"), Held: true, Received: victimStart.Add(away)})
		if pt := point(p.owner.engine.Picture(), "bench", alarms.Temperature); pt.Live != want {
			t.Errorf("after %v away what the broker held is live: %v, want %v", away, pt.Live, want)
		}
	}
}

// TestPeopleWhoCannotBeReachedAreATrouble has a lamp and a phone, neither of
// which can be told.
func TestPeopleWhoCannotBeReachedAreATrouble(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	file := filepath.Join(dir, "secret")
	ok(t, os.WriteFile(file, []byte(hookKey), 0o600))
	c, err := read(fmt.Sprintf(wholeConfig, "http://127.0.0.1:9/", file, filepath.Join(dir, "lines"), "http://127.0.0.1:9/"), filepath.Join(dir, "store"))
	ok(t, err)
	clock := NewSteppedClock(victimStart, 1)
	p, err := build(Options{Config: c, Clock: clock, Log: zerolog.Nop()})
	ok(t, err)
	defer func() { ok(t, p.close()) }()
	defer func() { ok(t, p.page.Run(canceled())) }()
	ctx, cancel := context.WithCancel(context.Background())
	done := make(chan error, 1)
	go func() { done <- p.worker.Run(ctx) }()
	defer func() { cancel(); ok(t, <-done) }()

	failing := func(channel string) bool {
		for _, s := range p.worker.Stats() {
			if s.Channel == channel {
				return !s.FailingSince.IsZero()
			}
		}
		return false
	}
	o := p.owner
	o.message(link.Message{Topic: "g/plain", Payload: []byte("20.0"), Received: victimStart})
	o.change(link.Change{At: victimStart, Up: true})
	if why := o.mute(); why != "" {
		t.Errorf("before anything was told: %s", why)
	}
	o.message(link.Message{Topic: "g/plain", Payload: []byte("40.0"), Received: victimStart.Add(time.Minute)})
	o.apply(alarms.Input{Kind: alarms.Tick, At: victimStart.Add(2 * time.Minute)})
	clock.Step(3 * time.Minute)
	o.settle()
	await(t, "both channels fail", func() bool { return failing("lamp") && failing("phone") })
	if why := o.mute(); why != "" {
		t.Errorf("at once: %s", why)
	}
	clock.Step(10 * time.Minute)
	if why := say.Of(o.engine.Plan()).Kept(o.mute(), clock.Now()); !strings.HasPrefix(why, "channel phone has failed since 00:03") {
		t.Errorf("after ten minutes: %q", why)
	}
	o.watchSelf()
	if s := stateOf(o.engine.Picture(), alarms.TroubleTelling); s != alarms.Unacknowledged {
		t.Errorf("the trouble is %v", s)
	}
}

// TestAStopSavesWhatTheDiskRefusedBefore leaves transitions unsaved, as after
// a refusal, and stops the owner.
func TestAStopSavesWhatTheDiskRefusedBefore(t *testing.T) {
	t.Parallel()
	p := still(t, t.TempDir(), victimStart)
	o := p.owner
	o.refused, o.again = true, time.Now().Add(time.Hour)
	o.message(link.Message{Topic: "g/p0", Payload: []byte("40.0"), Received: victimStart})
	o.apply(alarms.Input{Kind: alarms.Tick, At: victimStart.Add(time.Minute)})
	o.settle()
	if len(o.fresh) == 0 {
		t.Fatal("nothing waits to be saved")
	}
	o.checkpoint()
	if snap, _, err := p.store.Recover(); err != nil || snap != nil {
		t.Errorf("a snapshot was taken over transitions that are not saved (%v)", err)
	}
	ok(t, o.finish())
	due, err := p.store.Outbox.Due(context.Background(), "slip", victimStart.Add(time.Hour), 10)
	ok(t, err)
	told := map[alarms.AlarmID]bool{}
	for _, w := range due {
		told[w.Alarm] = true
	}
	if !told[benchHigh] {
		t.Errorf("after the stop only %v waits to be told", told)
	}
	log, err := p.store.Log.Transitions(context.Background(), store.LogQuery{})
	ok(t, err)
	if len(log) == 0 || log[len(log)-1].Alarm != benchHigh {
		t.Errorf("the log is %v", log)
	}
}

func TestATroubleOfTheRunBeforeDoesNotStay(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	first, err := buildVictim(dir, &said{told: map[string]bool{}}, victimStart)
	ok(t, err)
	for _, id := range alarms.Troubles {
		first.owner.apply(alarms.Input{At: victimStart, Kind: alarms.TroubleOn, Alarm: id, Note: "test"})
	}
	ok(t, first.owner.finish())
	ok(t, first.page.Run(canceled()))
	ok(t, first.close())
	p := still(t, dir, victimStart.Add(time.Minute))
	p.owner.begin()
	p.owner.watchSelf() // which knows whether copies are late
	for _, id := range alarms.Troubles {
		if id == alarms.TroubleStore { // which no start brings back: somebody must take it
			continue
		}
		if s := stateOf(p.owner.engine.Picture(), id); s.Active() {
			t.Errorf("after a restart %s is still %v", id, s)
		}
	}
}
