package store

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

// line is one line of a log, with all that a search looks at.
func line(n int, at time.Time, alarm string, move alarms.Move, p alarms.Priority, house alarms.HouseID, says string) alarms.Transition {
	t := transition(alarm, n, at, move, alarms.Normal, alarms.Normal)
	t.Priority, t.Reason.House, t.Sentence = p, house, says
	return t
}

func minutes(n int) time.Time { return start.Add(time.Duration(n) * time.Minute) }

// mixedLog is one line of each kind, twice in the same moment.
func mixedLog() []alarms.Transition {
	return []alarms.Transition{
		line(1, minutes(1), high, alarms.Raise, alarms.High, "long-house", "Long House, bench: 36.4 °C, 100% sure."),
		line(2, minutes(2), high, alarms.Ack, alarms.High, "long-house", "Ada has taken this."),
		line(3, minutes(3), high, alarms.Note, alarms.Low, "long-house", "Not shelved: 7 days are the most."),
		line(1, minutes(3), "long-house/season", alarms.Note, alarms.Low, "long-house", "Long House: the season was changed to \"winter\"."),
		line(1, minutes(4), "long-house/exhaust/switching", alarms.Note, alarms.Low, "long-house", "The exhaust fan ran."),
		line(1, minutes(5), "long-house/ground-loop", alarms.Note, alarms.Low, "long-house", "The ground loop brought 2 kWh."),
		line(1, minutes(6), "watch/restart", alarms.Note, alarms.Low, "", "The watch was away."),
		line(1, minutes(7), "watch/broker/silent", alarms.Raise, alarms.High, "", "The broker has not been reached."),
		line(2, minutes(8), "watch/broker/silent", alarms.Ack, alarms.High, "", "Ben has taken this."),
		line(1, minutes(9), "low-house/tray/humidity/high", alarms.Raise, alarms.Medium, "low-house", "Low House, tray: humidity 96 %_."),
	}
}

func TestTheLogIsSearched(t *testing.T) {
	s := fresh(t, Options{})
	all := mixedLog()
	ok(t, s.Save(all, nil))
	for name, c := range map[string]struct {
		q    SearchQuery
		want []int // of all, in the order found
	}{
		"all":             {SearchQuery{}, []int{9, 8, 7, 6, 5, 4, 3, 2, 1, 0}},
		"alarms":          {SearchQuery{Kind: OfAlarms}, []int{9, 0}},
		"people":          {SearchQuery{Kind: OfPeople}, []int{8, 3, 2, 1}},
		"drives":          {SearchQuery{Kind: OfDrives}, []int{5, 4}},
		"watch":           {SearchQuery{Kind: OfWatch}, []int{7, 6}},
		"a house":         {SearchQuery{House: "low-house"}, []int{9}},
		"high":            {SearchQuery{Priority: alarms.High}, []int{8, 7, 1, 0}},
		"a word":          {SearchQuery{Words: []string{"FAN"}}, []int{4}},
		"two words":       {SearchQuery{Words: []string{"taken", "ben"}}, []int{8}},
		"a word of JSON":  {SearchQuery{Words: []string{"Reason"}}, nil},
		"a quote":         {SearchQuery{Words: []string{`"winter"`}}, []int{3}},
		"per cent":        {SearchQuery{Words: []string{"0%"}}, []int{0}},
		"underscore":      {SearchQuery{Words: []string{"_"}}, []int{9}},
		"older":           {SearchQuery{From: Mark{Due: minutes(3).UnixNano()}}, []int{1, 0}},
		"some":            {SearchQuery{Limit: 3}, []int{9, 8, 7}},
		"kind and words":  {SearchQuery{Kind: OfPeople, Words: []string{"ada"}}, []int{1}},
		"house and watch": {SearchQuery{Kind: OfWatch, House: "long-house"}, nil},
	} {
		f, err := s.Log.Search(context.Background(), c.q)
		ok(t, err)
		var want []alarms.Transition
		for _, i := range c.want {
			want = append(want, all[i])
		}
		same(t, name, f.Transitions, want)
	}
}

// Every line is of exactly one kind.
func TestEveryLineIsOfOneKind(t *testing.T) {
	s := fresh(t, Options{})
	ok(t, s.Save(mixedLog(), nil))
	n := 0
	for k := OfAlarms; int(k) < kindCount; k++ {
		f, err := s.Log.Search(context.Background(), SearchQuery{Kind: k})
		ok(t, err)
		n += len(f.Transitions)
	}
	if n != len(mixedLog()) {
		t.Errorf("%d of %d lines are in the kinds together", n, len(mixedLog()))
	}
}

// Page by page the same lines come as at once, whatever the filter, and however
// little one search may look at.
func TestPagesOfASearchLeaveNothingOut(t *testing.T) {
	s := fresh(t, Options{})
	rnd := rand.New(rand.NewPCG(8, 1))
	var all []alarms.Transition
	at := start
	for i := range 400 {
		if rnd.IntN(3) > 0 { // else at the same moment
			at = at.Add(time.Duration(rnd.IntN(90)) * time.Second)
		}
		alarm := []string{high, "long-house/exhaust/switching", "watch/restart"}[rnd.IntN(3)]
		all = append(all, line(i, at, alarm, alarms.Note, alarms.Low, "long-house", fmt.Sprintf("Line %d, %s.", i, strings.Repeat("odd ", i%2))))
	}
	ok(t, s.Save(all, nil))
	for _, q := range []SearchQuery{{Limit: 7}, {Limit: 7, Look: 11}, {Limit: 5, Kind: OfDrives, Look: 13}, {Limit: 3, Words: []string{"odd"}, Look: 5}} {
		whole := q
		whole.Limit, whole.Look = 1000, 0
		want, err := s.Log.Search(context.Background(), whole)
		ok(t, err)
		if want.More || len(want.Transitions) < 100 {
			t.Fatalf("%+v: %d lines at once, more: %v", q, len(want.Transitions), want.More)
		}
		var got []alarms.Transition
		for page := 0; ; page++ {
			f, err := s.Log.Search(context.Background(), q)
			ok(t, err)
			got = append(got, f.Transitions...)
			if !f.More {
				break
			}
			if page > 400 {
				t.Fatalf("%+v: no end", q)
			}
			q.From = f.Next
		}
		same(t, fmt.Sprintf("%+v", whole), got, want.Transitions)
	}
}

// BenchmarkSearch asks a log of a year, 200 lines a day, for what it has and
// for what it has not.
func BenchmarkSearch(b *testing.B) {
	s := fresh(b, Options{})
	at := start
	for d := range 365 {
		var day []alarms.Transition
		for i := range 200 {
			at = at.Add(432 * time.Second)
			alarm := []string{high, "long-house/exhaust/switching", "long-house/bench/humidity/high"}[i%3]
			day = append(day, line(d*200+i, at, alarm, alarms.Note, alarms.Low, "long-house", "Long House: the exhaust fan was called at 29.6 °C 14:02:10, ran after 40 s, stopped at 26.9 °C 14:31."))
		}
		ok(b, s.Save(day, nil))
	}
	for name, q := range map[string]SearchQuery{"newest": {Limit: 50}, "drives": {Limit: 50, Kind: OfDrives},
		"words that are there": {Limit: 50, Words: []string{"called"}}, "words that are not": {Limit: 50, Words: []string{"nowhere"}},
		"priority that is not": {Limit: 50, Priority: alarms.High}} {
		b.Run(name, func(b *testing.B) {
			for b.Loop() {
				_, err := s.Log.Search(context.Background(), q)
				ok(b, err)
			}
		})
	}
}
