package engine

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// turningPlan has places whose limits hold always, by night, in a season and
// with an exposure by night, in houses whose days differ.
func turningPlan(houses, places int) alarms.Plan {
	p := alarms.Plan{Words: alarms.Words{Zone: time.UTC}, Reminders: alarms.Reminders{RepeatHigh: -1, RepeatMedium: -1}}
	for h := range houses {
		house := alarms.House{ID: alarms.HouseID(fmt.Sprintf("house-%d", h)), Name: "house", Latitude: 52 + 20*float64(h%2),
			Circuits: []alarms.Circuit{{ID: "north"}, {ID: "south"}}, Day: alarms.DayRule{Fixed: h%3 == 0, Start: 7 * time.Hour, End: 19 * time.Hour}}
		for i := range places {
			pl := alarms.Place{ID: alarms.PlaceID(fmt.Sprintf("bench-%d", i)), Name: "bench",
				Bands: []alarms.Band{{Quantity: alarms.Temperature, Limits: alarms.Limits{LowLow: alarms.At(2), Low: alarms.At(7), High: alarms.At(32), HighHigh: alarms.At(38)}},
					{Quantity: alarms.Humidity, Limits: alarms.Limits{High: alarms.At(95)}}},
				Rates: []alarms.RateLimit{{Quantity: alarms.Temperature, Rise: alarms.At(12)}},
				Probes: []alarms.Probe{{ID: alarms.ProbeID(fmt.Sprintf("probe-%d-%d", h, i)), Circuit: house.Circuits[i%2].ID, Every: 5 * time.Minute,
					Streams: []alarms.Stream{{Quantity: alarms.Temperature}, {Quantity: alarms.Humidity}}}}}
			switch i % 4 {
			case 1:
				pl.Bands = append(pl.Bands, alarms.Band{Quantity: alarms.Temperature, When: alarms.Night, Limits: alarms.Limits{High: alarms.At(20)}})
			case 2:
				pl.Bands = append(pl.Bands, alarms.Band{Quantity: alarms.Temperature, Seasons: []alarms.Season{alarms.SeasonWinter}, Limits: alarms.Limits{High: alarms.At(18)}})
			case 3:
				pl.Bands = append(pl.Bands, alarms.Band{Quantity: alarms.VPD, When: alarms.Day, Limits: alarms.Limits{High: alarms.At(1.2)}})
			}
			house.Places = append(house.Places, pl)
		}
		p.Houses = append(p.Houses, house)
	}
	return p
}

func built(t *testing.T, p alarms.Plan) *Engine {
	t.Helper()
	e, err := New(p)
	if err != nil {
		t.Fatal(err)
	}
	return e
}

