package score

import (
	"testing"
	"time"

	"telltale/alarms"
)

// A course with a reading every five minutes, counted by hand. w: it is warned, x:
// the limit is reached, b: both, a point: neither.
func TestRecordCountsCrossingsAndEpisodes(t *testing.T) {
	const quiet = "............" // an hour
	for name, c := range map[string]struct {
		course                   string
		crossings, inTime, false int
		leads                    []int // min
		warnings                 int
	}{
		"told 20 min before":                 {quiet + "wwwwx", 1, 1, 0, []int{20}, 1},
		"told 10 min before":                 {quiet + "wwx", 1, 0, 0, []int{10}, 1},
		"told with the crossing":             {quiet + "bbb", 1, 0, 0, []int{0}, 1},
		"not told":                           {quiet + "xxx", 1, 0, 0, []int{0}, 0},
		"a gap of 30 min is bridged":         {quiet + "ww.....wwx", 1, 1, 0, []int{45}, 1},
		"one of 35 min is not":               {quiet + "ww......wwx", 1, 0, 0, []int{10}, 2},
		"ended 30 min before":                {quiet + "ww.....x", 1, 1, 0, []int{35}, 1},
		"ended longer before: no lead, true": {quiet + "ww......x", 1, 0, 0, []int{0}, 1},
		"came true within two hours":         {quiet + "w" + quiet + "...........x", 1, 0, 0, []int{0}, 1},
		"came too late to be true":           {quiet + "w" + quiet + quiet + "x", 1, 0, 1, []int{0}, 1},
		"false":                              {quiet + "ww" + quiet + quiet + quiet, 0, 0, 1, nil, 1},
		"again within the hour is none":      {quiet + "x..........x", 1, 0, 0, []int{0}, 0},
		"an hour after is one":               {quiet + "x...........x", 2, 0, 0, []int{0, 0}, 0},
		"the first hour counts for nothing":  {"..x", 0, 0, 0, nil, 0},
		"two hours at most":                  {quiet + "wwwwwwwwwwwwwwwwwwwwwwwwwwwwwwx", 1, 1, 0, []int{120}, 1},
	} {
		var r Record
		for i, k := range c.course {
			r.step(minute(5*i), k == 'x' || k == 'b', k == 'w' || k == 'b')
		}
		got := r.Tally(AllWeeks, minute(0), minute(5*len(c.course)))
		if got.Crossings != c.crossings || got.InTime != c.inTime || got.False != c.false || got.Warnings != c.warnings {
			t.Errorf("%s: got %+v", name, got)
		}
		for i, want := range c.leads {
			if i < len(r.Crossings) && r.Crossings[i].Lead != time.Duration(want)*time.Minute {
				t.Errorf("%s: crossing %d was told %v before, want %d min", name, i, r.Crossings[i].Lead, want)
			}
		}
	}
}

func TestTallyOfSomeWeeks(t *testing.T) {
	day := func(n int) time.Time { return begin.Add(time.Duration(n) * 24 * time.Hour) }
	var r Record
	for i, lead := range []int{5, 20, 40, 60, 90, 100} { // in weeks 1, 1, 2, 2, 3, 4
		at := day([]int{1, 5, 7, 13, 15, 22}[i])
		r.Crossings = append(r.Crossings, Crossing{at, time.Duration(lead) * time.Minute})
		r.Episodes = append(r.Episodes, Episode{From: at, To: at, Came: i%2 == 0})
	}
	for weeks, want := range map[Weeks]Tally{
		AllWeeks:  {Weeks: 3.5, Crossings: 6, InTime: 5, Median: 50 * time.Minute, Tenth: 5 * time.Minute, Warnings: 6, False: 3},
		OddWeeks:  {Weeks: 2, Crossings: 3, InTime: 2, Median: 20 * time.Minute, Tenth: 5 * time.Minute, Warnings: 3, False: 1},
		EvenWeeks: {Weeks: 1.5, Crossings: 3, InTime: 3, Median: 60 * time.Minute, Tenth: 40 * time.Minute, Warnings: 3, False: 2},
	} {
		got := r.Tally(weeks, begin, begin.Add(24*7*7/2*time.Hour))
		if got != want {
			t.Errorf("weeks %d: got %+v, want %+v", weeks, got, want)
		}
		if a := got.FalseAWeek(); a != float64(want.False)/want.Weeks {
			t.Errorf("weeks %d: %v false a week", weeks, a)
		}
	}
}

// A place is followed by its first probe, its limits by the hour of the day, and
// nothing is asked of humidity or of places without limits.
func TestOutlooksFollowsThePlan(t *testing.T) {
	p := plan(0)
	p.Houses[0].Places[0].Bands = append(p.Houses[0].Places[0].Bands, alarms.Band{Quantity: alarms.Temperature, When: alarms.Night,
		Limits: alarms.Limits{Low: alarms.At(8), LowLow: alarms.At(2), High: alarms.At(30)}})
	o := NewOutlooks(p, begin, minute(6*1440))
	for i := range 6 * 288 {
		at := minute(5 * i)
		v := 20.0
		if h := at.Hour(); h >= 12 && h < 14 {
			v = 31
		} else if h == 3 {
			v = 7
		}
		o.Reading(at, "a", alarms.Temperature, v)
		o.Reading(at, "b", alarms.Temperature, 50)
		o.Reading(at, "a", alarms.Humidity, 50)
		o.Reading(at, "o", alarms.Temperature, 60)
	}
	got := o.Sum()
	if len(got) != 1 || got[0].Place != "bench" || len(got[0].Limits) != 3 || got[0].Saved < 1000 || got[0].Looks != 6*288 {
		t.Fatalf("got %+v", got)
	}
	for i, want := range []struct {
		side      alarms.Side
		crossings int
	}{{alarms.HighSide, 6}, {alarms.LowSide, 6}, {alarms.LowSide, 0}} {
		l := got[0].Limits[i]
		if l.Side != want.side {
			t.Errorf("limit %d is of the side %v", i, l.Side)
		}
		for _, r := range l.Records {
			if len(r.Crossings) != want.crossings {
				t.Errorf("limit %d, %s: %d crossings, want %d", i, r.Who, len(r.Crossings), want.crossings)
			}
		}
		said := 0
		for _, b := range l.Bins {
			said += b.Of
		}
		if said < 500 { // four days, or their nights, less what is beyond, every five minutes
			t.Errorf("limit %d: of %d moments it was held against what came", i, said)
		}
	}
	if l := got[0].Lacked; len(l) != 2 {
		t.Errorf("it lacked %v", l)
	}
	sum := 0.0
	for _, w := range got[0].Relied {
		sum += w
	}
	if sum < 0.99 || sum > 1.01 {
		t.Errorf("all say is %v", sum)
	}
}
