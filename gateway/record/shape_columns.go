package record

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// findTime chooses the columns that say when.
func (s *shape) findTime(head []sampled, o Options) error {
	all := s.kinds(head)
	if o.Time != "" {
		return s.namedTime(all, o.Time)
	}
	best, score := -1, 0
	clock := -1
	for i, k := range all {
		n := 4 * (k.full + k.date)
		if has(s.headers[i], timeWords) {
			n += 4*k.bare + k.full + k.date
		} else if !s.headed || k.bare > 0 && len(k.words) == 0 && i == 0 {
			n += k.bare
		}
		if has(s.headers[i], []string{"utc", "gmt"}) {
			n += k.full + k.date
		}
		enough := k.filled / 2
		if has(s.headers[i], timeWords) {
			enough = k.filled / 5
		}
		if n > score && k.full+k.date+k.bare > enough-1 {
			best, score = i, n
		}
		if clock < 0 && 2*k.clock > k.filled && k.filled > 0 {
			clock = i
		}
	}
	if best < 0 {
		return &Unsure{What: fmt.Sprintf("no column was found that says when: the columns are %s", quoted2(s.headers)), Flag: "--time HEADER"}
	}
	s.time = best
	if k := all[best]; clock >= 0 && (k.date > k.full || k.zeroClock == k.full) {
		s.clock = clock
	}
	s.utc = has(s.headers[best], []string{"utc", "gmt"})
	return nil
}

// namedTime takes the column that was named, or two: "Date+Time".
func (s *shape) namedTime(all []kinds, name string) error {
	find := func(name string) int {
		return slices.IndexFunc(s.headers, func(h string) bool { return strings.EqualFold(h, strings.TrimSpace(name)) })
	}
	s.time = find(name)
	if date, clock, two := strings.Cut(name, "+"); s.time < 0 && two {
		s.time, s.clock = find(date), find(clock)
		if s.clock < 0 {
			s.time = -1
		}
	}
	if s.time < 0 {
		return fmt.Errorf("there is no column %q to say when: the columns are %s", name, quoted2(s.headers))
	}
	s.utc = has(s.headers[s.time], []string{"utc", "gmt"})
	return nil
}

func quoted2(names []string) string {
	const most = 30
	var out []string
	for i, n := range names {
		if i == most {
			out = append(out, fmt.Sprintf("and %d more", len(names)-most))
			break
		}
		out = append(out, fmt.Sprintf("%q", clip(n)))
	}
	return strings.Join(out, ", ")
}

// clip keeps a header to what a person can read in a line.
func clip(s string) string {
	if r := []rune(s); len(r) > 80 {
		return string(r[:80]) + "..."
	}
	return s
}

// findOrder reports whether the first rows go back in time.
func (s *shape) findOrder(head []sampled) {
	forth, back, last := 0, 0, int64(0)
	for _, r := range head {
		st, ok := s.stampOf(r.cells)
		if !ok {
			continue
		}
		at, ok := st.naive(st.orders()[0])
		if !ok {
			at, ok = st.naive(st.orders()[len(st.orders())-1])
		}
		switch {
		case !ok:
			continue
		case last != 0 && at > last:
			forth++
		case last != 0 && at < last:
			back++
		}
		last = at
	}
	s.newest = back > forth
}

func (s *shape) stampOf(cells []string) (stamp, bool) {
	if s.time >= len(cells) {
		return stamp{}, false
	}
	clock := []byte(nil)
	if s.clock >= 0 && s.clock < len(cells) {
		clock = []byte(cells[s.clock])
	}
	return s.stamp([]byte(cells[s.time]), clock)
}

// stamp reads the time of a row from one cell or two.
func (s *shape) stamp(cell, clock []byte) (stamp, bool) {
	st, ok := readStamp(cell)
	if !ok || !st.date {
		return st, false
	}
	if s.clock >= 0 {
		of, ok := readStamp(clock)
		if !ok || of.counts != noCount || !of.clock {
			return st, false
		}
		st.sec, st.nano, st.clock, st.half = of.sec, of.nano, true, of.half
		st.zoned, st.offset = st.zoned || of.zoned, st.offset+of.offset
	}
	return st, true
}

// findKeys parts the other columns into those that name what a row is about and
// those of values. Only columns that say so, or a table of one value a row, may
// have names.
func (s *shape) findKeys(rows []sampled) {
	const mostNames = 200
	all := s.kinds(rows)
	numeric, named := 0, false
	for i, k := range all {
		if i != s.time && i != s.clock && 2*k.number > k.filled && k.filled > 0 && !has(s.headers[i], keyWords) {
			numeric++
			named = named || !has(s.headers[i], valueWords) && s.headed
		}
	}
	for i, k := range all {
		if i == s.time || i == s.clock {
			continue
		}
		text := 2*k.number < k.filled
		few := len(k.words) <= mostNames && 3*len(k.words) <= max(len(rows), 9) && 10*k.filled >= 9*len(rows)
		called := has(s.headers[i], keyWords) && s.headed
		if !text && called { // numbers of probes: 1, 2, 3
			n := map[string]bool{}
			for _, r := range rows {
				if i < len(r.cells) {
					n[r.cells[i]] = true
				}
			}
			few = few && len(n) <= 50 && 3*len(n) <= max(len(rows), 9) && !strings.ContainsAny(strings.Join(slices.Collect(maps.Keys(n)), ""), ".,")
			called = called && has(s.headers[i], []string{"probe", "sensor", "device", "node", "station", "id", "channel", "sensorid"})
		}
		switch {
		case few && (called && (text || numeric > 0) || text && numeric == 1 && !named):
			s.keys = append(s.keys, i)
		default:
			s.values = append(s.values, i)
		}
	}
	if len(s.values) == 0 {
		s.values, s.keys = s.keys, nil
	}
}
