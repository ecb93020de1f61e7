package store

import (
	"context"
	"database/sql"
	"errors"
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/store/sqlite"
)

// Bucket is what the readings from Start to Start+Width were like.
type Bucket struct {
	Start          time.Time // UTC
	Width          time.Duration
	N              int // readings
	Min, Mean, Max float64
}

// widths a bucket may have; beyond them whole weeks.
var widths = [...]time.Duration{time.Second, 2 * time.Second, 5 * time.Second, 10 * time.Second, 15 * time.Second,
	30 * time.Second, time.Minute, 2 * time.Minute, 5 * time.Minute, 10 * time.Minute, 20 * time.Minute,
	30 * time.Minute, time.Hour, 2 * time.Hour, 3 * time.Hour, 6 * time.Hour, 12 * time.Hour, day, 2 * day, 7 * day}

// bucketWidth is the width Buckets takes: the smallest of 1 s, 2 s, 5 s ... 12 h,
// 1, 2, 7 days and multiples of 7 days that needs at most maxPoints buckets.
func bucketWidth(from, to time.Time, maxPoints int) time.Duration {
	span := to.Sub(from)
	fits := func(w time.Duration) bool { return int64(span/w)+2 <= int64(max(maxPoints, 3)) }
	for _, w := range widths {
		if fits(w) {
			return w
		}
	}
	w := 7 * day
	for !fits(w) && w < math.MaxInt64/4 {
		w *= 2
	}
	return w
}

// Buckets returns minimum, mean and maximum of one quantity of one probe over
// from..to in at most maxPoints (at least 3) buckets of one width, aligned to
// UTC; from is rounded down and to up to it. Buckets without a reading are left
// out. Days long gone have values of 10 minutes and no finer: a bucket then
// holds one such value and its N. It never reads more than it must, so that a
// year takes milliseconds.
func (h *History) Buckets(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time, maxPoints int) ([]Bucket, error) {
	width := bucketWidth(from, to, maxPoints).Milliseconds()
	lo := floorTo(from.UnixMilli(), width)
	hi := floorTo(ceilMillis(to)-1, width) + width
	g := &grid{start: func(ms int64) int64 { return floorTo(ms, width) }, cells: map[int64]*extent{}}
	err := h.look(ctx, name{p, q}, lo, hi, func(v *view) error { return v.fill(g, width%slotMillis != 0) })
	if err != nil {
		return nil, err
	}
	return g.buckets(func(int64) int64 { return width }), nil
}

// fill adds all that the view has to g. fine says that 10-minute values are too
// coarse where the readings themselves are still here.
func (v *view) fill(g *grid, fine bool) error {
	days, err := v.summedDays()
	if err != nil {
		return err
	}
	held := map[int64]bool{} // days that memory has readings of: their sums lack them
	for _, b := range v.recent {
		if err := daysIn(b, held); err != nil {
			return err
		}
	}
	useSum := func(d int64) bool { raw, ok := days[d]; return ok && !(raw && (fine || held[d])) }
	if err := v.addSums(g, useSum); err != nil {
		return err
	}
	if !fine {
		if err := v.narrow(held); err != nil {
			return err
		}
	}
	return v.eachBlock(func(b block) error { return v.addBlock(g, b, useSum) })
}

// narrow leaves of the saved blocks those from the first to the last day that
// is not summed up, or that memory has readings of as well.
func (v *view) narrow(held map[int64]bool) error {
	var first, last sql.NullInt64
	err := v.tx.QueryRowContext(v.ctx, `SELECT min(day), max(day) FROM span WHERE day BETWEEN ? AND ?
		AND day NOT IN (SELECT day FROM summed WHERE done = 1)`, dayOf(v.lo), dayOf(v.hi-1)).Scan(&first, &last)
	if err != nil {
		return err
	}
	lo, hi := v.hi, v.lo
	if first.Valid {
		lo, hi = first.Int64*dayMillis, (last.Int64+1)*dayMillis
	}
	for d := range held {
		lo, hi = min(lo, d*dayMillis), max(hi, (d+1)*dayMillis)
	}
	v.savedLo, v.savedHi = max(lo, v.lo), min(hi, v.hi)
	return nil
}

func floorTo(ms, width int64) int64 {
	// Widths of whole weeks begin on a Monday; 1970-01-01 was a Thursday.
	shift := int64(0)
	if width%(7*dayMillis) == 0 {
		shift = 3 * dayMillis
	}
	ms += shift
	r := ms % width
	if r < 0 {
		r += width
	}
	return ms - r - shift
}

// grid collects extents by bucket; start tells where the one of a moment begins.
type grid struct {
	start func(ms int64) int64
	cells map[int64]*extent
}

func (g *grid) add(e extent) {
	start := g.start(e.first)
	c := g.cells[start]
	if c == nil {
		c = &extent{}
		g.cells[start] = c
	}
	c.join(e)
}

func (g *grid) buckets(width func(start int64) int64) []Bucket {
	all := make([]Bucket, 0, len(g.cells))
	for start, e := range g.cells {
		all = append(all, Bucket{Start: joinTime(start, 0), Width: time.Duration(width(start)) * time.Millisecond,
			N: e.n, Min: e.min, Mean: e.mean(), Max: e.max})
	}
	slices.SortFunc(all, func(a, b Bucket) int { return a.Start.Compare(b.Start) })
	return all
}

