package scenario_test

import (
	"fmt"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/scenario"
)

var (
	asksToStop = regexp.MustCompile(`switch(ed)? (it |the \w+ |fan and shutter |all )?off|unplug|turn it off|leave it off|stop (it|the)`)
	asksToShut = regexp.MustCompile(`\b(shut|close) (the |a |doors|it\b)|that should be shut|door shut`)
	firstOpens = regexp.MustCompile(`\bopen (a )?doors?\b`)
	firstShuts = regexp.MustCompile(`\bshut doors\b|whether doors, vents and shutter are closed`)
	cools      = []alarms.DriveKind{alarms.ExhaustFan, alarms.IntakeShutter, alarms.LoopFan, alarms.CirculatingFan}
	warms      = []alarms.DriveKind{alarms.Heater, alarms.LoopFan, alarms.CirculatingFan}
)

// felt is what one house needs by its plan and its last readings, reckoned
// plainly: air above the end of a cooling stage, warmth below that of a heating
// one or with frost outside.
type felt struct{ air, warmth bool }

// weather keeps the last temperature of each place of every house.
type weather struct {
	plan alarms.Plan
	last map[alarms.HouseID]map[alarms.PlaceID]float64
}

func (w *weather) take(in alarms.Input) {
	if in.Kind != alarms.ReadingIn || in.Quantity != alarms.Temperature || in.Retained {
		return
	}
	for _, h := range w.plan.Houses {
		for _, p := range h.Places {
			for _, pr := range p.Probes {
				if pr.ID == in.Probe {
					if w.last[h.ID] == nil {
						w.last[h.ID] = map[alarms.PlaceID]float64{}
					}
					w.last[h.ID][p.ID] = in.Value
				}
			}
		}
	}
}

func (w *weather) of(h alarms.House) (f felt) {
	for _, c := range h.Controls {
		v, known := w.last[h.ID][c.Place]
		for _, s := range c.Stages {
			if s.Mode == alarms.Cooling && known && v > s.SetPoint-s.Differential {
				f.air = true
			}
			if s.Mode == alarms.Heating && known && v < s.SetPoint+s.Differential {
				f.warmth = true
			}
		}
	}
	if v, known := w.last[h.ID]["outside"]; known && v < 5 {
		f.warmth = true
	}
	return f
}

// asksWrongly says what is wrong with what t asks of a person in a house that
// needs f, "" for nothing.
func asksWrongly(h alarms.House, t alarms.Transition, f felt) string {
	ask := t.Reason.Check
	i := slices.IndexFunc(h.Drives, func(d alarms.Drive) bool { return d.ID == t.Reason.Drive })
	before := func(first, then *regexp.Regexp) bool {
		a, b := first.FindStringIndex(ask), then.FindStringIndex(ask)
		return b == nil || a != nil && a[0] < b[0]
	}
	switch {
	case f.air && i >= 0 && slices.Contains(cools, h.Drives[i].Kind) && !before(firstOpens, asksToStop):
		return "asks to stop what cools a hot house, and does not say first what to open"
	case f.air && t.Reason.Rule != alarms.RuleLimit && asksToShut.MatchString(ask) && !before(firstOpens, asksToShut):
		return "asks to shut something in a hot house"
	case !f.air && f.warmth && i >= 0 && slices.Contains(warms, h.Drives[i].Kind) && !before(firstShuts, asksToStop):
		return "asks to stop what warms a cold house, and does not say first what to shut"
	}
	return ""
}

// TestNoSentenceAsksToStopWhatTheHouseNeeds runs every scenario as it is, much
// hotter, and much colder with frost outside: whatever is told then, none asks to
// stop what keeps the plants alive without saying first what to open or shut.
func TestNoSentenceAsksToStopWhatTheHouseNeeds(t *testing.T) {
	names, err := filepath.Glob(files)
	if err != nil {
		t.Fatal(err)
	}
	asked := 0
	for _, name := range names {
		s, _ := readFile(t, name)
		if !slices.ContainsFunc(s.Plan.Houses, func(h alarms.House) bool { return len(h.Drives) > 0 || thorough }) {
			continue
		}
		for _, by := range []float64{0, 9, -16} {
			n, err := asksOf(s, by)
			if err != nil {
				t.Errorf("%s, %+.0f K: %v", filepath.Base(name), by, err)
			}
			asked += n
		}
	}
	if t.Logf("%d sentences asked to stop something", asked); asked < 50 {
		t.Errorf("only %d sentences asked to stop something: too few to have tried anything", asked)
	}
}

// asksOf runs s with every temperature off by so much, and counts what asks to
// stop something.
func asksOf(s *scenario.Scenario, by float64) (asked int, err error) {
	plan := s.Plan.Filled()
	e, err := engine.New(s.Plan)
	if err != nil {
		return 0, err
	}
	w := weather{plan, map[alarms.HouseID]map[alarms.PlaceID]float64{}}
	var wrong []string
	for _, in := range s.Inputs() {
		if in.Kind == alarms.ReadingIn && in.Quantity == alarms.Temperature {
			in.Value += by
		}
		needed := map[alarms.HouseID]felt{}
		for _, h := range plan.Houses {
			needed[h.ID] = w.of(h)
		}
		w.take(in)
		for _, t := range scenario.Feed(e, in) {
			if asksToStop.MatchString(t.Reason.Check) {
				asked++
			}
			for _, h := range plan.Houses {
				was, is := needed[h.ID], w.of(h)
				if both := (felt{was.air && is.air, was.warmth && is.warmth && !was.air && !is.air}); h.ID == t.Reason.House {
					if what := asksWrongly(h, t, both); what != "" {
						wrong = append(wrong, fmt.Sprintf("%s: %s", what, show(t)))
					}
				}
			}
		}
	}
	if len(wrong) > 0 {
		return asked, fmt.Errorf("%s", strings.Join(wrong, "\n"))
	}
	return asked, nil
}
