package report

import (
	"math"
	"slices"
	"time"

	"telltale/alarms/walk"
)

// Sample is one reading (Width 0), or what the readings from At to At+Width
// were like.
type Sample struct {
	At             time.Time
	Width          time.Duration
	Min, Mean, Max float64
}

// Reading makes a sample of one reading.
func Reading(at time.Time, v float64) Sample { return Sample{At: at, Min: v, Mean: v, Max: v} }

// Series is what one probe measured of one quantity.
type Series struct {
	Samples []Sample // oldest first; some of before the span, so that its beginning is known
	// Hold is for how long a sample stands for what follows it; 0: three times
	// the usual step.
	Hold time.Duration
	// Least and Most are what the sensor can give at all; both 0: anything.
	Least, Most float64
	// Out are the times over which the watch did not believe the probe, or was
	// told not to use it.
	Out []Span
}

// piece is a stretch of time over which one sample stands.
type piece struct {
	from, to     int64 // ns
	lo, mean, hi float64
	coarse       bool
}

func (s *Series) usable(x Sample) bool {
	if math.IsNaN(x.Min+x.Mean+x.Max) || math.IsInf(x.Min+x.Mean+x.Max, 0) {
		return false
	}
	if (s.Least != 0 || s.Most != 0) && (x.Min < s.Least || x.Max > s.Most) {
		return false
	}
	return !slices.ContainsFunc(s.Out, func(o Span) bool { return o.has(x.At) })
}

// kept are the samples that count.
func (s *Series) kept() []Sample {
	out := make([]Sample, 0, len(s.Samples))
	for _, x := range s.Samples {
		if s.usable(x) {
			out = append(out, x)
		}
	}
	return out
}

// hold is for how long the samples stand.
func (s *Series) hold(kept []Sample) time.Duration {
	if s.Hold > 0 || len(kept) < 2 {
		return s.Hold
	}
	steps := make([]time.Duration, 0, len(kept))
	for i := 1; i < len(kept); i++ {
		steps = append(steps, kept[i].At.Sub(kept[i-1].At))
	}
	slices.Sort(steps)
	usual := steps[len(steps)/2]
	if kept[0].Width > 0 && usual <= kept[0].Width {
		return kept[0].Width
	}
	return 3 * usual
}

// Stands are the stretches over which a sample stands.
func (s *Series) Stands() []Span {
	return walk.Each(s.pieces(s.kept()), func(p piece) Span { return Span{time.Unix(0, p.from), time.Unix(0, p.to)} })
}

// pieces lays the samples out in time.
func (s *Series) pieces(kept []Sample) []piece {
	hold := s.hold(kept)
	out := make([]piece, 0, len(kept))
	for i, x := range kept {
		end := x.At.Add(max(x.Width, hold))
		if i+1 < len(kept) && kept[i+1].At.Before(end) {
			end = kept[i+1].At
		}
		for _, o := range s.Out {
			if o.From.After(x.At) && o.From.Before(end) {
				end = o.From
			}
		}
		out = append(out, piece{from: x.At.UnixNano(), to: end.UnixNano(), lo: x.Min, mean: x.Mean, hi: x.Max, coarse: x.Width > 0})
	}
	return out
}

// above is which share of p lies above v.
func (p *piece) above(v float64) float64 {
	switch {
	case p.lo > v:
		return 1
	case p.hi <= v:
		return 0
	}
	return (p.hi - v) / (p.hi - p.lo)
}

// below is which share of p lies below v.
func (p *piece) below(v float64) float64 {
	switch {
	case p.hi < v:
		return 1
	case p.lo >= v:
		return 0
	}
	return (v - p.lo) / (p.hi - p.lo)
}
