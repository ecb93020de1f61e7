package scenario_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"slices"
	"time"

	"telltale/alarms"
)

// simplePlan makes houses of one place with one probe, all defaults given, as
// the model knows them.
func simplePlan(rnd *rand.Rand) alarms.Plan {
	p := alarms.Plan{
		Chatter: alarms.ChatterRule{Raises: 3 + rnd.IntN(3), Within: 1800 * time.Second, Hold: 601 * time.Second},
		Reminders: alarms.Reminders{Low: 3601 * time.Second, Medium: 1801 * time.Second, High: 901 * time.Second,
			RepeatHigh: 603 * time.Second, RepeatMedium: 1502 * time.Second},
		Link: alarms.LinkRule{Delay: 30 * time.Second, Priority: alarms.High},
	}
	for i := range 1 + rnd.IntN(2) {
		id := [...]alarms.HouseID{"long-house", "low-house"}[i]
		every := time.Duration(20*(1+rnd.IntN(6))) * time.Second
		p.Houses = append(p.Houses, alarms.House{
			ID: id, Season: alarms.SeasonOpen,
			Day: alarms.DayRule{Fixed: true, Start: time.Duration(8+rnd.IntN(3)) * time.Hour, End: time.Duration(11+rnd.IntN(3)) * time.Hour,
				Settle: pick(rnd, -1, 300*time.Second, 1800*time.Second)},
			Places: []alarms.Place{{ID: "bench", Bands: simpleBands(rnd), Probes: []alarms.Probe{{
				ID: alarms.ProbeID(id) + "-1", Every: every,
				Streams: []alarms.Stream{{Quantity: alarms.Temperature, Jump: -1, StuckFor: -1}},
			}}}},
		})
	}
	return p
}

func pick[T any](rnd *rand.Rand, some ...T) T { return some[rnd.IntN(len(some))] }

// simpleBands are given from the most specific to the most general.
func simpleBands(rnd *rand.Rand) []alarms.Band {
	general := alarms.Band{
		Quantity: alarms.Temperature,
		Limits:   alarms.Limits{LowLow: alarms.At(4), Low: alarms.At(10), High: alarms.At(26), HighHigh: alarms.At(32)},
		Deadband: pick(rnd, 0.5, 1, 2),
		// In steps of 4 s the one, 2 s off the other: never due at one moment.
		Delay:      pick(rnd, -1, 40*time.Second, 60*time.Second, 180*time.Second),
		QuickDelay: pick(rnd, -1, 14*time.Second, 40*time.Second, 60*time.Second, 90*time.Second),
		ClearDelay: pick(rnd, -1, 20*time.Second, 60*time.Second, 240*time.Second),
		Priority:   alarms.Medium, Worst: alarms.High,
	}
	general.QuickDelay = min(general.QuickDelay, general.Delay)
	night, winter := general, general
	night.When, winter.Seasons = alarms.Night, []alarms.Season{alarms.SeasonWinter}
	night.High, night.Low = alarms.At(22), alarms.At(7)
	winter.Limits = alarms.Limits{LowLow: alarms.At(2), Low: alarms.At(6), High: alarms.At(20), HighHigh: alarms.At(30)}
	return []alarms.Band{winter, night, general}
}

// story builds up a schedule of inputs.
type story struct {
	rnd    *rand.Rand
	plan   alarms.Plan
	start  time.Time
	length int // seconds
	inputs []alarms.Input
}

func (s *story) at(second int) time.Time { return s.start.Add(time.Duration(second) * time.Second) }

// second is a moment of the schedule, a multiple of four seconds.
func (s *story) second() int { return 4 * s.rnd.IntN(s.length/4) }

// simpleStory makes a schedule for a simplePlan.
func simpleStory(seed uint64) (alarms.Plan, []alarms.Input) {
	rnd := rand.New(rand.NewPCG(seed, 3))
	s := &story{rnd: rnd, plan: simplePlan(rnd), length: 3600 + 4*rnd.IntN(2700),
		start: time.Date(2026, 6, 21, 7, 0, 0, 0, time.UTC).Add(time.Duration(4*rnd.IntN(5400)) * time.Second)}
	var ids []alarms.AlarmID
	for _, h := range s.plan.Houses {
		p := h.Places[0].Probes[0]
		s.course(p)
		base := alarms.AlarmID(h.ID) + "/bench"
		ids = append(ids, base+"/temperature/high", base+"/temperature/low", base+"/unwatched",
			base+"/"+alarms.AlarmID(p.ID)+"/silent", base+"/temperature/high", base+"/temperature/low")
	}
	ids = append(ids, "watch/broker/silent", "nowhere/at/all")
	for range rnd.IntN(14) {
		s.person(ids)
	}
	for range rnd.IntN(6) {
		s.inputs = append(s.inputs, alarms.Input{At: s.at(s.second()), Kind: alarms.Tick})
	}
	s.inOrder()
	if rnd.IntN(3) > 0 {
		s.gap(alarms.LinkDown, alarms.LinkUp, 300)
	}
	if rnd.IntN(5) == 0 { // it comes and goes
		for range 2 + rnd.IntN(6) {
			s.gap(alarms.LinkDown, alarms.LinkUp, 30)
		}
	}
	if rnd.IntN(4) == 0 {
		s.gap(alarms.Tick, alarms.RestartMarker, 300)
	}
	s.inputs = append(s.inputs, alarms.Input{At: s.at(s.length + 4), Kind: alarms.Tick})
	return s.plan, s.inputs
}

