package report

import (
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/walk"
)

// Measure is what one quantity of one place was like over a span.
type Measure struct {
	Place           alarms.PlaceID
	Quantity        alarms.Quantity
	Cell            // over the whole span
	Lowest, Highest Extreme
	LongestBlind    Span
	Coarse          time.Duration     // part of Known that rests on samples of several readings
	Banded          bool              // a limit was in force at some time
	Bands           []alarms.BandStep // that were in force
	Beyond          Beyond
	Cells, Days     []Cell // in the spans asked for
	Heat            *Heat  // of a temperature of the air
	Blind           time.Duration
}

// Extreme is the lowest or highest sample, and when it was.
type Extreme struct {
	Value float64
	At    time.Time
	Width time.Duration // it was somewhere from At to At+Width
}

// Beyond is for how long limits were passed. What is beyond low-low is beyond
// low as well. A limit that is not set cannot be passed.
type Beyond struct{ LowLow, Low, High, HighHigh, Any time.Duration }

// Cell is what a quantity was like over one span.
type Cell struct {
	Span
	Known          time.Duration // over which a value stood; 0: the rest says nothing
	Min, Mean, Max float64
}

// Asked says what is to be measured.
type Asked struct {
	Span  // what counts; it ends by now
	Bands []alarms.BandStep
	Cells []Span  // for a drawing, in order
	Days  []Span  // on the calendar, in order
	Base  float64 // of growing degrees
}

// MeasureOf sums up what the probes of one place measured of one quantity.
func MeasureOf(place alarms.PlaceID, q alarms.Quantity, a Asked, all []Series) Measure {
	m := Measure{Place: place, Quantity: q, Cell: newCell(a.Span), Bands: a.Bands,
		Cells: walk.Each(a.Cells, newCell), Days: walk.Each(a.Days, newCell)}
	for _, b := range a.Bands {
		m.Banded = m.Banded || b.LowLow.Set || b.Low.Set || b.High.Set || b.HighHigh.Set
	}
	s := sweep{m: &m, asked: a}
	m.Lowest.Value, m.Highest.Value = math.Inf(1), math.Inf(-1)
	for i := range all {
		kept := all[i].kept()
		m.extremes(kept)
		s.tracks = append(s.tracks, track{pieces: all[i].pieces(kept)})
	}
	if q == alarms.Temperature {
		m.Heat = &Heat{Base: a.Base}
	}
	s.run()
	m.finish()
	return m
}

func newCell(s Span) Cell { return Cell{Span: s, Min: math.Inf(1), Max: math.Inf(-1)} }

// extremes takes in the samples of one probe that lie in the span.
func (m *Measure) extremes(kept []Sample) {
	for _, x := range kept {
		if x.At.Add(x.Width).Before(m.From) || !x.At.Before(m.To) || x.Width == 0 && x.At.Before(m.From) {
			continue
		}
		if x.Min < m.Lowest.Value {
			m.Lowest = Extreme{x.Min, x.At, x.Width}
		}
		if x.Max > m.Highest.Value {
			m.Highest = Extreme{x.Max, x.At, x.Width}
		}
	}
}

func (m *Measure) finish() {
	m.Blind = m.Len() - m.Known
	m.Cell.finish()
	for i := range m.Cells {
		m.Cells[i].finish()
	}
	for i := range m.Days {
		m.Days[i].finish()
	}
	if m.Heat != nil {
		m.Heat.days(m.Days)
	}
}

// finish turns a sum over time into a mean.
func (c *Cell) finish() {
	if c.Known > 0 {
		c.Mean /= float64(c.Known)
		return
	}
	c.Min, c.Mean, c.Max = 0, 0, 0
}

// take adds a stretch over which one set of values stood.
func (c *Cell) take(d time.Duration, v values) {
	c.Known += d
	c.Mean += v.mean * float64(d)
	c.Min, c.Max = min(c.Min, v.lo), max(c.Max, v.hi)
}

// values are what stands at one moment.
type values struct{ lo, mean, hi float64 }

// track is one probe's pieces, walked through once.
type track struct {
	pieces []piece
	next   int
}

// holding returns the one of all, oldest first, that holds at t, nil for none. It looks
// from next on: t only rises.
func holding[T any](all []T, next *int, t int64, ends func(*T) (from, to int64)) *T {
	for ; *next < len(all); *next++ {
		one := &all[*next]
		if from, to := ends(one); from > t {
			return nil
		} else if to > t {
			return one
		}
	}
	return nil
}

