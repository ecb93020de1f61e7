// Package score sums up how a plan would have done on recorded readings: what a
// plain scan of them finds beyond the limits beside what was raised, how many
// messages a week that made, what came and went too often, for how long nothing
// was known, and how well the inference of a fan agrees with what the fan did; and,
// by Outlooks, how long before a limit was reached that would have been told, how
// often in vain, and how that compares with simple ways to warn.
//
// It takes readings and transitions by time, one after the other, and its size
// goes with the plan alone, the days that had a message and how often a limit was
// reached or warned of.
package score

import (
	"maps"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// Sheet is the sum.
type Sheet struct {
	From, To  time.Time
	Readings  uint64
	Scans     []Scan
	Messages  int // that people would be told
	Repeats   int // further ones, that only tell again what nobody acknowledged
	WorstDay  time.Time
	Worst     int // messages on that day
	Raised    []Count
	Chattered []Count
	Gaps      []Gap
	Fan       *Agreement // nil: nothing shows what a fan did
}

// Count is how often something befell an alarm.
type Count struct {
	Alarm alarms.AlarmID
	Times int
}

// Scan is what is beyond one side of the limits of a place, by its readings
// alone: an excursion begins with a value beyond the limit and ends when all are
// inside by the deadband.
type Scan struct {
	House      alarms.HouseID
	Place      alarms.PlaceID
	Quantity   alarms.Quantity
	Side       alarms.Side
	Excursions int
	Short      int     // of them: never beyond for as long as the delay
	Worst      float64 // value
	Raised     int     // alarms
}

// Gap is for how long a probe's quantity was not heard, beyond what it may.
type Gap struct {
	Probe     alarms.ProbeID
	Quantity  alarms.Quantity
	Times     int
	Blind     time.Duration
	Longest   time.Duration
	LongestAt time.Time
}

// PerWeek is how many messages a week the span makes; a shorter span counts as
// one.
func (s *Sheet) PerWeek() float64 {
	return float64(s.Messages) / max(1, s.To.Sub(s.From).Hours()/24/7)
}

// Score adds up.
type Score struct {
	plan      alarms.Plan
	sheet     Sheet
	scans     []*scan
	ofProbe   map[alarms.ProbeID][]*scan
	streams   map[stream]*heard
	order     []stream
	raised    map[alarms.AlarmID]int
	chattered map[alarms.AlarmID]int
	days      map[time.Time]int
	fan       *fan
}

type stream struct {
	probe    alarms.ProbeID
	quantity alarms.Quantity
}

// New begins for readings from one time to another.
func New(p alarms.Plan, f Fan, from, to time.Time) *Score {
	p = p.Filled()
	s := &Score{plan: p, sheet: Sheet{From: from, To: to}, ofProbe: map[alarms.ProbeID][]*scan{}, streams: map[stream]*heard{},
		raised: map[alarms.AlarmID]int{}, chattered: map[alarms.AlarmID]int{}, days: map[time.Time]int{}}
	for i := range p.Houses {
		h := &p.Houses[i]
		course := h.Course(nil, from, to.Add(time.Second))
		for j := range h.Places {
			s.place(h, &h.Places[j], course)
		}
		if f.House == h.ID {
			s.fan = newFan(f, h)
		}
	}
	return s
}

func (s *Score) place(h *alarms.House, p *alarms.Place, course []alarms.Held) {
	var scans []*scan
	for _, b := range p.Bands {
		if b.Quantity.Derived() || slices.ContainsFunc(scans, func(c *scan) bool { return c.Quantity == b.Quantity }) {
			continue
		}
		steps := p.Steps(b.Quantity, course)
		for _, side := range []alarms.Side{alarms.HighSide, alarms.LowSide} {
			if slices.ContainsFunc(steps, func(st alarms.BandStep) bool { return outer(st.Limits, side).Set }) {
				scans = append(scans, &scan{Scan: Scan{House: h.ID, Place: p.ID, Quantity: b.Quantity, Side: side},
					steps: steps, deadband: b.Deadband, delay: b.Delay})
			}
		}
	}
	s.scans = append(s.scans, scans...)
	for _, pr := range p.Probes {
		s.ofProbe[pr.ID] = scans
		for _, st := range pr.Streams {
			k := stream{pr.ID, st.Quantity}
			s.streams[k] = &heard{every: pr.Every, misses: pr.MissesAllowed}
			s.order = append(s.order, k)
		}
	}
}

// Readings is how many were taken so far.
func (s *Score) Readings() uint64 { return s.sheet.Readings }

// Reading takes one reading that was judged.
func (s *Score) Reading(at time.Time, probe alarms.ProbeID, q alarms.Quantity, v float64) {
	s.sheet.Readings++
	for _, c := range s.ofProbe[probe] {
		if c.Quantity == q {
			c.reading(at, probe, v)
		}
	}
	if h := s.streams[stream{probe, q}]; h != nil {
		h.at(at)
	}
	if s.fan != nil {
		s.fan.reading(at, probe, q, v)
	}
}

// Aside takes what the fan did, where it is compared alone.
func (s *Score) Aside(at time.Time, probe alarms.ProbeID, v float64) {
	s.sheet.Readings++
	if s.fan != nil {
		s.fan.reading(at, probe, s.fan.Evidence.Quantity, v)
	}
}

// Transition takes what the core said.
func (s *Score) Transition(t alarms.Transition) {
	switch t.Move {
	case alarms.Raise:
		s.raised[t.Alarm]++
	case alarms.Chatter:
		s.chattered[t.Alarm]++
	}
	switch {
	case !t.Told():
	case t.Repeats():
		s.sheet.Repeats++
	default:
		s.sheet.Messages++
		y, m, d := t.Due.In(s.plan.Words.Zone).Date()
		s.days[time.Date(y, m, d, 0, 0, 0, 0, s.plan.Words.Zone)]++
	}
}

// Sum is the sheet so far.
func (s *Score) Sum() Sheet {
	out := s.sheet
	out.Raised, out.Chattered = counts(s.raised), counts(s.chattered)
	for _, day := range slices.SortedFunc(maps.Keys(s.days), time.Time.Compare) {
		if n := s.days[day]; n > out.Worst {
			out.Worst, out.WorstDay = n, day
		}
	}
	for _, c := range s.scans {
		c.end(out.To)
		sum := c.Scan
		sum.Raised = s.raised[alarms.AlarmID(strings.Join([]string{string(c.House), string(c.Place), string(c.Quantity), c.Side.String()}, "/"))]
		out.Scans = append(out.Scans, sum)
	}
	for _, k := range s.order {
		if g := s.streams[k].gap; g.Times > 0 {
			g.Probe, g.Quantity = k.probe, k.quantity
			out.Gaps = append(out.Gaps, g)
		}
	}
	if s.fan != nil {
		s.fan.row()
		if a := s.fan.sum; a.Ran+a.Stood > 0 {
			out.Fan = &a
		}
	}
	return out
}

func counts(m map[alarms.AlarmID]int) (out []Count) {
	for _, id := range slices.Sorted(maps.Keys(m)) {
		out = append(out, Count{id, m[id]})
	}
	return out
}
