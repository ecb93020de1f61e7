package store

import (
	"context"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"telltale/alarms"
)

// cells sums readings up by cuts, as a person would.
func (n naive) cells(probe string, cuts []time.Time) (all []Bucket) {
	for i := 0; i+1 < len(cuts); i++ {
		var b Bucket
		for _, r := range n.readings(probe, cuts[i], cuts[i+1]) {
			if b.N == 0 {
				b = Bucket{Start: cuts[i].UTC(), Width: cuts[i+1].Sub(cuts[i]), Min: r.Value, Max: r.Value}
			}
			b.Mean = (b.Mean*float64(b.N) + r.Value) / float64(b.N+1)
			b.N++
			b.Min, b.Max = min(b.Min, r.Value), max(b.Max, r.Value)
		}
		if b.N > 0 {
			all = append(all, b)
		}
	}
	return all
}

// Days on the calendar of a zone, one of them of 25 hours, are what a person
// would add up, whether days are summed up, saved raw or held in memory. The
// clocks went back on 25 October 2026 (last Sunday, Directive 2000/84/EC).
func TestCellsAreDaysOnTheCalendar(t *testing.T) {
	zone := time.FixedZone("", 2*3600)
	first := time.Date(2026, 10, 15, 0, 0, 0, 0, zone)
	s := fresh(t, Options{})
	want := naive{}
	r := rand.New(rand.NewPCG(7, 9))
	for h := range 20 * 24 {
		for m := 0; m < 60; m += 5 {
			at := first.Add(time.Duration(h)*time.Hour + time.Duration(m)*time.Minute)
			in := reading(at.UTC(), "bench-1", float64(r.IntN(4000))/100)
			s.Append(in)
			want.add(in)
		}
		if h < 19*24 && h%6 == 5 {
			ok(t, s.Checkpoint([]byte("x")))
		}
	}
	for more := true; more; {
		var err error
		more, err = s.Retain(context.Background(), first.AddDate(0, 0, 20))
		ok(t, err)
	}
	var cuts []time.Time
	for d := range 21 {
		at := first.AddDate(0, 0, d)
		if d > 10 { // from the 25th on an hour later
			at = at.Add(time.Hour)
		}
		cuts = append(cuts, at)
	}
	for name, cuts := range map[string][]time.Time{"days": cuts, "weeks": {cuts[0], cuts[7], cuts[14], cuts[20]},
		"odd": {cuts[0], cuts[1].Add(10 * time.Minute), cuts[15], cuts[15].Add(70 * time.Minute)}, "one": cuts[18:20]} {
		got, err := s.History.Cells(context.Background(), "bench-1", alarms.Temperature, cuts)
		ok(t, err)
		sameBuckets(t, name, got, want.cells("bench-1", cuts))
	}
	began, err := s.History.Began(context.Background())
	ok(t, err)
	same(t, "began", began, time.Date(2026, 10, 14, 0, 0, 0, 0, time.UTC))
}

// switched is a line of the log of switchings.
func switched(n int, drive alarms.DriveID, from, to time.Time, inferred bool) alarms.Transition {
	due := to
	if due.IsZero() {
		due = from.Add(time.Minute)
	}
	id := "long-house/" + string(drive) + "/switching"
	t := transition(id, n, due, alarms.Note, alarms.Normal, alarms.Normal)
	t.Reason = alarms.Reason{Rule: alarms.RuleSwitching, House: "long-house", Drive: drive,
		Switched: &alarms.Switched{Ran: from, Stopped: to, Inferred: inferred}}
	return t
}

