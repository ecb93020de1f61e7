package engine

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// How the plan of a running watch is changed by chance, in one of these tests:
// a life under the first plan, in which anything may be on; the change; then
// readings within limits for two days, and in a second life an excursion.

const lifeStep = 5 * time.Minute

// life feeds an engine.
type life struct {
	rnd  *rand.Rand
	e    *Engine
	now  time.Time
	made []alarms.Transition
	ill  map[alarms.ProbeID]int // what ails it, 0 nothing
	heat map[alarms.PlaceID]int // what the place does, 0 nothing
	open bool                   // the doors are
}

// Ailments of probes and moods of places.
const (
	illSilent = iota + 1
	illOutlier
	illFailed
	illGarbled
	illPinned
	illWeak
	illJumping
)

const (
	moodHot = iota + 1
	moodHarm
	moodCold
	moodChatter
)

func (l *life) step(in alarms.Input) {
	in.At = l.now
	l.made = append(l.made, InWords(l.e, l.e.Step(in))...)
}

// report lets every probe of the plan report once.
func (l *life) report(i int, beyond alarms.PlaceID, mute alarms.ProbeID) {
	for h := range l.e.plan.Houses {
		for p := range l.e.plan.Houses[h].Places {
			pl := &l.e.plan.Houses[h].Places[p]
			for k := range pl.Probes {
				if pl.Probes[k].ID != mute {
					l.reportOne(pl, &pl.Probes[k], i, beyond == pl.ID)
				}
			}
		}
	}
}

func (l *life) reportOne(pl *alarms.Place, pr *alarms.Probe, i int, beyond bool) {
	ill := l.ill[pr.ID]
	wiggle := float64((i*7+len(pr.ID)+int(pr.ID[len(pr.ID)-1]))%10) / 20
	for _, st := range pr.Streams {
		v := map[alarms.Quantity]float64{alarms.Temperature: 21, alarms.Humidity: 60, alarms.Battery: 80, alarms.Contact: 0, alarms.Current: 0, alarms.Power: 20}[st.Quantity]
		v += wiggle
		if st.Quantity == alarms.Temperature {
			v += l.mood(pl.ID, i)
			if beyond {
				v = 40 + wiggle
			}
		}
		switch ill {
		case illSilent:
			continue
		case illGarbled:
			l.step(alarms.Input{Kind: alarms.GarbledIn, Probe: pr.ID, Note: "no number"})
			continue
		case illFailed:
			v = -127
		case illOutlier:
			v += 12
		case illPinned:
			v = 100
		case illWeak:
			v = min(v, 8)
			if st.Quantity != alarms.Battery {
				v = 21 + wiggle
			}
		case illJumping:
			v += 30 * float64(i%2)
		}
		switch st.Quantity {
		case alarms.Contact:
			if v = 0; l.open && strings.HasPrefix(string(pr.ID), "door-contact") {
				v = 1
			}
		case alarms.Current:
			v = wiggle / 50
			if ill != illWeak && l.lit(pr.ID) { // a lamp that is weak does not burn
				v = 2
			}
		}
		l.step(alarms.Input{Kind: alarms.ReadingIn, Probe: pr.ID, Quantity: st.Quantity, Value: l.e.Corrected(pr.ID, st.Quantity, v)})
	}
}

// lit reports whether the timer of the drive that a probe shows wants it on now.
func (l *life) lit(id alarms.ProbeID) bool {
	for _, h := range l.e.houses {
		local := h.wall.At(timing.At(l.now)).In(h.plan.Day.Zone)
		clock := time.Duration(local.Hour())*time.Hour + time.Duration(local.Minute())*time.Minute
		for _, d := range h.plan.Drives {
			if len(d.Evidence) == 0 || d.Evidence[0].Probe != id || slices.Contains(d.Barred, h.Season) {
				continue
			}
			for _, r := range d.Runs {
				if r.Season == h.Season && r.OnFor > 0 && clock%(r.OnFor+r.OffFor) < r.OnFor {
					return true
				}
				for _, w := range r.Hours {
					if r.Season == h.Season && (clock-w.From+24*time.Hour)%(24*time.Hour) < (w.To-w.From+24*time.Hour)%(24*time.Hour) {
						return true
					}
				}
			}
		}
	}
	return false
}

func (l *life) mood(id alarms.PlaceID, i int) float64 {
	switch l.heat[id] {
	case moodHot:
		return 10
	case moodHarm:
		return 20
	case moodCold:
		return -11
	case moodChatter:
		return 10 * float64(i%2)
	}
	return 0
}

