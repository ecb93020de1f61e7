package scenario_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// TestNoWarningIsSaidTwiceOrStaysStuck lets the watch learn for some days, and then
// everything go wrong for one: probes fall silent or show what is wrong, the link is
// lost, the watch restarts, its clock is set, people put aside alarms and probes. All
// promises hold; nobody is warned of a limit whose alarm is on, or put aside; and when
// all has been well for long no warning is left.
func TestNoWarningIsSaidTwiceOrStaysStuck(t *testing.T) {
	seen := eachSchedule(t, 9, func(t *testing.T, seed uint64, seen map[string]int) {
		plan, inputs := aheadChaos(seed)
		check := func(all []alarms.Input) error { return keepsWarnings(plan, all, seed, seen) }
		if err := check(inputs); err != nil {
			t.Errorf("seed %d: %v", seed, err)
		}
	})
	for _, what := range []string{"raise", "return", "suppress", "re-alarm"} {
		if seen[what] == 0 {
			t.Errorf("no warning ever made a move %s: the schedules are too dull (%v)", what, seen)
		}
	}
	for _, what := range []string{"in hand acknowledge", "in hand re-alarm"} {
		if thorough && seen[what] == 0 {
			t.Errorf("no time in hand ever ended: no %s: the schedules are too dull (%v)", what, seen)
		}
	}
	for _, end := range []alarms.AheadEnd{alarms.AheadTurned, alarms.AheadUnknown, alarms.AheadAside} {
		if thorough && seen[string(end)] == 0 {
			t.Errorf("no warning ever ended as %s: the schedules are too dull (%v)", end, seen)
		}
	}
}

// endsInTime holds an acknowledgement of a warning, just made, to the soonest that was then
// expected, and a minute, or to what is usual where nothing is expected.
func endsInTime(p alarms.Picture, t *alarms.Transition) error {
	if t.Move != alarms.Ack || t.To != alarms.Acknowledged {
		return nil
	}
	for _, pl := range p.Houses[0].Places {
		if pl.ID != t.Reason.Place || pl.Outlook == nil || len(pl.Outlook.Limits) == 0 {
			continue
		}
		for _, l := range pl.Outlook.Limits {
			soonest := pl.Outlook.At.Add(l.Soon)
			if l.Side != t.Reason.Side || l.Level != t.Level || l.Likelihood() == 0 || l.Passed(&pl) || soonest.Before(t.Due) {
				continue
			}
			if t.Reason.Until.IsZero() || t.Reason.Until.After(soonest.Add(time.Minute)) {
				return fmt.Errorf("%s holds until %s, though the limit may be reached at %s", t.ID, t.Reason.Until, soonest)
			}
		}
	}
	return nil
}

func keepsWarnings(plan alarms.Plan, inputs []alarms.Input, seed uint64, seen map[string]int) error {
	p, err := newPromises(plan)
	if err != nil {
		return err
	}
	now, n := map[alarms.AlarmID]alarms.Transition{}, 0
	for i, in := range inputs {
		if err := p.step(in); err != nil {
			return fmt.Errorf("input %d (%s at %s): %w", i, in.Kind, in.At.Format(time.DateTime), err)
		}
		for _, t := range p.all[n:] {
			if now[t.Alarm] = t; t.Reason.Rule == alarms.RuleAhead {
				seen[t.Move.String()]++
				if t.Reason.InHand != nil {
					seen["in hand "+t.Move.String()]++
				}
				if err := endsInTime(p.engine.Picture(), &t); err != nil {
					return err
				}
				seen[string(t.Reason.Ahead.Ended)]++
				if at := plan.Houses[0].Places[1]; at.NoEarlyWarning && t.Reason.Place == at.ID {
					return fmt.Errorf("%s is told where nobody wants to be warned", t.ID)
				}
			}
		}
		n = len(p.all)
		for id, t := range now {
			if limit := now[id.Story()]; id != id.Story() && t.To.Active() && (limit.To.Aside() || limit.To.Active() && limit.Level >= t.Level) {
				return fmt.Errorf("at %s %s is %s while %s is %s, %s", in.At.Format(time.DateTime), id, t.To, limit.Alarm, limit.To, limit.Level)
			}
		}
	}
	for id, t := range now {
		if id != id.Story() && t.To != alarms.Normal {
			return fmt.Errorf("when all has been well for long %s is %s", id, t.To)
		}
	}
	if seed%8 == 0 {
		return survivesChanges(plan, inputs, seed)
	}
	return nil
}