func TestRunsAreFoundAndAddedUp(t *testing.T) {
	ctx := context.Background()
	dir := t.TempDir() + "/store"
	s := open(t, dir, Options{})
	var lines []alarms.Transition
	r := rand.New(rand.NewPCG(3, 4))
	var runs []Run
	at := start
	for i := range 300 {
		from := at.Add(time.Duration(r.IntN(7200)) * time.Second)
		at = from.Add(time.Duration(r.IntN(9000)) * time.Second)
		if i == 100 {
			at = from.Add(75 * time.Hour) // through the whole of some days
		}
		lines = append(lines, switched(i, "fan", from, at, i%3 == 0))
		runs = append(runs, Run{Drive: "fan", Due: at, From: from, To: at, Inferred: i%3 == 0})
	}
	missed := switched(900, "fan", time.Time{}, start.Add(time.Hour), false)
	missed.Reason.Switched.Missed = true
	lines = append(lines, missed, switched(1, "loop-fan", start, start.Add(40*time.Hour), false))
	ok(t, s.Save(lines, nil))
	cuts := []time.Time{start}
	for d := range 14 {
		cuts = append(cuts, cuts[d].Add(24*time.Hour))
		if d == 5 {
			cuts[d+1] = cuts[d+1].Add(time.Hour)
		}
	}
	check := func(what string) {
		t.Helper()
		for i := 0; i+1 < len(cuts); i++ {
			var want []Run
			for _, run := range runs {
				if run.From.Before(cuts[i+1]) && run.To.After(cuts[i]) {
					want = append(want, run)
				}
			}
			got, err := s.Log.Runs(ctx, "long-house", "fan", cuts[i], cuts[i+1])
			ok(t, err)
			same(t, fmt.Sprintf("%s: runs of day %d", what, i), got, want)
		}
		want := make([]RunSum, len(cuts)-1)
		for _, run := range runs {
			for i := range want {
				if !run.From.Before(cuts[i]) && run.From.Before(cuts[i+1]) {
					want[i].Starts++
				}
				from, to := max(run.From.UnixNano(), cuts[i].UnixNano()), min(run.To.UnixNano(), cuts[i+1].UnixNano())
				if ran := time.Duration(to - from); ran > 0 {
					want[i].Ran += ran
					if run.Inferred {
						want[i].Inferred += ran
					}
				}
			}
		}
		got, half, err := s.Log.RunSums(ctx, "long-house", "fan", cuts)
		ok(t, err)
		if len(half) != 0 {
			t.Errorf("%s: got %v of which one end was not seen", what, half)
		}
		same(t, what+": sums", got, want)
	}
	check("saved")

	// A store of before has its runs after the schema step, to the millisecond.
	_, err := s.disk.db().Write.Exec(`DROP TABLE run; DROP INDEX transition_told; DELETE FROM migration WHERE name LIKE '0003%'`)
	ok(t, err)
	ok(t, s.Close())
	s = open(t, dir, Options{})
	check("after the schema step")

	ok(t, s.Save([]alarms.Transition{switched(901, "fan", time.Time{}, start.Add(5*time.Hour), false)}, nil))
	_, half, err := s.Log.RunSums(ctx, "long-house", "fan", cuts)
	ok(t, err)
	same(t, "half seen", half, []Run{{Drive: "fan", Due: start.Add(5 * time.Hour), To: start.Add(5 * time.Hour)}})

	told, err := s.Log.Told(ctx, "long-house", start, start.AddDate(0, 1, 0), 10)
	ok(t, err)
	if len(told) != 0 {
		t.Errorf("got %d lines of the log of switchings among what was told", len(told))
	}
	ok(t, s.Save([]alarms.Transition{raise(1, start.Add(time.Hour)), raise(2, start.Add(2*time.Hour)), raise(3, start.Add(3*time.Hour))}, nil))
	told, err = s.Log.Told(ctx, raise(1, start).Reason.House, start, start.AddDate(0, 1, 0), 2)
	ok(t, err)
	if len(told) != 2 || !told[0].Due.Equal(start.Add(2*time.Hour)) || !told[1].Due.Equal(start.Add(3*time.Hour)) {
		t.Errorf("got %+v, want the newest two, oldest first", told)
	}
}