// What is leapt over, put aside in one go or left alone leaves the same behind,
// and tells the same, as a tick at every deadline.
func TestManyDeadlinesInOneStepAreAsOneByOne(t *testing.T) {
	told := 0
	for seed := range uint64(12) {
		rnd := rand.New(rand.NewPCG(seed, 1))
		plan := turningPlan(6, 4) // two of each kind of days
		late, exact := built(t, plan), built(t, plan)
		now := time.Date(2026, 3, 20, 6, 0, 0, 0, time.UTC)
		var a, b []alarms.Transition
		step := func(in alarms.Input) {
			in.At = now
			for in.Kind != alarms.RestartMarker {
				due, ok := exact.Next()
				if !ok || !due.Before(now) {
					break
				}
				b = append(b, exact.Step(alarms.Input{Kind: alarms.Tick, At: due})...)
			}
			a, b = append(a, late.Step(in)...), append(b, exact.Step(in)...)
		}
		for range 40 {
			if rnd.IntN(4) == 0 {
				b, err := exact.Snapshot()
				if err == nil {
					exact, err = Restore(plan, b)
				}
				if err != nil {
					t.Fatal(err)
				}
			}
			switch rnd.IntN(12) {
			case 0:
				step(alarms.Input{Kind: alarms.LinkDown, Note: "gone"})
			case 1, 2:
				step(alarms.Input{Kind: alarms.LinkUp})
			case 3:
				step(alarms.Input{Kind: alarms.RestartMarker})
			case 4:
				id := alarms.ProbeID(fmt.Sprintf("probe-%d-%d", rnd.IntN(6), rnd.IntN(4)))
				step(alarms.Input{Kind: []alarms.InputKind{alarms.TakeOut, alarms.PutBack}[rnd.IntN(2)], Probe: id, By: "someone"})
			case 5:
				step(alarms.Input{Kind: alarms.SetSeason, House: alarms.HouseID(fmt.Sprintf("house-%d", rnd.IntN(6))), Season: alarms.Seasons[rnd.IntN(len(alarms.Seasons))]})
			case 6:
				step(alarms.Input{Kind: alarms.ClockStep, Shift: time.Duration(rnd.IntN(48)-24) * time.Hour})
			default:
				v := 10 + 26*rnd.Float64()
				for range rnd.IntN(8) {
					for h := range 6 {
						for i := range 4 {
							id := alarms.ProbeID(fmt.Sprintf("probe-%d-%d", h, i))
							step(alarms.Input{Kind: alarms.ReadingIn, Probe: id, Quantity: alarms.Temperature, Value: v + rnd.Float64()})
							step(alarms.Input{Kind: alarms.ReadingIn, Probe: id, Quantity: alarms.Humidity, Value: 60 + rnd.Float64()})
						}
					}
					now = now.Add(5 * time.Minute)
				}
			}
			now = now.Add([]time.Duration{time.Second, time.Minute, time.Hour, 30 * time.Hour, 20 * 24 * time.Hour}[rnd.IntN(5)])
		}
		step(alarms.Input{Kind: alarms.Tick})
		if len(a) != len(b) {
			for i := range a {
				if a[i].ID != b[i].ID {
					t.Errorf("%+v\nwith a tick at every deadline: %+v", a[i], b[i])
					break
				}
			}
			t.Fatalf("seed %d: %d transitions, %d with a tick at every deadline", seed, len(a), len(b))
		}
		for i := range a {
			for _, one := range []*alarms.Transition{&a[i], &b[i]} { // when it is heard of may differ
				one.Noticed = time.Time{}
			}
			if !reflect.DeepEqual(a[i], b[i]) {
				t.Fatalf("seed %d: %+v\nwith a tick at every deadline: %+v", seed, a[i], b[i])
			}
		}
		if x, y := saved(t, late), saved(t, exact); x != y {
			t.Fatalf("seed %d: snapshots differ:\n%s\n%s", seed, x, y)
		}
		told += len(a)
		for _, h := range late.houses {
			lasts, unserved := len(h.lasts), h.unserved
			for _, p := range h.aired {
				if p.last {
					lasts--
				}
			}
			if h.countServing(); h.unserved != unserved || lasts != 0 {
				t.Fatalf("seed %d: %d unserved, counted anew %d; %d last too many", seed, unserved, h.unserved, lasts)
			}
			silent, dark := 0, 0
			for _, st := range h.streams {
				silent += st.counted.missed()
			}
			for _, p := range h.places {
				dark += min(len(p.Dark), 1)
			}
			if h.silent != silent || h.dark != dark {
				t.Fatalf("seed %d: %d silent, counted anew %d; %d dark, %d", seed, h.silent, silent, h.dark, dark)
			}
		}
	}
	if told < 300 {
		t.Errorf("only %d transitions were compared", told)
	}
}

