package record

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// mostSeries bounds how many names a long table may have.
const mostSeries = 2000

// survey is the first way through a file.
type survey struct {
	t                *Table
	orders           []*ordered // in which the dates may be meant
	texts            []spread   // of each series
	guesses          bool       // the zone, by the jumps of the clock
	commas, points   uint64     // cells with a decimal comma or point
	threes           uint64     // of the commas: with three digits behind
	firstComma       string
	stated, unstated uint64 // rows whose time has a zone, or none
	form             stamp  // of the first row
	shown            string // its time as it stands
}

// ordered is what comes of one order of day and month.
type ordered struct {
	order   Order
	good    uint64
	bad     fault // the first time that cannot be meant so
	badN    uint64
	course  float64 // s gone through from row to row, forth and back
	last    int64
	from    int64
	to      int64
	late    uint64
	wall    *wall
	index   index
	fault   Faults
	jumps   []jump // of about an hour, of a clock whose zone nobody knows
	writers map[int]int64
	rows    uint64
	held    []held // by series
}

// held is what a series holds.
type held struct {
	n     uint64 // cells with something in them
	every steps
}

func newSurvey(t *Table, o Options) *survey {
	v := &survey{t: t, guesses: o.Zone == nil && !t.shape.utc}
	for _, order := range Orders {
		if o.Dates == "" || o.Dates == order {
			v.orders = append(v.orders, &ordered{order: order, wall: newWall(t.Zone, t.shape.newest), from: 1<<63 - 1, to: -1 << 63, writers: map[int]int64{}})
		}
	}
	if len(t.shape.keys) == 0 {
		t.names[""] = 0
		v.addSeries("")
	}
	return v
}

func (v *survey) addSeries(key string) {
	for _, c := range v.t.shape.values {
		v.t.Series = append(v.t.Series, Series{Header: v.t.shape.headers[c], Key: key})
		v.texts = append(v.texts, spread{})
		for _, o := range v.orders {
			o.held = append(o.held, held{})
		}
	}
}

func (v *survey) run() error {
	r := v.t.rows(v.t.shape.first, v.t.shape.line)
	for {
		x, err := r.next()
		if err == io.EOF {
			return nil
		}
		if err != nil {
			return fmt.Errorf("reading: %w", err)
		}
		if err := v.row(x); err != nil {
			return err
		}
	}
}

func (v *survey) row(x row) error {
	for _, o := range v.orders {
		o.index.begin(x.at, x.n, o.wall)
	}
	if x.fault != nil {
		v.t.Faults.add(x.fault)
		return nil
	}
	if v.blank(x) {
		return nil
	}
	if len(v.t.shape.keys) > 0 {
		if err := v.name(x); err != nil {
			return err
		}
	}
	st, series, ok := v.t.read(x)
	if !ok && v.t.at != nil {
		return nil
	}
	if !ok {
		cell := v.timeCell(x)
		v.t.Faults.Add(BadTime, v.t.shape.headers[v.t.shape.time], x.n, func() string {
			return fmt.Sprintf("got %s, want a date and a time of day such as %s", show([]byte(cell)), show([]byte(v.shown)))
		})
		return nil
	}
	if v.shown == "" {
		v.form, v.shown = st, v.timeCell(x)
	}
	if st.zoned || st.counts == seconds || st.counts == millis {
		v.stated++
	} else {
		v.unstated++
	}
	good := false
	for _, o := range v.orders {
		if o.take(v, x, &st, series) {
			good = true
			o.book(v.t.shape, x, series)
		}
	}
	if good {
		v.cells(x, series)
	}
	return nil
}

// blank: nothing but separators, or the header once more.
func (v *survey) blank(x row) bool {
	s := v.t.shape
	again := s.headed && s.time < len(x.cells) && string(x.cells[s.time]) == s.headers[s.time]
	return again || !slices.ContainsFunc(x.cells, func(c []byte) bool { return len(c) > 0 })
}

func (v *survey) timeCell(x row) string {
	s := v.t.shape
	var parts []string
	for _, c := range []int{s.time, s.clock} {
		if c >= 0 && c < len(x.cells) {
			parts = append(parts, string(x.cells[c]))
		}
	}
	return strings.Join(parts, " ")
}

// name makes the series of a name that is new.
func (v *survey) name(x row) error {
	key := v.t.key(x)
	if _, ok := v.t.names[key]; ok {
		return nil
	}
	if len(v.t.Series) > mostSeries {
		var heads []string
		for _, c := range v.t.shape.keys {
			heads = append(heads, v.t.shape.headers[c])
		}
		return fmt.Errorf("the columns %s name more than %d different things: that is no list of probes", quoted2(heads), mostSeries)
	}
	v.t.names[strings.Clone(key)] = len(v.t.Series)
	v.addSeries(key)
	return nil
}

// take weighs a row's time in one order.
func (o *ordered) take(v *survey, x row, st *stamp, series int) bool {
	ok := st.counts != noCount || len(st.orders()) == 1 || slices.Contains(st.orders(), o.order)
	naive := int64(0)
	if ok {
		naive, ok = st.naive(o.order)
	}
	if !ok {
		cell := v.timeCell(x)
		if o.badN++; o.badN == 1 {
			o.bad = fault{line: x.n, detail: strings.Clone(cell)}
		}
		o.fault.Add(BadTime, v.t.shape.headers[v.t.shape.time], x.n, func() string {
			return fmt.Sprintf("got %s, which is no day of the calendar by the order %s", show([]byte(cell)), o.order)
		})
		return false
	}
	at := v.t.moment(o.wall, st, naive, series)
	o.index.note(at)
	if o.good++; o.good > 1 {
		o.course += abs(float64(at-o.last)) / float64(time.Second)
	}
	before, met := o.writers[series]
	if met && v.guesses && !st.zoned && st.counts == noCount {
		o.jump(before, at, o.held[series].every.usual, v.t.shape.newest)
	}
	if met && (at < before) != v.t.shape.newest && at != before {
		o.late++
	} else {
		o.writers[series] = at
	}
	o.last, o.from, o.to = at, min(o.from, at), max(o.to, at)
	return true
}

func abs(x float64) float64 {
	if x < 0 {
		return -x
	}
	return x
}

// book counts the values of a row that has a time in this order.
func (o *ordered) book(s *shape, x row, series int) {
	o.rows++
	for i, c := range s.values {
		if c < len(x.cells) && !isMissing(x.cells[c]) {
			h := &o.held[series+i]
			h.n++
			h.every.add(o.last)
		}
	}
}

// cells keeps some values of a row, and how they are written.
func (v *survey) cells(x row, series int) {
	for i, c := range v.t.shape.values {
		if c < len(x.cells) && !isMissing(x.cells[c]) {
			v.mark(x.cells[c])
			v.texts[series+i].add(x.cells[c])
		}
	}
}

// mark counts what marks the decimals.
func (v *survey) mark(cell []byte) {
	comma, dot := slices.Index(cell, ','), slices.Index(cell, '.')
	switch {
	case !looksNumber(cell) || comma >= 0 && dot >= 0:
	case dot >= 0:
		v.points++
	case comma >= 0:
		if v.firstComma == "" {
			v.firstComma = string(cell)
		}
		v.commas++
		if n, w := digits(cell[comma+1:]); w == 3 && n >= 0 && comma <= 4 {
			v.threes++
		}
	}
}