// live is a life under the first plan, up to the change.
func (l *life) live() {
	rnd := l.rnd
	for i := range 12 + rnd.IntN(40) {
		if i > 6 {
			l.turn()
		}
		l.report(i, "", "")
		l.now = l.now.Add(lifeStep)
	}
	l.now = l.now.Add(-time.Duration(rnd.Int64N(int64(lifeStep)))) // the change comes at any moment
	l.step(alarms.Input{Kind: alarms.Tick})
	if rnd.IntN(5) == 0 {
		l.step(alarms.Input{Kind: alarms.LinkDown, Note: "refused"})
	}
}

// turn lets something go wrong, or somebody do something.
func (l *life) turn() {
	rnd := l.rnd
	h := pick(rnd, l.e.plan.Houses...)
	pl := pick(rnd, h.Places...)
	switch rnd.IntN(8) {
	case 0:
		l.heat[pl.ID] = rnd.IntN(moodChatter + 1)
	case 1:
		if len(pl.Probes) > 0 {
			l.ill[pick(rnd, pl.Probes...).ID] = rnd.IntN(illJumping + 1)
		}
	case 2:
		for _, a := range l.e.order {
			if a.State.Active() && rnd.IntN(3) == 0 {
				in := alarms.Input{Kind: pick(rnd, alarms.Acknowledge, alarms.Acknowledge, alarms.Shelve, alarms.TakeOut), Alarm: a.ID, By: "Ann", Until: l.now.Add(time.Hour)}
				l.step(in)
				break
			}
		}
	case 3:
		if rnd.IntN(3) == 0 && len(pl.Probes) > 0 {
			l.step(alarms.Input{Kind: pick(rnd, alarms.TakeOut, alarms.PutBack), Probe: pick(rnd, pl.Probes...).ID, By: "Ann"})
		}
	case 4:
		if rnd.IntN(4) == 0 {
			l.step(alarms.Input{Kind: alarms.SetSeason, House: h.ID, Season: pick(rnd, alarms.Seasons...), By: "Ann"})
		}
	case 5:
		if rnd.IntN(4) == 0 && len(pl.Probes) > 0 {
			l.step(alarms.Input{Kind: alarms.Calibrate, Probe: pick(rnd, pl.Probes...).ID, Quantity: alarms.Temperature, Value: 0.4, By: "Ann"})
		}
	case 7:
		l.open = !l.open || rnd.IntN(3) > 0
	case 6:
		if len(h.Drives) > 0 && rnd.IntN(2) == 0 {
			l.step(alarms.Input{Kind: pick(rnd, alarms.Shelve, alarms.Shelve, alarms.Unshelve), Alarm: alarms.AlarmID(string(h.ID) + "/" + string(pick(rnd, h.Drives...).ID) + "/switching"), By: "Ann", Until: l.now.Add(time.Hour)})
		}
		for i := range h.Selectors {
			l.step(alarms.Input{Kind: alarms.SetSelector, House: h.ID, Selector: h.Selectors[i].ID, Position: pick(rnd, h.Selectors[i].Positions...).Name})
		}
	}
}

// under goes on with what l knows, under another plan, after some time away.
func (l *life) under(p alarms.Plan, away time.Duration, marked bool) (*life, error) {
	saved, err := l.e.Snapshot()
	if err != nil {
		return nil, err
	}
	e, err := Restore(p, saved)
	if err != nil {
		return nil, err
	}
	n := &life{e: e, now: l.now.Add(away)}
	if marked {
		n.step(alarms.Input{Kind: alarms.RestartMarker})
	}
	n.step(alarms.Input{Kind: alarms.LinkUp})
	return n, nil
}

// freshAs is a fresh engine that is given what l learned.
func (l *life) freshAs(p alarms.Plan) (*life, error) {
	e, err := New(p)
	if err != nil {
		return nil, err
	}
	for _, h := range e.houses {
		if o := l.e.house(h.plan.ID); o != nil {
			h.Season, h.Selected = o.Season, o.Selected
		}
		for _, st := range h.streams {
			if o := l.e.streams[streamKey{st.probe.plan.ID, st.plan.Quantity}]; o != nil {
				st.Gaps, st.Days, st.Calibrated = slices.Clone(o.Gaps), slices.Clone(o.Days), o.Calibrated
				st.setUsual()
			}
		}
	}
	n := &life{e: e, now: l.now}
	n.step(alarms.Input{Kind: alarms.Tick})
	return n, nil
}

// change is one run of the test: which edits, of a life by chance.
type change struct {
	seed  uint64
	edits []int
}

func (c change) String() string {
	var names []string
	for _, i := range c.edits {
		names = append(names, edits[i].name)
	}
	return fmt.Sprintf("seed %d, %s", c.seed, strings.Join(names, "; "))
}

// changeOf draws the edits of a seed.
func changeOf(seed uint64) change {
	rnd := rand.New(rand.NewPCG(seed, 11))
	c := change{seed: seed, edits: []int{int(seed) % len(edits)}}
	for range rnd.IntN(3) {
		c.edits = append(c.edits, rnd.IntN(len(edits)))
	}
	return c
}

