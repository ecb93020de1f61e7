package record

import (
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"
	"time"
)

// Options are what is known of a file; what is empty is found out.
type Options struct {
	Time      string // header of the column that says when; two: "Date+Time"
	Zone      *time.Location
	Dates     Order
	Separator byte
	Decimal   byte // '.' or ','
}

// Unsure stops where a guess would be unsafe.
type Unsure struct {
	What string // what cannot be told
	Flag string // what must be given
}

func (u *Unsure) Error() string { return u.What + "; say " + u.Flag }

// Series is what one column says of one probe: a column of a wide table, or the
// rows of one name in a long one.
type Series struct {
	Header  string   // of the column
	Key     string   // what the row names, its words with blanks between; empty: nothing
	Samples []string // of its cells, spread over the file, with a decimal point
	Count   uint64   // cells with something in them
	Every   time.Duration
}

// Name is how a person would call it.
func (s *Series) Name() string {
	header := s.Header
	if s.Key != "" && has(header, valueWords) {
		header = ""
	}
	return strings.TrimSpace(s.Key + " " + header)
}

// Table is a file that was looked at. Close it.
type Table struct {
	Series   []Series
	Faults   Faults
	Rows     uint64 // that have a time
	From, To time.Time
	Every    time.Duration // usual step from row to row of a series
	Late     uint64        // rows that stand behind a later one, or in a file sorted newest first before one
	Headed   bool          // it has a header; else columns are called by their number
	Zone     *time.Location
	Zoned    bool // the times state their zone, or are counted from 1970
	Said     []string
	summer   string // the zone was found by jumps of the clock, here

	plain *plain
	shape *shape
	order Order
	comma bool                                           // decimal
	at    func(line []byte, n int64) (ns int64, ok bool) // of a file of lines
	names map[string]int                                 // key -> its first series
	want  []bool

	queue []block
	heads heads
	cells []Cell
}

// Open looks at a whole file.
func Open(name string, o Options) (*Table, error) {
	p, err := openPlain(name)
	if err != nil {
		return nil, err
	}
	t, err := newTable(p, o)
	if err != nil {
		return nil, errors.Join(err, p.close())
	}
	return t, nil
}

func newTable(p *plain, o Options) (*Table, error) {
	s, err := findShape(p, o)
	if err != nil {
		return nil, err
	}
	t := newTableOf(p, s, o)
	v := newSurvey(t, o)
	if err := v.run(); err != nil {
		return nil, err
	}
	if best, _, err := v.order(); err == nil {
		if zone, at := summerOf(best.jumps); zone != nil {
			if next, ok := t.inSummer(o, zone, at); ok {
				return next, nil
			}
		}
	}
	return t, v.finish(o)
}

func newTableOf(p *plain, s *shape, o Options) *Table {
	t := &Table{Headed: s.headed, plain: p, shape: s, names: map[string]int{}, Zone: o.Zone}
	if t.Zone == nil || s.utc {
		t.Zone = time.UTC
	}
	return t
}

// survey goes through the file for the first time.
func (t *Table) survey(o Options) error {
	v := newSurvey(t, o)
	if err := v.run(); err != nil {
		return err
	}
	return v.finish(o)
}

// inSummer goes through the file once more, as if its times were those of a zone
// with summer time, and tells whether they can be.
func (t *Table) inSummer(o Options, zone *time.Location, at jump) (*Table, bool) {
	o.Zone = zone
	next := newTableOf(t.plain, t.shape, o)
	v := newSurvey(next, o)
	if v.run() != nil {
		return nil, false
	}
	if best, _, err := v.order(); err != nil || best.wall.never > 0 {
		return nil, false
	}
	next.summer = time.Unix(0, at.after).UTC().Format(time.DateOnly)
	return next, v.finish(o) == nil
}

// Head reads the beginning of a file as plain text, to see what it may be.
func Head(name string) ([]byte, error) {
	p, err := openPlain(name)
	if err != nil {
		return nil, err
	}
	head := make([]byte, 4<<10)
	n, err := p.ReadAt(head, p.begin)
	if err == io.EOF {
		err = nil
	}
	return head[:n], errors.Join(err, p.close())
}

// Close lets go of the file.
func (t *Table) Close() error { return t.plain.close() }

// Want says of which series Next gives values; without it of all.
func (t *Table) Want(series []int) {
	t.want = make([]bool, len(t.Series))
	for _, i := range series {
		t.want[i] = true
	}
}

func (t *Table) wanted(i int) bool { return t.want == nil || t.want[i] }

func (t *Table) rows(at, line int64) *rows {
	return &rows{lines: newLines(t.plain, t.plain.size, at, line, t.shape.eol), sep: t.shape.sep, want: len(t.shape.headers)}
}

// read takes time and name of a row; series is the first of its name.
func (t *Table) read(x row) (st stamp, series int, ok bool) {
	s := t.shape
	if x.fault != nil || s.time >= len(x.cells) {
		return st, 0, false
	}
	if t.at != nil {
		st.counts = seconds
		st.unix, ok = t.at(x.cells[0], x.n)
		return st, 0, ok
	}
	var clock []byte
	if s.clock >= 0 && s.clock < len(x.cells) {
		clock = x.cells[s.clock]
	}
	if st, ok = s.stamp(x.cells[s.time], clock); !ok {
		return st, 0, false
	}
	if len(s.keys) == 0 {
		return st, 0, true
	}
	series, ok = t.names[t.key(x)]
	return st, series, ok
}

func (t *Table) key(x row) string {
	var parts []string
	for _, c := range t.shape.keys {
		if c < len(x.cells) && len(x.cells[c]) > 0 {
			parts = append(parts, string(x.cells[c]))
		}
	}
	return strings.Join(parts, " ")
}

// moment is when a row was measured.
func (t *Table) moment(w *wall, st *stamp, naive int64, writer int) int64 {
	if st.counts == seconds || st.counts == millis {
		return naive
	}
	if st.zoned {
		return naive - int64(st.offset)*int64(time.Second)
	}
	return w.moment(naive, writer)
}

// point writes a decimal point where the table has a comma.
func (t *Table) point(text []byte) {
	if t.comma {
		if i := slices.Index(text, ','); i >= 0 {
			text[i] = '.'
		}
	}
}

// changed says what it means that a file ends before its time.
func changed(err error) error {
	if err == io.EOF {
		return errors.New("the file became shorter while it was read")
	}
	return fmt.Errorf("reading: %w", err)
}
