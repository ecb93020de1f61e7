package store

import (
	"context"
	"slices"
	"time"

	"telltale/alarms"
)

// Gaps is how the readings of one stream followed on each other.
type Gaps struct {
	N           int // readings
	First, Last time.Time
	Median      time.Duration // between readings; 0 with fewer than two
	Longest     time.Duration // between readings
	LongestFrom time.Time
}

// Gaps looks at the raw readings of one quantity of one probe with
// from <= At < to, those still waiting for the disk included. Readings of days
// that are long gone are not among them.
func (s *Store) Gaps(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time) (g Gaps, err error) {
	lo, hi := ceilMillis(from), ceilMillis(to)
	var ms []int64
	err = s.look(ctx, name{p, q}, lo, hi, func(v *view) error {
		return v.eachBlock(func(b block) error {
			return unpack(b.data, b.n, func(pt point) {
				if pt.ms >= lo && pt.ms < hi {
					ms = append(ms, pt.ms)
				}
			})
		})
	})
	if err != nil || len(ms) == 0 {
		return g, err
	}
	if !slices.IsSorted(ms) { // some came late
		slices.Sort(ms)
	}
	g = Gaps{N: len(ms), First: joinTime(ms[0], 0), Last: joinTime(ms[len(ms)-1], 0)}
	for i := len(ms) - 1; i > 0; i-- {
		ms[i] -= ms[i-1]
		if d := time.Duration(ms[i]) * time.Millisecond; d > g.Longest {
			g.Longest, g.LongestFrom = d, joinTime(ms[i-1], 0)
		}
	}
	if steps := ms[1:]; len(steps) > 0 {
		slices.Sort(steps)
		g.Median = time.Duration(steps[len(steps)/2]) * time.Millisecond
	}
	return g, nil
}
