package gateway

import (
	"bytes"
	"encoding/json"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// spell is a time in which an alarm was not normal.
type spell struct{ from, to time.Time }

// spells orders transitions by alarm into the times in which it was on.
func spells(all []alarms.Transition, end time.Time) map[alarms.AlarmID][]spell {
	slices.SortStableFunc(all, func(a, b alarms.Transition) int { return a.Due.Compare(b.Due) })
	on := map[alarms.AlarmID]time.Time{}
	out := map[alarms.AlarmID][]spell{}
	for _, tr := range all {
		began, is := on[tr.Alarm]
		switch {
		case tr.Move == alarms.Note:
		case tr.To != alarms.Normal && tr.To != alarms.ReturnedUnack && !is:
			on[tr.Alarm] = tr.Due
		case (tr.To == alarms.Normal || tr.To == alarms.ReturnedUnack) && is:
			out[tr.Alarm] = append(out[tr.Alarm], spell{began, tr.Due})
			delete(on, tr.Alarm)
		}
	}
	for id, began := range on {
		out[id] = append(out[id], spell{began, end})
	}
	return out
}

// noneMissed demands that whatever is raised in a run that nobody disturbs was
// raised here too, at about that time: a restart may put a delay off.
func noneMissed(t *testing.T, saved map[string]alarms.Transition, last int) {
	t.Helper()
	var all []alarms.Transition
	for _, tr := range saved {
		all = append(all, tr)
	}
	got := spells(all, stepTime(last))
	_, undisturbed := judged(t, scripted(t, last))
	n := 0
	for id, list := range spells(undisturbed, stepTime(last)) {
		for _, s := range list {
			if s.to.Sub(s.from) < 10*time.Minute || strings.Contains(string(id), "rising") {
				continue // so short that a restart may swallow it: blind time is no evidence
			}
			n++
			if !slices.ContainsFunc(got[id], func(g spell) bool { return g.from.Before(s.to) && g.to.After(s.from) }) {
				t.Errorf("%s was on from %v to %v without a kill, and never with", id, s.from, s.to)
			}
		}
	}
	if n < 15 {
		t.Errorf("only %d alarms to compare: the script is too calm", n)
	}
}

// told demands that everything was told at least once, only what was saved,
// and never the same ID with another content. It returns how much was told never,
// and how much again.
func told(t *testing.T, dir string, saved map[string]alarms.Transition) (untold, repeats int) {
	t.Helper()
	text, err := os.ReadFile(filepath.Join(dir, "slips"))
	ok(t, err)
	return toldWell(t, text, saved)
}

func toldWell(t *testing.T, text []byte, saved map[string]alarms.Transition) (untold, repeats int) {
	t.Helper()
	events, tellings := map[string]string{}, map[string]string{}
	seen := map[string]bool{}
	lines := 0
	for line := range bytes.Lines(text) {
		var s slip
		if json.Unmarshal(line, &s) != nil {
			continue // the end of a life
		}
		lines++
		e := s.Event
		e.Unanswered = 0 // the same event to the next person
		content, err := json.Marshal(e)
		ok(t, err)
		if before, again := events[e.ID]; again && before != string(content) {
			t.Errorf("%s was told as\n%s\nand as\n%s", e.ID, before, content)
		}
		events[e.ID] = string(content)
		tr, known := saved[e.ID]
		if !known || tr.Move != e.Move || !tr.Due.Equal(e.Due) || tr.Sentence != e.Sentence {
			t.Errorf("%s was told and is not saved so: %s", e.ID, e.Sentence)
		}
		key := s.Telling + " " + e.ID
		if before, again := tellings[key]; again && before != string(content) {
			t.Errorf("telling %s came with two contents", s.Telling)
		} else if again {
			repeats++
		}
		tellings[key] = string(content)
		seen[s.Person+" "+e.ID] = true
	}
	n := 0
	for id, tr := range saved {
		if !tr.Told() {
			continue
		}
		n++
		if !seen["grower "+id] && tr.Move != alarms.Realarm { // taken meanwhile, it is not told again
			untold++
			t.Errorf("never told: %s %s", id, tr.Sentence)
		}
	}
	if n < 20 {
		t.Errorf("only %d transitions were to be told: the script is too calm", n)
	}
	t.Logf("%d transitions told in %d entries, %d of them repeated", n, lines, repeats)
	return untold, repeats
}
