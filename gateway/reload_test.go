package gateway

import (
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/link"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// TestAPlaceTakenOutOfTheConfigIsToldAsEnded lets a bench be too hot, then
// reloads with a config that has it no more. The end is saved and on its way to
// people, also when the first run under the new config is cut off before it told
// anybody.
func TestAPlaceTakenOutOfTheConfigIsToldAsEnded(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	first, err := buildVictim(dir, &said{told: map[string]bool{}}, victimStart)
	ok(t, err)
	first.owner.begin()
	for i := range 10 {
		at := victimStart.Add(time.Duration(i) * 30 * time.Second)
		first.owner.message(link.Message{Topic: "g/p0", Payload: fmt.Appendf(nil, "%d", 35), Received: at})
		first.owner.settle()
	}
	ok(t, first.owner.finish())
	ok(t, first.page.Run(canceled()))
	ok(t, first.close())

	text := strings.ReplaceAll(victimConfig, "long-house.place.bench", "long-house.place.staging")
	text = strings.ReplaceAll(text, "long-house/bench", "long-house/staging")
	cut, err := buildVictimBy(text, dir, &said{told: map[string]bool{}}, victimStart.Add(10*time.Minute))
	ok(t, err)
	ok(t, cut.page.Run(canceled()))
	ok(t, cut.close()) // before its owner has begun

	second, err := buildVictimBy(text, dir, &said{told: map[string]bool{}}, victimStart.Add(20*time.Minute))
	ok(t, err)
	second.owner.begin()
	all, err := second.store.Log.Transitions(t.Context(), store.LogQuery{Limit: 100})
	ok(t, err)
	var ends []alarms.Transition
	for _, tr := range all {
		if tr.Alarm == "long-house/bench/temperature/high" && tr.To == alarms.Normal {
			ends = append(ends, tr)
		}
	}
	if len(ends) != 1 {
		t.Fatalf("the alarm of the bench was told as ended %d times, want once", len(ends))
	}
	want := "long-house, bench is no longer watched: it was taken out of the config (or given another name there) while its alarm was on."
	if !strings.HasPrefix(ends[0].Sentence, want) {
		t.Errorf("told %q\nwant  %q", ends[0].Sentence, want)
	}
	rows, err := second.store.Outbox.Due(t.Context(), "slip", victimStart.Add(time.Hour), 100)
	ok(t, err)
	told := false
	for _, r := range rows {
		told = told || r.Transition == ends[0].ID
	}
	if !told {
		t.Error("nobody is to be told of the end")
	}
	ok(t, second.page.Run(canceled()))
	ok(t, second.close())
}

// TestTheEndOfAHouseTakenOutIsToldToThoseWhoKnew takes a house out of the
// config together with the rule by which somebody was told of it.
func TestTheEndOfAHouseTakenOutIsToldToThoseWhoKnew(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	rules := strings.Index(victimConfig, "[[tell]]")
	const (
		of   = "[[tell]]\nhouses = [%q]\npeople = [%q]\nfrom-priority = \"low\"\n"
		cold = alarms.AlarmID("low-house/bench/temperature/low")
	)
	const watch = "[[tell]]\npeople = [\"grower\"]\nfrom-priority = \"high\"\n"
	before := victimConfig[:rules] + watch + fmt.Sprintf(of+of, "long-house", "grower", "low-house", "neighbour")
	first, err := buildVictimBy(before, dir, &said{told: map[string]bool{}}, victimStart)
	ok(t, err)
	first.owner.begin()
	for i := range 10 {
		at := victimStart.Add(time.Duration(i) * 30 * time.Second)
		first.owner.message(link.Message{Topic: "g/p3", Payload: fmt.Appendf(nil, "%d", 11), Received: at})
		first.owner.settle()
	}
	if s := stateOf(first.owner.engine.Picture(), cold); s != alarms.Unacknowledged {
		t.Fatalf("the alarm is %v", s)
	}
	due, err := first.owner.box.Due(t.Context(), "slip", victimStart.Add(time.Hour), 100)
	ok(t, err)
	for _, r := range due {
		ok(t, first.owner.box.Attempted(t.Context(), []reach.Attempt{{Row: r.ID, Transition: r.Transition, Channel: "slip", Person: r.Person,
			Began: victimStart, Ended: victimStart, Outcome: reach.Delivered}}))
	}
	ok(t, first.owner.finish())
	ok(t, first.page.Run(canceled()))
	ok(t, first.close())

	from, to := strings.Index(victimConfig, "[house.low-house]"), strings.Index(victimConfig, "[probe.p0]")
	text := victimConfig[:from] + victimConfig[to:rules] + watch + fmt.Sprintf(of, "long-house", "grower")
	from, to = strings.Index(text, "[probe.p3]"), strings.Index(text, "[own-broker]")
	second, err := buildVictimBy(text[:from]+text[to:], dir, &said{told: map[string]bool{}}, victimStart.Add(20*time.Minute))
	ok(t, err)
	second.owner.begin()
	due, err = second.owner.box.Due(t.Context(), "slip", victimStart.Add(time.Hour), 100)
	ok(t, err)
	var hear []string
	for _, r := range due {
		if r.Alarm == cold && strings.Contains(string(r.Body), "is no longer watched: it was taken out of the config") {
			hear = append(hear, r.Person)
		}
	}
	if !slices.Equal(hear, []string{"neighbour"}) {
		t.Errorf("of the end hear %q, want the neighbour, who knows of the beginning", hear)
	}
	ok(t, second.page.Run(canceled()))
	ok(t, second.close())
}