// run returns what is wrong after a change, nil for nothing.
func (c change) run(log func(*life)) error {
	rnd := rand.New(rand.NewPCG(c.seed, 5))
	m := &maker{rnd: rnd}
	before := m.plan()
	e, err := New(before)
	if err != nil {
		return fmt.Errorf("the first plan: %w", err)
	}
	old := &life{rnd: rnd, e: e, ill: map[alarms.ProbeID]int{}, heat: map[alarms.PlaceID]int{},
		now: time.Date(2026, time.Month(1+rnd.IntN(12)), 1+rnd.IntN(28), rnd.IntN(24), 0, 0, 0, time.UTC)}
	old.live()
	after := clonePlan(before)
	for k, i := range c.edits {
		again := clonePlan(after)
		em := &maker{rnd: rand.New(rand.NewPCG(c.seed, uint64(100+k))), named: 1000 * (k + 1)}
		edits[i].do(em, &again)
		tidy(&again)
		if sound(again) {
			after = again
		}
	}
	away := time.Duration(rnd.IntN(7200)) * time.Second
	marked := rnd.IntN(4) > 0
	if err := calmDown(old, after, away, marked, log); err != nil {
		return err
	}
	if e, err := New(after); err != nil || e.print() == old.e.print() {
		return err // not changed at all: then a delay goes on as it would have
	}
	return exceed(old, after, away, rnd)
}

// calmDown demands that all that was on ends when all is well for two days.
func calmDown(old *life, p alarms.Plan, away time.Duration, marked bool, log func(*life)) error {
	n, err := old.under(p, away, marked)
	if err != nil {
		return err
	}
	for _, h := range n.e.houses {
		for _, st := range h.streams { // what somebody ordered ends when somebody says so
			n.step(alarms.Input{Kind: alarms.PutBack, Probe: st.probe.plan.ID, By: "Ann"})
		}
	}
	for i := range int(53 * time.Hour / lifeStep) {
		n.report(i, "", "")
		n.now = n.now.Add(lifeStep)
	}
	if log != nil {
		log(old)
		log(n)
	}
	ended := map[alarms.AlarmID]bool{}
	seen := map[string]bool{}
	for _, t := range slices.Concat(old.made, n.made) {
		if seen[t.ID] {
			return fmt.Errorf("%s came twice", t.ID)
		}
		seen[t.ID] = true
		ended[t.Alarm] = !t.To.Active() && t.To != alarms.SuppressedByDesign
		if t.Move == alarms.Realarm {
			continue // may come with the very end of what it reminds of
		}
		if !strings.HasSuffix(t.Sentence, ".") && !strings.HasSuffix(t.Sentence, "?") || strings.Contains(t.Sentence, "  ") || strings.Contains(t.Sentence, "%!") {
			return fmt.Errorf("%s is no sentence: %q", t.ID, t.Sentence)
		}
	}
	for _, a := range old.e.order {
		if a.State != alarms.Normal {
			met["on:"+string(a.Kind)]++
		}
		if was := a.State; (was.Active() || was == alarms.SuppressedByDesign) && !ended[a.ID] {
			return fmt.Errorf("%s was %s and has not ended", a.ID, was)
		}
	}
	for _, a := range n.e.order {
		if strings.HasSuffix(string(a.ID), "/never-ran") {
			continue // ends when the drive is called and runs, which it is not in this calm
		}
		if a.Condition != alarms.Within || a.State.Active() || a.State == alarms.SuppressedByDesign {
			return fmt.Errorf("%s is %s, at %s, after two days within limits: %+v", a.ID, a.State, a.Condition, a.Newest)
		}
	}
	return nil
}

// exceed demands that an excursion after the change is told when a fresh engine
// tells it.
func exceed(old *life, p alarms.Plan, away time.Duration, rnd *rand.Rand) error {
	n, err := old.under(p, away, true)
	if err != nil {
		return err
	}
	f, err := n.freshAs(p)
	if err != nil {
		return err
	}
	h := pick(rnd, n.e.houses...)
	if len(h.places) == 0 {
		return nil
	}
	pl := pick(rnd, h.places...)
	var mute alarms.ProbeID
	if len(pl.probes) > 0 && rnd.IntN(2) == 0 {
		mute = pick(rnd, pl.probes...).plan.ID
	}
	calm := pick(rnd, 0, 1, 3, 12, 40)
	from := n.now
	for i := range calm + 30 {
		beyond, silent := alarms.PlaceID(""), alarms.ProbeID("")
		if i == calm {
			from = n.now
		}
		if i >= calm {
			beyond, silent = pl.plan.ID, mute
		}
		n.report(i, beyond, silent)
		f.report(i, beyond, silent)
		n.now, f.now = n.now.Add(lifeStep), f.now.Add(lifeStep)
	}
	return sameTold(n, f, h, from)
}