func (s *story) inOrder() {
	slices.SortStableFunc(s.inputs, func(a, b alarms.Input) int { return a.At.Compare(b.At) })
}

// course lets a probe report a temperature that wanders about the limits,
// with silences, retained, late and doubled messages.
func (s *story) course(p alarms.Probe) {
	rnd := s.rnd
	every := int(p.Every.Seconds())
	v, drift := 18+8*rnd.Float64(), 0.0
	clock, late := rnd.IntN(3) == 0, 0
	for t := 4 * rnd.IntN(every/4); t < s.length; t += every {
		if rnd.IntN(8) == 0 {
			drift = 4 * rnd.NormFloat64()
		}
		v += drift + rnd.NormFloat64()
		if v < 0 || v > 38 {
			drift, v = -drift, min(max(v, 0), 38)
		}
		if rnd.IntN(40) == 0 {
			t += every * rnd.IntN(12) // says nothing for a while
		}
		if t >= s.length {
			return
		}
		in := alarms.Input{At: s.at(t), Kind: alarms.ReadingIn, Probe: p.ID, Quantity: alarms.Temperature, Value: math.Round(v*10) / 10}
		if clock {
			in.Measured = in.At.Add(-time.Second)
		}
		switch n := rnd.IntN(60); {
		case n == 0:
			in.Retained = true
		case n == 1 && clock && late < 3:
			late++
			in.Measured = in.At.Add(-time.Hour)
		case n == 2 && clock:
			double := in
			double.At = in.At.Add(4 * time.Second)
			s.inputs = append(s.inputs, double)
		}
		s.inputs = append(s.inputs, in)
	}
}

// person does something to one of ids, to a probe or to a season.
func (s *story) person(ids []alarms.AlarmID) {
	rnd := s.rnd
	t := s.second()
	in := alarms.Input{At: s.at(t), Alarm: pick(rnd, ids...), By: "grower"}
	house := pick(rnd, s.plan.Houses...)
	switch rnd.IntN(12) {
	case 0, 1, 2:
		in.Kind = alarms.Acknowledge
		if rnd.IntN(3) == 0 {
			in.Until = s.at(t + pick(rnd, 301, 1201, 30*3600, -3))
		}
	case 3, 4:
		in.Kind, in.Alarm = alarms.Acknowledge, ""
	case 5, 6, 7:
		in.Kind, in.Note = alarms.Shelve, "at work"
		in.Until = s.at(t + pick(rnd, 61, 301, 1201, 3601, -3))
	case 8:
		in.Kind = alarms.Unshelve
	case 9:
		in.Kind = pick(rnd, alarms.TakeOut, alarms.PutBack)
	case 10:
		in.Kind, in.Alarm = pick(rnd, alarms.TakeOut, alarms.PutBack), ""
		in.Probe = pick(rnd, pick(rnd, house.Places...).Probes...).ID
	case 11:
		in.Kind, in.Alarm, in.House, in.Season = alarms.SetSeason, "", house.ID, pick(rnd, alarms.Seasons...)
	}
	s.inputs = append(s.inputs, in)
}

// gap takes out what the probes sent for a while and puts one input at its start
// and one at its end. Behind a restart nothing else happens in the gap either.
func (s *story) gap(first, last alarms.InputKind, longest int) {
	from := s.at(s.second())
	to := from.Add(time.Duration(4*(1+s.rnd.IntN(longest))) * time.Second)
	var kept, after []alarms.Input
	for _, in := range s.inputs {
		during := in.At.After(from) && in.At.Before(to)
		if !during || (last != alarms.RestartMarker && in.Kind != alarms.ReadingIn) {
			kept = append(kept, in)
		} else if in.Kind == alarms.LinkUp { // found out when the watch runs again
			in.At = to
			after = append(after, in)
		}
	}
	s.inputs = append(kept, alarms.Input{At: from, Kind: first}, alarms.Input{At: to, Kind: last})
	s.inputs = append(s.inputs, after...)
	s.inOrder()
}

func title(seed uint64) string { return fmt.Sprintf("A schedule by chance, seed %d", seed) }