// addBlock adds a block that touches the view, without opening it where its
// extent says enough.
func (v *view) addBlock(g *grid, b block, skip func(day int64) bool) error {
	firstDay, lastDay := dayOf(b.first), dayOf(b.last)
	if firstDay == lastDay && skip(firstDay) {
		return nil
	}
	inside := b.first >= v.lo && b.last < v.hi && g.start(b.first) == g.start(b.last)
	if inside && !skip(firstDay) && (firstDay == lastDay || lastDay == firstDay+1 && !skip(lastDay)) {
		g.add(b.extent)
		return nil
	}
	return unpack(b.data, b.n, func(pt point) {
		if pt.ms >= v.lo && pt.ms < v.hi && !skip(dayOf(pt.ms)) {
			g.add(extent{first: pt.ms, last: pt.ms, n: 1, min: pt.value, max: pt.value, sum: pt.value})
		}
	})
}

// summedDays says which days of the view are summed up, and whether their raw
// readings are still here.
func (v *view) summedDays() (map[int64]bool, error) {
	type row struct {
		day int64
		raw bool
	}
	rows, err := sqlite.Collect(v.ctx, v.tx, func(r *sql.Rows, d *row) error { return r.Scan(&d.day, &d.raw) },
		`SELECT day, raw FROM summed WHERE done = 1 AND day BETWEEN ? AND ?`, dayOf(v.lo), dayOf(v.hi-1))
	days := make(map[int64]bool, len(rows))
	for _, r := range rows {
		days[r.day] = r.raw
	}
	return days, err
}

// addSums adds the 10-minute values of the days that want says.
func (v *view) addSums(g *grid, want func(day int64) bool) error {
	if v.id == 0 {
		return nil
	}
	get, err := v.tx.PrepareContext(v.ctx, `SELECT n, min, mean, max, data FROM day WHERE id = ?`)
	if err != nil {
		return err
	}
	defer get.Close()
	for d := dayOf(v.lo); d <= dayOf(v.hi-1); d++ {
		if !want(d) {
			continue
		}
		if err := v.addDay(g, get, d); err != nil {
			return err
		}
	}
	return nil
}

func (v *view) addDay(g *grid, get *sql.Stmt, d int64) error {
	var e extent
	var mean float64
	var data []byte
	err := get.QueryRowContext(v.ctx, dayKey(d, v.id)).Scan(&e.n, &e.min, &mean, &e.max, &data)
	if errors.Is(err, sql.ErrNoRows) {
		return nil
	}
	if err != nil {
		return err
	}
	first, last := d*dayMillis, (d+1)*dayMillis-1
	if first >= v.lo && last < v.hi && g.start(first) == g.start(last) {
		e.first, e.sum = d*dayMillis, mean*float64(e.n)
		g.add(e)
		return nil
	}
	slots, err := unpackSlots(data, d)
	if err != nil {
		return err
	}
	for _, sl := range slots {
		if sl.first >= v.lo && sl.first < v.hi {
			g.add(sl.extent)
		}
	}
	return nil
}

// Cells is Buckets over cells of any width, such as days on the calendar: each
// begins at one of cuts, which rise, and ends at the next; the last cut ends the
// last cell. Where only 10-minute values are kept a cut within one gives it to
// the cell in which it begins. Cells without a reading are left out.
func (h *History) Cells(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, cuts []time.Time) ([]Bucket, error) {
	if len(cuts) < 2 {
		return nil, nil
	}
	edges := make([]int64, len(cuts))
	whole := true // every cell is of whole 10-minute values
	for i, c := range cuts {
		edges[i] = ceilMillis(c)
		whole = whole && edges[i]%slotMillis == 0
	}
	at := func(ms int64) int {
		i, found := slices.BinarySearch(edges, ms)
		if !found {
			i--
		}
		return min(max(i, 0), len(edges)-2)
	}
	g := &grid{start: func(ms int64) int64 { return edges[at(ms)] }, cells: map[int64]*extent{}}
	err := h.look(ctx, name{p, q}, edges[0], edges[len(edges)-1], func(v *view) error { return v.fill(g, !whole) })
	if err != nil {
		return nil, err
	}
	return g.buckets(func(start int64) int64 { i := at(start); return edges[i+1] - edges[i] }), nil
}

// Began is the UTC day of the oldest reading that is kept; zero for none.
func (h *History) Began(ctx context.Context) (time.Time, error) {
	first, err := sqlite.One[sql.NullInt64](ctx, h.disk.db().Read, `SELECT min(d) FROM (SELECT min(day) AS d FROM span
		UNION ALL SELECT min(id) >> ? FROM day)`, streamBits)
	if err != nil {
		return time.Time{}, err
	}
	oldest, held := h.recent.oldest()
	switch {
	case first.Valid && (!held || first.Int64 <= dayOf(oldest)):
		return joinTime(first.Int64*dayMillis, 0), nil
	case held:
		return joinTime(dayOf(oldest)*dayMillis, 0), nil
	}
	return time.Time{}, nil
}
