package record

import (
	"cmp"
	"container/heap"
	"maps"
	"slices"
)

const (
	blockRows = 512 // rows of a block
	mostOpen  = 400 // blocks that may be open at once
)

// block is a piece of the file.
type block struct {
	at, line int64 // where its first row begins, and the number of that line
	rows     int   // rows in it, bad ones too
	min, max int64 // times in it, ns
	writes   map[int]wrote
}

// index is where which times stand.
type index struct {
	blocks []block
}

// begin is called for each row before its time is known.
func (x *index) begin(at, line int64, w *wall) {
	if n := len(x.blocks); n == 0 || x.blocks[n-1].rows >= blockRows {
		x.blocks = append(x.blocks, block{at: at, line: line, min: 1<<63 - 1, max: -1 << 63, writes: w.kept()})
	}
	x.blocks[len(x.blocks)-1].rows++
}

func (x *index) note(ns int64) {
	b := &x.blocks[len(x.blocks)-1]
	b.min, b.max = min(b.min, ns), max(b.max, ns)
}

// sorted are the blocks that have a time, by their first; most is how many of
// them must be open at once.
func (x *index) sorted() (all []block, most int) {
	all = slices.DeleteFunc(x.blocks, func(b block) bool { return b.min > b.max })
	slices.SortFunc(all, func(a, b block) int { return cmp.Or(cmp.Compare(a.min, b.min), cmp.Compare(a.line, b.line)) })
	ends := make([]int64, len(all))
	for i, b := range all {
		ends[i] = b.max
	}
	slices.Sort(ends)
	ended := 0
	for i, b := range all {
		for ends[ended] < b.min {
			ended++
		}
		most = max(most, i+1-ended)
	}
	return all, most
}

// loaded is a block in memory, its rows by time.
type loaded struct {
	rows  []placed
	cells []spot
	text  []byte
	next  int
}

type placed struct {
	at, line    int64
	first, last int32 // of cells
}

type spot struct {
	series int32
	from   int32
	to     int32
}

func (l *loaded) head() *placed { return &l.rows[l.next] }

// heads are the open blocks, that with the earliest row first.
type heads []*loaded

func (h heads) Len() int { return len(h) }
func (h heads) Less(i, j int) bool {
	a, b := h[i].head(), h[j].head()
	return cmp.Or(cmp.Compare(a.at, b.at), cmp.Compare(a.line, b.line)) < 0
}
func (h heads) Swap(i, j int) { h[i], h[j] = h[j], h[i] }
func (h *heads) Push(v any)   { *h = append(*h, v.(*loaded)) }
func (h *heads) Pop() any {
	old := *h
	v := old[len(old)-1]
	*h = old[:len(old)-1]
	return v
}

// Row is one row that has a time. Its cells hold until the next is asked for.
type Row struct {
	At    int64 // ns since 1970 UTC
	Line  int64
	Cells []Cell
}

// Cell is one value of a row as text, with a decimal point.
type Cell struct {
	Series int // of Table.Series
	Text   []byte
}

// Next returns the rows by time, of one time by line; ok is false behind the
// last. Missing values are left out, and so are series that Want leaves out.
func (t *Table) Next() (out Row, ok bool, err error) {
	for len(t.queue) > 0 && (len(t.heads) == 0 || t.queue[0].min <= t.heads[0].head().at) {
		l, err := t.load(t.queue[0])
		if err != nil {
			return out, false, err
		}
		t.queue = t.queue[1:]
		if len(l.rows) > 0 {
			heap.Push(&t.heads, l)
		}
	}
	if len(t.heads) == 0 {
		return out, false, nil
	}
	l := t.heads[0]
	p := l.head()
	t.cells = t.cells[:0]
	for _, s := range l.cells[p.first:p.last] {
		t.cells = append(t.cells, Cell{Series: int(s.series), Text: l.text[s.from:s.to]})
	}
	out = Row{At: p.at, Line: p.line, Cells: t.cells}
	if l.next++; l.next < len(l.rows) {
		heap.Fix(&t.heads, 0)
	} else {
		heap.Pop(&t.heads)
	}
	return out, true, nil
}

// load reads a block again, as the survey did.
func (t *Table) load(b block) (*loaded, error) {
	l := &loaded{rows: make([]placed, 0, b.rows)}
	w := newWall(t.Zone, t.shape.newest)
	maps.Copy(w.writes, b.writes)
	r := t.rows(b.at, b.line)
	for range b.rows {
		x, err := r.next()
		if err != nil {
			return nil, changed(err)
		}
		st, series, ok := t.read(x)
		if !ok {
			continue
		}
		naive, ok := st.naive(t.order)
		if !ok {
			continue
		}
		p := placed{at: t.moment(w, &st, naive, series), line: x.n, first: int32(len(l.cells))}
		for i, c := range t.shape.values {
			if c < len(x.cells) && !isMissing(x.cells[c]) && t.wanted(series+i) {
				from := len(l.text)
				l.text = append(l.text, x.cells[c]...)
				t.point(l.text[from:])
				l.cells = append(l.cells, spot{series: int32(series + i), from: int32(from), to: int32(len(l.text))})
			}
		}
		if p.last = int32(len(l.cells)); p.last > p.first {
			l.rows = append(l.rows, p)
		}
	}
	slices.SortStableFunc(l.rows, func(a, b placed) int { return cmp.Compare(a.at, b.at) })
	return l, nil
}
