package scenario_test

import (
	"bytes"
	"cmp"
	"encoding/json"
	"flag"
	"fmt"
	"hash/fnv"
	"math/rand/v2"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/scenario"
)

const files = "../../testdata/scenario/*.txt"

var rewrite = flag.Bool("rewrite", false,
	"write what the core does now into the scenario files; commit only what you understand and want")

func TestScenarios(t *testing.T) {
	names, err := filepath.Glob(files)
	if err != nil || len(names) < 25 {
		t.Fatalf("want at least 25 scenario files at %s, got %d (%v)", files, len(names), err)
	}
	for _, name := range names {
		t.Run(strings.TrimSuffix(filepath.Base(name), ".txt"), func(t *testing.T) {
			t.Parallel()
			checkFile(t, name)
		})
	}
}

// readFile reads a scenario.
func readFile(t *testing.T, name string) (s *scenario.Scenario, text []byte) {
	t.Helper()
	text, err := os.ReadFile(name)
	if err != nil {
		t.Fatal(err)
	}
	if s, err = scenario.Parse(name, text, time.LoadLocation); err != nil {
		t.Fatal(err)
	}
	return s, text
}

func checkFile(t *testing.T, name string) {
	s, text := readFile(t, name)
	got, err := s.Run()
	if err != nil {
		t.Fatal(err)
	}
	if *rewrite {
		if err := os.WriteFile(name, s.Rewrite(text, got), 0o644); err != nil {
			t.Fatal(err)
		}
	} else if diff := s.Diff(got); diff != "" {
		t.Errorf("%s\n(run with -rewrite to take over what came)", diff)
	}
	if err := keepsPromises(s.Plan, s.Inputs()); err != nil {
		t.Error(err)
	}
	seed := fnv.New64a()
	seed.Write([]byte(filepath.Base(name))) // never fails
	if err := survivesChanges(s.Plan, s.Inputs(), seed.Sum64()); err != nil {
		t.Error(err)
	}
}

// survivesChanges runs the inputs again with changes that must not matter.
func survivesChanges(plan alarms.Plan, inputs []alarms.Input, seed uint64) error {
	want, err := play(plan, inputs, nil)
	if err != nil {
		return err
	}
	for _, v := range []struct {
		name    string
		inputs  []alarms.Input
		restore bool
		guests  bool
		exact   bool
	}{
		{name: "snapshot and restore between steps", inputs: inputs, restore: true, exact: true},
		{name: "extra ticks", inputs: moreTicks(inputs, seed)},
		{name: "a tick at every deadline", inputs: deadlineTicks(plan, inputs)},
		{name: "no ticks but the last", inputs: fewerTicks(inputs)},
		{name: "another house in between", inputs: withGuests(plan, inputs, seed), guests: true},
		{name: "all of it", inputs: moreTicks(withGuests(plan, inputs, seed+1), seed+1), restore: true, guests: true},
	} {
		p := plan
		if v.guests {
			p = guestPlan(plan)
		}
		var anew []bool
		if v.restore {
			anew = rebirths(v.inputs, seed)
		}
		got, err := play(p, v.inputs, anew)
		if err != nil {
			return fmt.Errorf("with %s: %w", v.name, err)
		}
		if err := same(want, got, v.exact); err != nil {
			return fmt.Errorf("with %s: %w", v.name, err)
		}
	}
	return nil
}

// play runs the inputs and returns all transitions but those of guests. The
// engine is replaced by its own snapshot before the inputs that anew names.
func play(plan alarms.Plan, inputs []alarms.Input, anew []bool) ([]alarms.Transition, error) {
	e, err := engine.New(plan)
	if err != nil {
		return nil, err
	}
	var all []alarms.Transition
	for i, in := range inputs {
		if anew != nil && anew[i] {
			if e, err = reborn(plan, e); err != nil {
				return nil, fmt.Errorf("before input %d: %w", i, err)
			}
		}
		for _, tr := range scenario.Feed(e, in) {
			if !strings.HasPrefix(string(tr.Alarm), guestHouse+"/") {
				all = append(all, tr)
			}
		}
	}
	return all, nil
}

// reborn takes a snapshot, restores it and demands that nothing is lost.
func reborn(plan alarms.Plan, e *engine.Engine) (*engine.Engine, error) {
	snapshot, err := e.Snapshot()
	if err != nil {
		return nil, err
	}
	again, err := engine.Restore(plan, snapshot)
	if err != nil {
		return nil, err
	}
	second, err := again.Snapshot()
	if err != nil {
		return nil, err
	}
	if !bytes.Equal(snapshot, second) {
		return nil, fmt.Errorf("a snapshot of what was restored differs:\n%s\n%s", snapshot, second)
	}
	return again, nil
}

