package scenario_test

import (
	"errors"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/scenario"
)

const small = `A small file

plan
  house long-house "Long House"
    place bench
      temperature: high 30
      probe bench-1, every 1m: temperature

on 2026-06-21 # the longest day
12:00 bench-1 temperature 31
    12:00 raise wrong: unacknowledged, low, outer
        "Not so."
# a remark that stays
12:00:30 tick
12:01:10 tick   # and one that stays
    12:01 noticed 12:01:10 raise long-house/bench/temperature/high: unacknowledged, medium, outer
        "Another sentence."
`

func TestRewriteReplacesOnlyExpectations(t *testing.T) {
	s, err := scenario.Parse("small.txt", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.Run()
	if err != nil {
		t.Fatal(err)
	}
	text := string(s.Rewrite([]byte(small), got))
	kept := strings.Replace(small, "    12:00 raise wrong: unacknowledged, low, outer\n        \"Not so.\"\n", "", 1)
	start := kept[:strings.Index(kept, `        "Another`)]
	if !strings.HasPrefix(text, start) {
		t.Errorf("got\n%s\nwant a start of\n%s", text, start)
	}
	if rest := strings.TrimPrefix(text, start); !strings.HasPrefix(rest, `        "Too hot in Long House, bench: 31.0 °C`) || strings.Count(rest, "\n") != 1 {
		t.Errorf("the new sentence is %q", rest)
	}
	again, err := scenario.Parse("small.txt", []byte(text), nil)
	if err != nil {
		t.Fatal(err)
	}
	if diff := again.Diff(got); diff != "" {
		t.Errorf("the rewritten file differs from the run it was written from:\n%s", diff)
	}
}

func TestDiffSaysWhereAndWhat(t *testing.T) {
	s, err := scenario.Parse("small.txt", []byte(small), nil)
	if err != nil {
		t.Fatal(err)
	}
	got, err := s.Run()
	if err != nil {
		t.Fatal(err)
	}
	diff := s.Diff(got)
	for _, want := range []string{
		"small.txt:10:\n  missing 12:00 raise wrong: unacknowledged, low, outer\n",
		"small.txt:15:\n  missing 12:01 noticed 12:01:10 raise long-house/bench/temperature/high: unacknowledged, medium, outer\n        \"Another sentence.\"\n  not expected 12:01 noticed 12:01:10 raise long-house",
	} {
		if !strings.Contains(diff, want) {
			t.Errorf("got\n%s\nwant in it\n%s", diff, want)
		}
	}
	if strings.Contains(diff, "small.txt:14") {
		t.Errorf("a step that is as expected is named:\n%s", diff)
	}
}

// TestHarnessSeesChanges makes sure that what must not differ would be seen.
func TestHarnessSeesChanges(t *testing.T) {
	base := alarms.Transition{ID: "a#1", Alarm: "a", Move: alarms.Raise, To: alarms.Unacknowledged,
		Due: time.Unix(100, 0), Noticed: time.Unix(120, 0), Sentence: "So."}
	for name, change := range map[string]func(*alarms.Transition){
		"another sentence":  func(t *alarms.Transition) { t.Sentence = "Not so." },
		"another due":       func(t *alarms.Transition) { t.Due = time.Unix(101, 0) },
		"another state":     func(t *alarms.Transition) { t.To = alarms.Acknowledged },
		"another number":    func(t *alarms.Transition) { t.ID = "a#2" },
		"noticed too early": func(t *alarms.Transition) { t.Noticed = time.Unix(99, 0) },
		"another value":     func(t *alarms.Transition) { v := 3.0; t.Reason.Value = &v },
	} {
		other := base
		change(&other)
		if same([]alarms.Transition{base}, []alarms.Transition{other}, false) == nil {
			t.Errorf("%s is not seen", name)
		}
	}
	earlier := base
	earlier.Noticed = time.Unix(110, 0)
	if err := same([]alarms.Transition{base}, []alarms.Transition{earlier}, false); err != nil {
		t.Errorf("noticed earlier is a difference: %v", err)
	}
	if same([]alarms.Transition{base}, []alarms.Transition{earlier}, true) == nil || same([]alarms.Transition{base}, nil, false) == nil {
		t.Error("exactly the same means exactly")
	}
}

func TestShrinkKeepsWhatMatters(t *testing.T) {
	var inputs []alarms.Input
	for i := range 100 {
		inputs = append(inputs, alarms.Input{At: time.Unix(int64(i), 0)})
	}
	bad := func(in []alarms.Input) error {
		has := func(s int64) bool {
			return slices.ContainsFunc(in, func(i alarms.Input) bool { return i.At.Unix() == s })
		}
		if has(17) && has(71) {
			return errors.New("17 and 71")
		}
		return nil
	}
	few, err := shrink(inputs, bad)
	if err == nil || len(few) != 2 || few[0].At.Unix() != 17 || few[1].At.Unix() != 71 {
		t.Errorf("got %v, %v", few, err)
	}
}