// aheadChaos is a house with a place of one probe and one of two, days from which the
// watch learns, a wild one, and hours in which all is well.
func aheadChaos(seed uint64) (alarms.Plan, []alarms.Input) {
	rnd := rand.New(rand.NewPCG(seed, 12))
	band := func(q alarms.Priority) []alarms.Band {
		return []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{LowLow: alarms.At(2), Low: alarms.At(8), High: alarms.At(30), HighHigh: alarms.At(34)}, Priority: q},
			{Quantity: alarms.Temperature, When: alarms.Night, Limits: alarms.Limits{High: alarms.At(26)}, Priority: q}}
	}
	probe := func(id alarms.ProbeID) alarms.Probe {
		return alarms.Probe{ID: id, Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Temperature, Jump: -1, StuckFor: -1}}}
	}
	plan := alarms.Plan{Houses: []alarms.House{{ID: "long-house", Latitude: 52, Day: alarms.DayRule{Fixed: true, Start: 6 * time.Hour, End: 20 * time.Hour},
		Places: []alarms.Place{{ID: "bench", Bands: band(alarms.Medium), Probes: []alarms.Probe{probe("bench-1")}},
			{ID: "ridge", Bands: band(alarms.High), Probes: []alarms.Probe{probe("ridge-1"), probe("ridge-2")}, NoEarlyWarning: rnd.IntN(6) == 0}}}}}
	const learns, wild = 3, 5 // days
	s := &aheadDays{rnd: rnd, start: time.Date(2026, 6, 1, 0, 0, 0, 0, time.UTC), wildFrom: learns * 24 * 60, wildTo: wild * 24 * 60}
	for i := range s.peak {
		s.peak[i] = 10 + 4*rnd.Float64()
		if i >= learns {
			s.peak[i] = 10 + 12*rnd.Float64()
		}
		s.floor[i] = 14 - 8*rnd.Float64()*float64(i/learns)
	}
	for i, id := range []alarms.ProbeID{"bench-1", "ridge-1", "ridge-2"} {
		s.probe(id, i)
	}
	s.people()
	s.inOrder()
	return plan, s.inputs
}

// aheadDays are days being made up; times are minutes from their start.
type aheadDays struct {
	rnd              *rand.Rand
	start            time.Time
	wildFrom, wildTo int
	peak, floor      [7]float64 // °C above the floor, by day
	inputs           []alarms.Input
}

func (s *aheadDays) add(minute int, in alarms.Input) {
	in.At = s.start.Add(time.Duration(minute)*time.Minute + time.Duration(s.rnd.IntN(50))*time.Second)
	s.inputs = append(s.inputs, in)
}

// moment is one of the wild days, every other one of the hours in which it gets hot.
func (s *aheadDays) moment() int {
	if s.rnd.IntN(2) == 0 {
		return s.wildFrom + s.rnd.IntN(2)*24*60 + 9*60 + s.rnd.IntN(5*60)
	}
	return s.wildFrom + s.rnd.IntN(s.wildTo-s.wildFrom-120)
}

// probe lets one report, fall silent and show what is wrong.
func (s *aheadDays) probe(id alarms.ProbeID, i int) {
	silent, wrong := s.moment(), s.moment()
	lasts, off := s.rnd.IntN(150), 9*s.rnd.NormFloat64()
	noise := 0.0
	for m := i; m < s.wildTo+14*60; m += 5 {
		if m > silent && m < silent+lasts {
			continue
		}
		day := min(m/(24*60), len(s.peak)-1)
		sun := math.Max(0, math.Sin(math.Pi*(float64(m%(24*60))/60-6)/14))
		noise = 0.8*noise + 0.1*s.rnd.NormFloat64()
		v := s.floor[day] + s.peak[day]*sun + noise
		switch {
		case m >= s.wildTo:
			v = 18 + noise
		case id == "ridge-2" && m > wrong && m < wrong+lasts:
			v += off
		}
		s.add(m, alarms.Input{Kind: alarms.ReadingIn, Probe: id, Quantity: alarms.Temperature, Value: math.Round(v*10) / 10})
	}
}