// same compares transitions. Unless exact, Noticed may be earlier, though not
// before Due, and transitions of one moment may come in another grouping.
func same(want, got []alarms.Transition, exact bool) error {
	want, got = slices.Clone(want), slices.Clone(got)
	if !exact {
		slices.SortStableFunc(want, byMoment)
		slices.SortStableFunc(got, byMoment)
	}
	for i := range max(len(want), len(got)) {
		switch {
		case i >= len(got):
			return fmt.Errorf("missing: %s", show(want[i]))
		case i >= len(want):
			return fmt.Errorf("too much: %s", show(got[i]))
		}
		w, g := want[i], got[i]
		if !exact {
			if g.Noticed.Before(g.Due) {
				return fmt.Errorf("noticed before it was due: %s", show(g))
			}
			w.Noticed, g.Noticed = time.Time{}, time.Time{}
		}
		if !reflect.DeepEqual(w, g) {
			return fmt.Errorf("transition %d:\n got %s\nwant %s", i, show(g), show(w))
		}
	}
	return nil
}

func byMoment(a, b alarms.Transition) int {
	return cmp.Or(a.Core.Compare(b.Core), strings.Compare(string(a.Alarm), string(b.Alarm)), number(a)-number(b))
}

// number is the count in a transition's ID.
func number(t alarms.Transition) int {
	n, _ := strconv.Atoi(t.ID[strings.LastIndexByte(t.ID, '#')+1:])
	return n
}

func show(t alarms.Transition) string {
	b, err := json.Marshal(t)
	if err != nil {
		return fmt.Sprintf("%+v (%v)", t, err)
	}
	return string(b)
}

// gap calls f with the time between the newest input so far and the next, for
// each input before which time passes while the watch is up.
func gap(inputs []alarms.Input, f func(i int, from, to time.Time)) {
	var newest time.Time
	for i, in := range inputs {
		if i > 0 && in.At.After(newest) && in.Kind != alarms.RestartMarker {
			f(i, newest, in.At)
		}
		if in.At.After(newest) {
			newest = in.At
		}
	}
}

// moreTicks puts ticks between the inputs, at times that depend on seed alone.
func moreTicks(inputs []alarms.Input, seed uint64) []alarms.Input {
	rnd := rand.New(rand.NewPCG(seed, 1))
	extra := map[int][]alarms.Input{}
	gap(inputs, func(i int, from, to time.Time) {
		var offsets []time.Duration
		for range rnd.IntN(4) {
			offsets = append(offsets, time.Duration(rnd.Int64N(int64(to.Sub(from))+1)))
		}
		slices.Sort(offsets)
		for _, o := range offsets {
			extra[i] = append(extra[i], alarms.Input{At: from.Add(o), Kind: alarms.Tick})
		}
	})
	return insert(inputs, extra)
}

func insert(inputs []alarms.Input, before map[int][]alarms.Input) []alarms.Input {
	var out []alarms.Input
	for i, in := range inputs {
		out = append(append(out, before[i]...), in)
	}
	return out
}

// deadlineTicks puts a tick at each moment that Next names.
func deadlineTicks(plan alarms.Plan, inputs []alarms.Input) []alarms.Input {
	e, err := engine.New(plan)
	if err != nil {
		return inputs
	}
	gaps := map[int]time.Time{}
	gap(inputs, func(i int, _, to time.Time) { gaps[i] = to })
	var out []alarms.Input
	for i, in := range inputs {
		for to := gaps[i]; !to.IsZero(); {
			due, ok := e.Next()
			if !ok || due.After(to) {
				break
			}
			tick := alarms.Input{At: due, Kind: alarms.Tick}
			e.Step(tick)
			out = append(out, tick)
			if again, ok := e.Next(); ok && !again.After(due) {
				panic(fmt.Sprintf("Next still names %s after a tick at %s", again, due))
			}
		}
		scenario.Feed(e, in)
		out = append(out, in)
	}
	return out
}

// fewerTicks drops every tick but the last input, and those before a restart,
// which say until when the watch was up.
func fewerTicks(inputs []alarms.Input) []alarms.Input {
	var out []alarms.Input
	for i, in := range inputs {
		last := i == len(inputs)-1 || inputs[i+1].Kind == alarms.RestartMarker
		if in.Kind != alarms.Tick || last || i == 0 {
			out = append(out, in)
		}
	}
	return out
}
