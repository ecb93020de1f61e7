package record

import (
	"slices"
	"time"
)

// spread keeps texts spread over all that come.
type spread struct {
	kept  []string
	skip  uint64
	count uint64
}

const mostKept = 256

func (s *spread) add(b []byte) {
	if s.count++; s.skip == 0 {
		s.skip = 1
	}
	if s.count%s.skip != 0 || len(b) > 64 {
		return
	}
	if s.kept = append(s.kept, string(b)); len(s.kept) == mostKept {
		for i := range mostKept / 2 {
			s.kept[i] = s.kept[2*i+1]
		}
		s.kept = s.kept[:mostKept/2]
		s.skip *= 2
	}
}

// steps keeps some steps from value to value.
type steps struct {
	last int64
	met  bool
	kept []int64
	next int
}

func (s *steps) add(at int64) {
	if s.met && at != s.last {
		step := max(at-s.last, s.last-at)
		if len(s.kept) < 64 {
			s.kept = append(s.kept, step)
		} else if s.next++; s.next%997 == 0 {
			s.kept[s.next/997%64] = step
		}
	}
	s.last, s.met = at, true
}

// usual is the middle one of the steps; 0: there is none.
func (s *steps) usual() time.Duration {
	if len(s.kept) == 0 {
		return 0
	}
	all := slices.Sorted(slices.Values(s.kept))
	return time.Duration(all[len(all)/2])
}