// In a step of up to a day every repeat is told, and it is as with a tick at every
// deadline. In a longer one an alarm that nobody has is told again once, at the
// end; else it is the same, and no deadline is walked through day by day.
func TestALongStepTellsAgainOnce(t *testing.T) {
	const day, years = 24 * time.Hour, 10 * 365 * 24 * time.Hour
	repeats := 0
	for seed := range uint64(40) {
		rnd := rand.New(rand.NewPCG(seed, 6))
		plan := (&maker{rnd: rnd}).plan()
		for h := range plan.Houses {
			for p := range plan.Houses[h].Places {
				for k := range plan.Houses[h].Places[p].Exposures {
					plan.Houses[h].Places[p].Exposures[k].When = pick(rnd, alarms.Always, alarms.Night)
				}
			}
		}
		l := &life{rnd: rnd, e: built(t, plan), ill: map[alarms.ProbeID]int{}, heat: map[alarms.PlaceID]int{}, now: time.Date(2026, 3, 20, 6, 0, 0, 0, time.UTC)}
		l.live()
		before := saved(t, l.e)
		for _, took := range []time.Duration{time.Hour, day, day + time.Second, 9 * day, years} {
			late, err := Restore(plan, []byte(before))
			if err != nil {
				t.Fatal(err)
			}
			fired := map[*timing.Timer]int{}
			for _, q := range late.panel.Timers.Waiting() {
				fire := q.Fire
				q.Fire = func(due timing.Instant) { fired[q]++; fire(due) }
			}
			a := late.Step(alarms.Input{Kind: alarms.Tick, At: l.now.Add(took)})
			for _, n := range fired {
				if took == years && n > 100 { // what is wanted of drives may change some times a day
					t.Errorf("seed %d: a deadline was walked through %d times in ten years", seed, n)
				}
			}
			again := map[alarms.AlarmID]int{}
			for i := range a {
				if a[i].Repeats() && took > day {
					repeats++
					if again[a[i].Alarm]++; again[a[i].Alarm] > 1 || !a[i].Core.Equal(l.now.Add(took)) {
						t.Errorf("seed %d: %s was told again %d times within %s, last %s late", seed, a[i].Alarm, again[a[i].Alarm], took, l.now.Add(took).Sub(a[i].Core))
					}
				}
			}
			if took == years {
				continue
			}
			exact, err := Restore(plan, []byte(before))
			if err != nil {
				t.Fatal(err)
			}
			b := ticked(exact, l.now.Add(took))
			if took > day {
				a, b = news(a), news(b)
			}
			if len(a) != len(b) {
				t.Fatalf("seed %d: %d transitions within %s, %d with a tick at every deadline", seed, len(a), took, len(b))
			}
			for i := range a {
				if x, y := &a[i], &b[i]; x.Alarm != y.Alarm || x.Move != y.Move || x.To != y.To || x.Level != y.Level || !x.Core.Equal(y.Core) || took <= day && x.ID != y.ID {
					t.Fatalf("seed %d, within %s: %s %s at %s\nwith a tick at every deadline: %s %s at %s", seed, took, x.ID, x.Move, x.Due, y.ID, y.Move, y.Due)
				}
			}
		}
	}
	if repeats < 50 {
		t.Errorf("only %d repeats in long steps", repeats)
	}
}

// ticked steps e through every deadline until then.
func ticked(e *Engine, then time.Time) (all []alarms.Transition) {
	for due, ok := e.Next(); ok && due.Before(then); due, ok = e.Next() {
		all = append(all, e.Step(alarms.Input{Kind: alarms.Tick, At: due})...)
	}
	return append(all, e.Step(alarms.Input{Kind: alarms.Tick, At: then})...)
}

// news leaves out what only tells again.
func news(all []alarms.Transition) (some []alarms.Transition) {
	for _, tr := range all {
		if !tr.Repeats() {
			some = append(some, tr)
		}
	}
	return some
}