// sameTold holds what n tells of limits and of silence against what f tells.
func sameTold(n, f *life, h *house, from time.Time) error {
	for _, p := range h.places {
		for _, pr := range p.probes {
			if pr.Out {
				return nil // somebody has ordered that it be not heard
			}
		}
	}
	want := firsts(f.made, from)
	got := firsts(n.made, from)
	for _, a := range f.e.order {
		w, ok := want[a.ID]
		if !ok || a.house == nil || a.house.plan.ID != h.plan.ID || a.Kind != alarms.RuleLimit && a.Kind != alarms.RuleSilent && a.Kind != alarms.RuleUnwatched && a.Kind != alarms.RuleRate {
			continue
		}
		if held := heldBefore(n, a.ID, w); held {
			met["held:"+string(a.Kind)]++
			continue
		}
		met["told:"+string(a.Kind)]++
		if g := got[a.ID]; !g.Equal(w) {
			return fmt.Errorf("%s: a fresh engine tells it at %s, this one at %s; the excursion began at %s", a.ID, w, g, from)
		}
	}
	return nil
}

// firsts are when each alarm first asked for somebody from a moment on.
func firsts(made []alarms.Transition, from time.Time) map[alarms.AlarmID]time.Time {
	all := map[alarms.AlarmID]time.Time{}
	for _, t := range made {
		if _, ok := all[t.Alarm]; !ok && t.Told() && t.To == alarms.Unacknowledged && !t.Due.Before(from) {
			all[t.Alarm] = t.Due
		}
	}
	return all
}

// heldBefore reports whether an alarm was on, or put aside by somebody, at a
// moment: then nothing new is to be told of it.
func heldBefore(n *life, id alarms.AlarmID, when time.Time) bool {
	a := n.e.alarms[id]
	if a == nil {
		return false
	}
	if a.State == alarms.Shelved || a.State == alarms.OutOfService {
		return true
	}
	state, last := alarms.Normal, math.MinInt
	for i, t := range n.made {
		if t.Alarm == id && t.Due.Before(when) {
			state, last = t.To, i
		}
	}
	if last == math.MinInt { // as it was before the change
		for _, t := range n.made {
			if t.Alarm == id {
				return t.From != alarms.Normal && t.From != alarms.ReturnedUnack
			}
		}
		return a.State != alarms.Normal && a.State != alarms.ReturnedUnack
	}
	return state != alarms.Normal && state != alarms.ReturnedUnack
}

// met counts what the runs have met, so that a test that sees nothing fails.
var met = map[string]int{}

// changes is how many changes of the plan are tried: all of them where the
// environment asks for thorough tests.
func changes() int {
	if os.Getenv("TELLTALE_THOROUGH") != "" {
		return 2000
	}
	return 3 * len(edits)
}

// TestAfterAChangeOfPlanNothingStaysOnAndNothingIsLate changes the plan of a
// watch at which anything may be on. A run that fails is tried again with fewer
// edits, and printed with its seed.
func TestAfterAChangeOfPlanNothingStaysOnAndNothingIsLate(t *testing.T) {
	failed := 0
	for seed := range uint64(changes()) {
		c := changeOf(seed)
		err := c.run(nil)
		if err == nil {
			continue
		}
		for len(c.edits) > 1 {
			smaller := false
			for i := range c.edits {
				less := change{c.seed, slices.Delete(slices.Clone(c.edits), i, i+1)}
				if e := less.run(nil); e != nil {
					c, err, smaller = less, e, true
					break
				}
			}
			if !smaller {
				break
			}
		}
		t.Errorf("%s: %v", c, err)
		if failed++; failed == 20 {
			t.Fatal("and more")
		}
	}
	for _, what := range []string{"on:limit", "on:rate", "on:exposure", "on:silent", "on:unwatched", "on:fault", "on:control", "on:opening",
		"told:limit", "told:rate", "told:silent", "told:unwatched"} {
		if met[what] < changes()/100 {
			t.Errorf("%s was met %d times in %d changes: this test sees too little", what, met[what], changes())
		}
	}
	t.Log(met)
}

// TestOneChangeOfPlan tells all of one run: TELLTALE_CHANGE is its seed.
func TestOneChangeOfPlan(t *testing.T) {
	seed, err := strconv.ParseUint(os.Getenv("TELLTALE_CHANGE"), 10, 64)
	if err != nil {
		t.Skip("TELLTALE_CHANGE is not set to a seed")
	}
	err = changeOf(seed).run(func(l *life) {
		for _, m := range l.made {
			t.Logf("%s %s %s %s->%s | %s", m.Due.Format(time.DateTime), m.ID, m.Move, m.From, m.To, m.Sentence)
		}
	})
	if err != nil {
		t.Errorf("%s: %v", changeOf(seed), err)
	}
}
