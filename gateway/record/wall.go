package record

import (
	"maps"
	"time"
)

// wall turns what a clock on a wall showed into moments. An hour that the
// clocks repeat is told apart by the order of the rows: each who writes the
// file (a probe, where rows name one) is in the second when its time goes back.
type wall struct {
	zone   *time.Location
	newest bool // the file is sorted newest first
	writes map[int]wrote
	// since..until is where the offset is known not to change.
	since, until int64 // ns
	offset       int64 // ns
	never        uint64
}

// wrote is what one writer wrote last.
type wrote struct {
	last   int64 // ns, on the wall
	step   int64 // to it from the one before
	second bool  // in a repeated hour: in the second
}

func newWall(zone *time.Location, newest bool) *wall {
	return &wall{zone: zone, newest: newest, writes: map[int]wrote{}}
}

// kept is the state to come back to; nil where the zone has no changes.
func (w *wall) kept() map[int]wrote {
	if w.zone == time.UTC {
		return nil
	}
	return maps.Clone(w.writes)
}

// moment is when the wall showed naive, as writer wrote it, in ns since 1970 UTC.
func (w *wall) moment(naive int64, writer int) int64 {
	if w.zone == time.UTC {
		return naive
	}
	s := w.writes[writer]
	step := naive - s.last
	if at := naive - w.offset; at >= w.since && at < w.until {
		w.writes[writer] = wrote{last: naive, step: step, second: w.newest}
		return at
	}
	first, second := w.both(naive)
	if first == second {
		w.writes[writer] = wrote{last: naive, step: step, second: w.newest}
		return first
	}
	s = s.into(naive, second-first, w.newest)
	w.writes[writer] = s
	if s.second {
		return second
	}
	return first
}

// into is the state after another time in an hour that is repeated after fold.
// The hour has turned when the time goes back by most of it; by less where the
// steps are long, and by nothing where they are as long as the hour.
func (s wrote) into(naive, fold int64, newest bool) wrote {
	back, step := s.last-naive, s.step
	if newest {
		back, step = -back, -step
	}
	if back >= fold || back <= -fold {
		return wrote{last: naive, step: s.step, second: newest}
	}
	if step < 0 || step > 2*fold {
		step = 0
	}
	turned := back >= min(fold/2, max(0, fold-step*3/2)) && (back > 0 || step >= fold*3/4)
	return wrote{last: naive, step: s.step, second: s.second && !(turned && newest) || turned && !newest}
}

// both are the moments at which the wall shows naive: the same where there is
// but one. A time that the clocks leave out counts on from before.
func (w *wall) both(naive int64) (first, second int64) {
	const margin = int64(26 * time.Hour)
	early, late := w.offsetAt(naive-margin), w.offsetAt(naive+margin)
	w.since, w.until = 1, 0
	if early == late {
		// nothing changes in a day around; keep that for the rows to come
		w.since, w.until, w.offset = naive-early-margin/2, naive-early+margin/2, early
		return naive - early, naive - early
	}
	first, second = naive-early, naive-late
	okFirst, okSecond := w.offsetAt(first) == early, w.offsetAt(second) == late
	switch {
	case okFirst && okSecond && first < second:
		return first, second
	case okFirst:
		return first, first
	case okSecond:
		return second, second
	}
	w.never++
	return first, first
}

func (w *wall) offsetAt(ns int64) int64 {
	_, s := time.Unix(0, ns).In(w.zone).Zone()
	return int64(s) * int64(time.Second)
}
