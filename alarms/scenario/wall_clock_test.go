package scenario_test

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
)

// steps are how far clocks are set: by a network, by a hand, by a board that
// has no battery, by an error.
var steps = []time.Duration{2 * time.Second, -3 * time.Second, 10 * time.Minute, -time.Hour, 3 * time.Hour, -3 * time.Hour,
	-26 * time.Hour, 40 * 24 * time.Hour, -40 * 24 * time.Hour, 12 * 365 * 24 * time.Hour, -56 * 365 * 24 * time.Hour}

// withSteps puts steps of the wall clock between inputs. Times that people give
// are by the clock they see; the clocks of probes go on as they are.
func withSteps(rnd *rand.Rand, inputs []alarms.Input) []alarms.Input {
	var out []alarms.Input
	left, ahead := 1+rnd.IntN(4), time.Duration(0)
	for _, in := range inputs {
		if left > 0 && in.Kind != alarms.RestartMarker && rnd.IntN(len(inputs)) < 8 { // who is away sees no step
			by := pick(rnd, steps...)
			out = append(out, alarms.Input{At: in.At, Kind: alarms.ClockStep, Shift: by})
			left, ahead = left-1, ahead+by
		}
		if !in.Until.IsZero() {
			in.Until = in.Until.Add(ahead)
		}
		out = append(out, in)
	}
	return out
}

// told is what of t does not depend on what the clock on the wall shows.
func told(t alarms.Transition) string {
	return fmt.Sprint(t.Core.UTC().Format(time.StampMilli), " ", t.ID, " ", t.Move, " ", t.From, "→", t.To, " ", t.Level)
}

func toldBy(plan alarms.Plan, inputs []alarms.Input, anew []bool) ([]string, error) {
	all, err := play(plan, inputs, anew)
	slices.SortStableFunc(all, byMoment)
	var out []string
	for _, t := range all {
		if t.Alarm != "watch/clock" {
			out = append(out, told(t))
		}
	}
	return out, err
}

// TestNoStepOfTheWallClockDelaysOrInventsAnything runs each schedule with the
// clock set by seconds to years, forward and back, and the engine restored in
// between, and demands the alarms of an engine that saw true time.
func TestNoStepOfTheWallClockDelaysOrInventsAnything(t *testing.T) {
	seen := eachSchedule(t, 800, func(t *testing.T, seed uint64, seen map[string]int) {
		plan, inputs := simpleStory(seed)
		for i := range plan.Houses { // what a clock decides is tried below
			plan.Houses[i].Day.Settle = -1
			p := &plan.Houses[i].Places[0]
			p.Bands = slices.DeleteFunc(p.Bands, func(b alarms.Band) bool { return b.When != alarms.Always })
		}
		for i := range inputs { // so is what the clocks of probes show
			inputs[i].Measured = time.Time{}
		}
		check := func(in []alarms.Input) error {
			rnd := rand.New(rand.NewPCG(seed, 17))
			set := withSteps(rnd, in)
			seen["steps"] += len(set) - len(in)
			return sameTold(plan, in, set, seed, seen)
		}
		if err := check(inputs); err != nil {
			fails(t, seed, plan, inputs, err, check)
		}
	})
	if seen["steps"] < some(200) || seen["told"] < some(500) {
		t.Errorf("the schedules are too dull: %v", seen)
	}
}

// TestDayAndNightFollowTheWallClockAtOnce lets the clock be wrong while all is
// within limits, puts it right, and demands from then on the alarms of an
// engine that saw true time.
func TestDayAndNightFollowTheWallClockAtOnce(t *testing.T) {
	seen := eachSchedule(t, 600, func(t *testing.T, seed uint64, seen map[string]int) {
		plan, inputs := simpleStory(seed)
		rnd := rand.New(rand.NewPCG(seed, 19))
		right := inputs[0].At.Add(time.Duration(rnd.IntN(3600)) * time.Second)
		wrong := pick(rnd, steps...)
		calm := slices.DeleteFunc(slices.Clone(inputs), func(in alarms.Input) bool {
			return in.Kind != alarms.ReadingIn && in.Kind != alarms.Tick || !in.Measured.IsZero()
		})
		for i := range calm {
			if calm[i].At.Before(right) {
				calm[i].Value = 18 // within every band
			}
		}
		check := func(in []alarms.Input) error {
			began := alarms.Input{At: inputs[0].At.Add(-3 * time.Hour), Kind: alarms.Tick} // longer ago than any limits settle
			in = append([]alarms.Input{began}, in...)
			set := []alarms.Input{{At: began.At, Kind: alarms.ClockStep, Shift: wrong}}
			put := false
			for _, one := range in {
				if !put && !one.At.Before(right) {
					set = append(set, alarms.Input{At: one.At, Kind: alarms.ClockStep, Shift: -wrong})
					put = true
				}
				set = append(set, one)
			}
			return sameTold(plan, in, set, seed, seen)
		}
		if err := check(calm); err != nil {
			fails(t, seed, plan, calm, err, check)
		}
	})
	if seen["told"] < some(500) {
		t.Errorf("the schedules are too dull: %v", seen)
	}
}

// sameTold demands that set, restored in between, tells what in does.
func sameTold(plan alarms.Plan, in, set []alarms.Input, seed uint64, seen map[string]int) error {
	want, err := toldBy(plan, in, nil)
	if err != nil {
		return err
	}
	got, err := toldBy(plan, set, rebirths(set, seed))
	if err != nil {
		return err
	}
	seen["told"] += len(want)
	return sameLines(want, got)
}

func sameLines(want, got []string) error {
	for i := range max(len(want), len(got)) {
		var w, g string
		if i < len(want) {
			w = want[i]
		}
		if i < len(got) {
			g = got[i]
		}
		if w != g {
			return fmt.Errorf("transition %d:\n  true time: %s\n  clock set: %s", i, w, g)
		}
	}
	return nil
}
