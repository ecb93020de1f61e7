package scenario_test

import (
	"flag"
	"fmt"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/scenario"
)

var first = flag.Uint64("seed", 1, "first seed of the schedules by chance")

// TestAgainstModel runs schedules made by chance through the core and through
// the naive model, and demands the same transitions.
func TestAgainstModel(t *testing.T) {
	seen := eachSchedule(t, 1200, func(t *testing.T, seed uint64, seen map[alarms.Move]int) {
		plan, inputs := simpleStory(seed)
		if err := likeModel(plan, inputs, seen); err != nil {
			fails(t, seed, plan, inputs, err, func(in []alarms.Input) error { return likeModel(plan, in, seen) })
		}
	})
	for m := alarms.Raise; m <= alarms.Note; m++ {
		if seen[m] < some(20) {
			t.Errorf("only %d times %s: the schedules are too dull", seen[m], m)
		}
	}
}

func likeModel(plan alarms.Plan, inputs []alarms.Input, seen map[alarms.Move]int) error {
	if len(inputs) == 0 {
		return nil
	}
	got, err := play(plan, inputs, nil)
	if err != nil {
		return err
	}
	slices.SortStableFunc(got, byMoment)
	want := predict(plan, inputs)
	for i := range max(len(got), len(want)) {
		var g, w string
		if i < len(got) {
			tr := got[i]
			seen[tr.Move]++
			g = line(tr.Core.Sub(inputs[0].At).Round(time.Second), tr.Alarm, tr.Move, tr.From, tr.To, tr.Level)
		}
		if i < len(want) {
			n := want[i]
			w = line(time.Duration(n.due)*time.Second, n.alarm, n.move, n.from, n.to, n.level)
		}
		if g != w {
			return fmt.Errorf("transition %d:\n  core:  %s\n  model: %s", i, g, w)
		}
	}
	return nil
}

func line(after time.Duration, id alarms.AlarmID, m alarms.Move, from, to alarms.State, l alarms.Level) string {
	return fmt.Sprintf("after %s %s %s: %s to %s, %s", after, m, id, from, to, l)
}

// fails shrinks the schedule while it still breaks what check demands, and
// prints it as a scenario file.
func fails(t *testing.T, seed uint64, plan alarms.Plan, inputs []alarms.Input, err error, check func([]alarms.Input) error) {
	t.Helper()
	few, last := shrink(inputs, check)
	if last == nil {
		last = err
	}
	s := scenario.New(title(seed), fmt.Sprintf("%d of %d inputs are enough to show it.\n%v", len(few), len(inputs), last), plan, few)
	if got, err := s.Run(); err == nil {
		for i := range s.Steps {
			s.Steps[i].Want = got[i]
		}
	}
	t.Fatalf("seed %d: %v\n\n%s", seed, last, s.Print())
}

// shrink drops inputs, many at a time and then few, while check still fails.
func shrink(inputs []alarms.Input, check func([]alarms.Input) error) ([]alarms.Input, error) {
	tries := 3000
	enough := time.Now().Add(30 * time.Second)
	var last error
	for size := len(inputs) / 2; size > 0 && tries > 0; {
		smaller := false
		for from := 0; from < len(inputs) && tries > 0 && time.Now().Before(enough); {
			tries--
			less := slices.Delete(slices.Clone(inputs), from, min(from+size, len(inputs)))
			if err := check(less); err != nil {
				inputs, last, smaller = less, err, true
			} else {
				from += size
			}
		}
		if !smaller {
			size /= 2
		}
	}
	return inputs, last
}
