package gateway

import (
	"fmt"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/gateway/link"
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
	all, err := second.store.Transitions(t.Context(), store.LogQuery{Limit: 100})
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
	rows, err := second.store.Due(t.Context(), victimStart.Add(time.Hour), 100)
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
