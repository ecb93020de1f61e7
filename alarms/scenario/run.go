package scenario

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/alarms/walk"
)

// Run steps a new engine through the scenario and returns the transitions
// that each step brought about.
func (s *Scenario) Run() ([][]alarms.Transition, error) {
	engine, err := engine.New(s.Plan)
	if err != nil {
		return nil, fmt.Errorf("%s: the plan: %w", s.File, err)
	}
	out := make([][]alarms.Transition, len(s.Steps))
	for i, step := range s.Steps {
		for _, in := range step.Inputs {
			out[i] = append(out[i], Feed(engine, in)...)
		}
	}
	return out, nil
}

// Feed gives one input to e as the watch does: a reading of a probe that a
// person calibrated comes corrected, and what that brings about is put in words.
func Feed(e *engine.Engine, in alarms.Input) []alarms.Transition {
	if in.Kind == alarms.ReadingIn {
		in.Value = e.Corrected(in.Probe, in.Quantity, in.Value)
	}
	return say.Step(e, in)
}

// Rewrite returns the text that s was read from with its expectations
// replaced by got, one list for each step. All else stays as it stands.
func (s *Scenario) Rewrite(text []byte, got [][]alarms.Transition) []byte {
	drop := map[int]bool{}
	insert := map[int]string{}
	s.each(func(i int, w clockwork) {
		for _, n := range s.Steps[i].wants {
			drop[n] = true
		}
		var b strings.Builder
		for _, t := range got[i] {
			b.WriteString(w.writeWant(t))
		}
		insert[s.Steps[i].last] = b.String()
	})
	var out bytes.Buffer
	n := 0
	for raw := range strings.Lines(string(text)) {
		n++
		if !drop[n] {
			out.WriteString(raw)
		}
		if insert[n] != "" {
			if !strings.HasSuffix(raw, "\n") {
				out.WriteByte('\n')
			}
			out.WriteString(insert[n])
		}
	}
	return out.Bytes()
}

// each calls f for each step with the day that holds on its line.
func (s *Scenario) each(f func(i int, w clockwork)) {
	w := clockwork{zone: zoneOf(s.Plan.Words.Zone)}
	for i, step := range s.Steps {
		w.day = step.Inputs[0].At.In(w.zone).Format(dayForm)
		if step.day != "" {
			w.day = step.day
		}
		f(i, w)
	}
}

// Diff compares what was expected with what came, step by step, and says
// where they differ; empty if nowhere.
func (s *Scenario) Diff(got [][]alarms.Transition) string {
	var b strings.Builder
	s.each(func(i int, w clockwork) {
		want, have := writeAll(w, s.Steps[i].Want), writeAll(w, got[i])
		if slices.Equal(want, have) {
			return
		}
		fmt.Fprintf(&b, "%s:%d:\n", s.File, s.Steps[i].Line)
		head := b.Len()
		for _, l := range want {
			if !slices.Contains(have, l) {
				b.WriteString("  missing " + strings.TrimSpace(l) + "\n")
			}
		}
		for _, l := range have {
			if !slices.Contains(want, l) {
				b.WriteString("  not expected " + strings.TrimSpace(l) + "\n")
			}
		}
		if b.Len() == head {
			b.WriteString("  the order or number of the same lines differs\n")
		}
	})
	return b.String()
}

func writeAll(w clockwork, ts []alarms.Transition) []string {
	return walk.Each(ts, w.writeWant)
}