func saved(t *testing.T, e *Engine) string {
	t.Helper()
	for _, a := range e.order {
		a.Newest = nil // says when it was noticed
	}
	b, err := e.Snapshot()
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// A change of day or season is the business of the places that it may matter to:
// not of those whose limits hold always, nor of those that are within every limit
// that may ever hold there.
func TestAChangeLooksOnlyAtWhatItMatters(t *testing.T) {
	e := built(t, turningPlan(2, 8))
	now := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	report := func(v float64) {
		for _, h := range e.houses {
			for i := range 8 {
				id := alarms.ProbeID(strings.Replace(string(h.plan.ID), "house", "probe", 1) + fmt.Sprintf("-%d", i))
				e.Step(alarms.Input{Kind: alarms.ReadingIn, At: now, Probe: id, Quantity: alarms.Temperature, Value: v})
				e.Step(alarms.Input{Kind: alarms.ReadingIn, At: now, Probe: id, Quantity: alarms.Humidity, Value: 60})
			}
		}
		now = now.Add(5 * time.Minute)
	}
	wary := func() (places []string) {
		for _, pt := range e.houses[0].wary {
			if !pt.quantity.Derived() {
				places = append(places, string(pt.place.plan.ID))
			}
		}
		slices.Sort(places)
		return places
	}
	for _, v := range []struct {
		value float64
		want  []string
	}{{15, nil}, {19, []string{"bench-2", "bench-6"}}, {21, []string{"bench-1", "bench-2", "bench-5", "bench-6"}}, {15, nil}} {
		report(v.value)
		if got := wary(); !slices.Equal(got, v.want) {
			t.Errorf("at %v °C a change looks at %v, want %v", v.value, got, v.want)
		}
	}
	report(21)
	was := e.houses[0].turned
	e.Step(alarms.Input{Kind: alarms.SetSeason, At: now, House: "house-0", Season: alarms.SeasonWinter})
	for range 9 * 60 {
		now = now.Add(time.Minute)
		e.Step(alarms.Input{Kind: alarms.Tick, At: now})
	}
	if e.houses[0].turned < was+3 {
		t.Errorf("season and daypart changed %d times only", e.houses[0].turned-was)
	}
	for _, p := range e.houses[0].places {
		pt := p.point(alarms.Temperature)
		if pt.turns != (pt.taken > 1) && p.plan.ID != "bench-3" && p.plan.ID != "bench-7" {
			t.Errorf("%s: its band was found at change %d of %d", p.plan.ID, pt.taken, e.houses[0].turned)
		}
		if one := pt.merge(); !pt.inForce().JudgesAs(&one) {
			t.Errorf("%s: the band in force is %+v, want %+v", p.plan.ID, pt.band, one)
		}
	}
}

// Houses with the same days share what the clock does to them.
func TestTheDayIsFoundOnceForAll(t *testing.T) {
	e := built(t, turningPlan(30, 1))
	turns := 0
	for _, c := range e.calendars {
		fire := c.change.Fire
		c.change.Fire = func(due timing.Instant) { turns++; fire(due) }
	}
	now := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	e.Step(alarms.Input{Kind: alarms.Tick, At: now})
	e.Step(alarms.Input{Kind: alarms.Tick, At: now.Add(24 * time.Hour)})
	if len(e.calendars) != 3 || turns > 4*3 {
		t.Errorf("30 houses of 3 kinds of days have %d calendars, which turned %d times in a day", len(e.calendars), turns)
	}
}

// A lost link touches no delay that runs; each stands still all the same, whether
// its time comes while nothing can be heard or not.
func TestALostLinkTouchesNoDelay(t *testing.T) {
	e := built(t, turningPlan(1, 8))
	now := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
	report := func(q alarms.Quantity, v float64) (raised int) {
		for i := range 8 {
			for _, tr := range e.Step(alarms.Input{Kind: alarms.ReadingIn, At: now, Probe: alarms.ProbeID(fmt.Sprintf("probe-0-%d", i)), Quantity: q, Value: v}) {
				if tr.Alarm == e.houses[0].places[i].point(alarms.Temperature).high.alarm.ID && tr.Move == alarms.Raise {
					raised++
				}
			}
		}
		return raised
	}
	stands := func() (n int) {
		for _, p := range e.houses[0].places {
			for _, l := range p.point(alarms.Temperature).latches() {
				n += int(min(l.Left, 1))
			}
		}
		return n
	}
	report(alarms.Temperature, 39) // above high by a minute's delay, above high-high by less
	now = now.Add(10 * time.Second)
	e.Step(alarms.Input{Kind: alarms.LinkDown, At: now, Note: "gone"})
	if n := stands(); n != 0 {
		t.Errorf("a lost link touched %d delays", n)
	}
	if made := e.Step(alarms.Input{Kind: alarms.Tick, At: now.Add(20 * time.Second)}); len(made) != 0 {
		t.Errorf("a delay ended while nothing could be heard: %v", made[0])
	}
	now = now.Add(2 * time.Minute)
	e.Step(alarms.Input{Kind: alarms.LinkUp, At: now})
	if n := stands(); n != 16 {
		t.Errorf("%d delays stand still, want two of each of 8 places", n)
	}
	for _, p := range e.houses[0].places {
		for _, l := range []*timing.Latch{p.point(alarms.Temperature).high.outer, p.point(alarms.Temperature).high.inner} {
			if b := p.point(alarms.Temperature).inForce(); l.Left != b.Delay-10*time.Second && l.Left != b.QuickDelay-10*time.Second {
				t.Errorf("%s: %s are left of a delay of %s, quick %s, after 10 s of it", p.plan.ID, l.Left, b.Delay, b.QuickDelay)
			}
		}
	}
	if n := report(alarms.Temperature, 39.1); n != 0 {
		t.Errorf("%d alarms at once", n)
	}
	now = now.Add(51 * time.Second)
	if n := len(e.Step(alarms.Input{Kind: alarms.Tick, At: now})); n < 8 {
		t.Errorf("%d alarms after the rest of the delay, want 8", n)
	}
}

// That readings of before a time away are not of the present is found by each
// stream when it is looked at, and makes no difference to finding it at once.
func TestTimeAwayLooksAtNoStream(t *testing.T) {
	told, left := 0, 0
	for seed := range uint64(60) {
		rnd := rand.New(rand.NewPCG(seed, 8))
		plan := (&maker{rnd: rnd}).plan()
		start := time.Date(2026, 3, 20, 6, 0, 0, 0, time.UTC)
		var lives [2]*life
		for k := range lives {
			rnd := rand.New(rand.NewPCG(seed, 9))
			l := &life{rnd: rnd, e: built(t, plan), ill: map[alarms.ProbeID]int{}, heat: map[alarms.PlaceID]int{}, now: start}
			lives[k] = l
			for range 4 {
				l.live()
				for range 1 + rnd.IntN(2) {
					l.now = l.now.Add(pick(rnd, time.Second, 7*time.Minute, 5*time.Hour))
					l.step(alarms.Input{Kind: alarms.RestartMarker})
					for _, st := range l.e.streams {
						if k == 0 && st.Has {
							left += min(st.absent.times-st.knows.times, 1)
						} else if k == 1 {
							st.catchUp()
						}
					}
				}
				l.step(alarms.Input{Kind: alarms.LinkUp})
				for i := range 30 { // not all are heard again
					h := &l.e.plan.Houses[rnd.IntN(len(l.e.plan.Houses))]
					pl := &h.Places[rnd.IntN(len(h.Places))]
					pr := &pl.Probes[rnd.IntN(len(pl.Probes))]
					l.now = l.now.Add(time.Duration(rnd.IntN(40)) * time.Second)
					if rnd.IntN(8) == 0 {
						l.step(alarms.Input{Kind: alarms.Calibrate, Probe: pr.ID, Quantity: alarms.Temperature, Value: 3, By: "Ann"})
					}
					l.reportOne(pl, pr, i, rnd.IntN(3) == 0)
				}
			}
		}
		a, b := lives[0], lives[1]
		told += len(a.made)
		if len(a.made) != len(b.made) {
			t.Fatalf("seed %d: %d transitions, %d with a look at every stream", seed, len(a.made), len(b.made))
		}
		for i := range a.made {
			if !reflect.DeepEqual(a.made[i], b.made[i]) {
				t.Fatalf("seed %d: %+v\nwith a look at every stream: %+v", seed, a.made[i], b.made[i])
			}
		}
		if x, y := saved(t, a.e), saved(t, b.e); x != y {
			t.Fatalf("seed %d: snapshots differ:\n%s\n%s", seed, x, y)
		}
	}
	if told < 1000 || left < 200 {
		t.Errorf("only %d transitions were compared, %d streams not looked at", told, left)
	}
}

// Time away ends no wait one by one, and turns the day of no more than its end.
func TestTimeAwayWalksThroughNoDeadlines(t *testing.T) {
	for _, away := range []time.Duration{time.Hour, 10 * 365 * 24 * time.Hour} {
		e := built(t, turningPlan(2, 50))
		now := time.Date(2026, 3, 20, 12, 0, 0, 0, time.UTC)
		waits, days := 0, 0
		for _, h := range e.houses {
			for _, st := range h.streams {
				fire := st.deadline.Fire
				st.deadline.Fire = func(due timing.Instant) { waits++; fire(due) }
				e.Step(alarms.Input{Kind: alarms.ReadingIn, At: now, Probe: st.probe.plan.ID, Quantity: st.plan.Quantity, Value: 30})
			}
			fire := h.calendar.change.Fire
			h.calendar.change.Fire = func(due timing.Instant) { days++; fire(due) }
		}
		e.Step(alarms.Input{Kind: alarms.RestartMarker, At: now.Add(away)})
		if waits != 0 {
			t.Errorf("after %s away %d waits of 200 ended one by one", away, waits)
		}
		if days > 2*len(e.houses) {
			t.Errorf("after %s away %d changes of day and night were walked through in %d houses", away, days, len(e.houses))
		}
		e.Step(alarms.Input{Kind: alarms.Tick, At: now.Add(away + time.Hour)})
		if waits < 200 {
			t.Errorf("after %s away and an hour of silence only %d waits of 200 ended", away, waits)
		}
	}
}