func (p *piece) ends() (from, to int64)          { return p.from, p.to }
func (s *Span) ends() (from, to int64)           { return s.From.UnixNano(), s.To.UnixNano() }
func endsOf(b *alarms.BandStep) (from, to int64) { return b.From.UnixNano(), b.To.UnixNano() }

// sweep walks through time once, from edge to edge; between two edges nothing
// changes.
type sweep struct {
	m               *Measure
	asked           Asked
	tracks          []track
	band, cell, day int
	stand           []*piece
}

func (s *sweep) run() {
	edges := s.edges()
	blind := Span{}
	for i := 0; i+1 < len(edges); i++ {
		from, to := edges[i], edges[i+1]
		s.stand = s.stand[:0]
		for k := range s.tracks {
			if p := holding(s.tracks[k].pieces, &s.tracks[k].next, from, (*piece).ends); p != nil {
				s.stand = append(s.stand, p)
			}
		}
		here := Span{time.Unix(0, from).UTC(), time.Unix(0, to).UTC()}
		if len(s.stand) > 0 {
			s.count(here)
			blind = Span{}
			continue
		}
		if blind.To.Equal(here.From) {
			here.From = blind.From
		}
		if blind = here; blind.Len() > s.m.LongestBlind.Len() {
			s.m.LongestBlind = blind
		}
	}
}

// edges are all moments at which something changes, within the span.
func (s *sweep) edges() []int64 {
	lo, hi := s.m.From.UnixNano(), s.m.To.UnixNano()
	if lo >= hi {
		return nil
	}
	out := []int64{lo, hi}
	add := func(ns int64) {
		if ns > lo && ns < hi {
			out = append(out, ns)
		}
	}
	for _, k := range s.tracks {
		for _, p := range k.pieces {
			add(p.from)
			add(p.to)
		}
	}
	for _, b := range s.asked.Bands {
		add(b.From.UnixNano())
		add(b.To.UnixNano())
	}
	for _, list := range [][]Span{s.asked.Cells, s.asked.Days} {
		for _, c := range list {
			add(c.From.UnixNano())
			add(c.To.UnixNano())
		}
	}
	slices.Sort(out)
	return slices.Compact(out)
}

// count adds a stretch over which s.stand stood.
func (s *sweep) count(here Span) {
	v := values{lo: math.Inf(1), hi: math.Inf(-1)}
	coarse := false
	for _, p := range s.stand {
		v.lo, v.hi, v.mean = min(v.lo, p.lo), max(v.hi, p.hi), v.mean+p.mean/float64(len(s.stand))
		coarse = coarse || p.coarse
	}
	d := here.Len()
	s.m.take(d, v)
	if coarse {
		s.m.Coarse += d
	}
	at := here.From.UnixNano()
	if c := holding(s.m.Cells, &s.cell, at, (*Cell).ends); c != nil {
		c.take(d, v)
	}
	if c := holding(s.m.Days, &s.day, at, (*Cell).ends); c != nil {
		c.take(d, v)
	}
	if s.m.Heat != nil {
		s.m.Heat.hours(d, v.mean)
	}
	if b := holding(s.asked.Bands, &s.band, at, endsOf); b != nil {
		s.judge(d, b.Limits)
	}
}

// judge counts how much of d is beyond l.
func (s *sweep) judge(d time.Duration, l alarms.Limits) {
	most := func(limit alarms.Limit, share func(*piece, float64) float64) (x float64) {
		if !limit.Set {
			return 0
		}
		for _, p := range s.stand {
			x = max(x, share(p, limit.Value))
		}
		return x
	}
	lowLow, low := most(l.LowLow, (*piece).below), most(l.Low, (*piece).below)
	high, highHigh := most(l.High, (*piece).above), most(l.HighHigh, (*piece).above)
	part := func(share float64) time.Duration { return time.Duration(share * float64(d)) }
	b := &s.m.Beyond
	b.LowLow += part(lowLow)
	b.Low += part(low)
	b.High += part(high)
	b.HighHigh += part(highHigh)
	b.Any += part(min(1, max(low, lowLow)+max(high, highHigh)))
}