// people do what they may, and the link, the watch and its clock what they must not.
func (s *aheadDays) people() {
	ids := []alarms.AlarmID{"long-house/bench/temperature/high", "long-house/bench/temperature/low", "long-house/ridge/temperature/high", "long-house/bench/temperature/high/ahead",
		"long-house/ridge/temperature/high/ahead", "long-house/bench/temperature/low/ahead"}
	for range s.rnd.IntN(30) {
		m := s.moment()
		in := alarms.Input{Kind: pick(s.rnd, alarms.Acknowledge, alarms.Acknowledge, alarms.Shelve, alarms.Unshelve, alarms.TakeOut, alarms.PutBack), Alarm: pick(s.rnd, ids...), By: "Ann"}
		if in.Kind == alarms.Shelve {
			in.Until = s.start.Add(time.Duration(m+10+s.rnd.IntN(200)) * time.Minute)
		}
		s.add(m, in)
	}
	for range s.rnd.IntN(60) { // who is warned takes it, mostly
		m := s.wildFrom + s.rnd.IntN(2)*24*60 + 9*60 + s.rnd.IntN(5*60)
		s.add(m, alarms.Input{Kind: alarms.Acknowledge, Alarm: pick(s.rnd, ids[3:5]...), By: "Bea"})
	}
	for range s.rnd.IntN(3) {
		probe, m := pick(s.rnd, alarms.ProbeID("bench-1"), "ridge-1"), s.moment()
		s.add(m, alarms.Input{Kind: alarms.TakeOut, Probe: probe, By: "Ann"})
		s.add(m+s.rnd.IntN(60), alarms.Input{Kind: alarms.PutBack, Probe: probe, By: "Ann"})
	}
	if s.rnd.IntN(2) == 0 {
		m := s.moment()
		s.add(m, alarms.Input{Kind: alarms.LinkDown, Note: "by chance"})
		s.add(m+s.rnd.IntN(60), alarms.Input{Kind: alarms.LinkUp})
	}
	for range s.rnd.IntN(3) {
		s.add(s.moment(), alarms.Input{Kind: alarms.RestartMarker})
	}
	if s.rnd.IntN(3) == 0 {
		s.add(s.moment(), alarms.Input{Kind: alarms.ClockStep, Shift: pick(s.rnd, -3*time.Hour, 5*time.Hour, 12*365*24*time.Hour)})
	}
	s.add(s.wildTo, alarms.Input{Kind: alarms.LinkUp})
	for _, id := range ids {
		s.add(s.wildTo, alarms.Input{Kind: alarms.Unshelve, Alarm: id, By: "Ann"})
		s.add(s.wildTo, alarms.Input{Kind: alarms.PutBack, Alarm: id, By: "Ann"})
	}
	for _, id := range []alarms.ProbeID{"bench-1", "ridge-1"} {
		s.add(s.wildTo+1, alarms.Input{Kind: alarms.PutBack, Probe: id, By: "Ann"})
	}
	s.add(s.wildTo+13*60, alarms.Input{Kind: alarms.Acknowledge, By: "Ann"})
}

// inOrder puts all in the order of time; what was on its way while nothing can be heard
// is lost, and the watch hears nothing while it is away.
func (s *aheadDays) inOrder() {
	slices.SortStableFunc(s.inputs, func(a, b alarms.Input) int { return a.At.Compare(b.At) })
	kept, down := s.inputs[:0:0], false
	for _, in := range s.inputs {
		switch {
		case in.Kind == alarms.LinkDown:
			down = true
		case in.Kind == alarms.LinkUp:
			down = false
		case down && in.Kind == alarms.ReadingIn:
			continue
		case in.Kind == alarms.RestartMarker: // it was away for a while
			away := in.At.Add(-time.Duration(s.rnd.IntN(90)) * time.Minute)
			for len(kept) > 0 && kept[len(kept)-1].At.After(away) && strings.HasPrefix(kept[len(kept)-1].Kind.String(), "reading") {
				kept = kept[:len(kept)-1]
			}
		}
		kept = append(kept, in)
	}
	s.inputs = kept
}
