package decode

import (
	"encoding/csv"
	"errors"
	"fmt"
	"io"
	"slices"
	"time"

	"telltale/alarms"
)

// Columns says what the columns of a table of recorded readings are.
type Columns struct {
	// Time is the header of the column that says when: RFC 3339, "2006-01-02
	// 15:04:05" or "2006-01-02 15:04" (with a blank or a T) in Zone, or a
	// number of Unit since 1970.
	Time  string
	Zone  *time.Location // nil: UTC. An hour that the clocks repeat is taken as the first.
	Unit  TimeUnit       // empty: seconds
	Comma rune           // between cells; 0: a comma
	Cells []Column
}

// Column is one quantity of one probe.
type Column struct {
	Header   string
	Probe    alarms.ProbeID
	Quantity alarms.Quantity
	Unit     string  // as in Read
	Factor   float64 // as in Read
	Inverted bool    // as in Read
}

// History is what reading recorded readings came to.
type History struct {
	Rows     uint64 // lines with data
	Values   uint64
	Empty    uint64        // cells without a value: missing readings
	Bad      uint64        // cells and lines that could not be read
	Problems []LineProblem // the first maxLineProblems of the bad ones
	From, To time.Time     // earliest and latest time of a value
}

// LineProblem is one cell or line that could not be read.
type LineProblem struct {
	Line   int64  // counted from 1
	Column string // header; empty: the whole line
	Cause  Cause
	Detail string
}

func (p LineProblem) String() string {
	if p.Column == "" {
		return fmt.Sprintf("line %d: %s", p.Line, p.Detail)
	}
	return fmt.Sprintf("line %d, column %q: %s", p.Line, p.Column, p.Detail)
}

// maxLineProblems is how many bad cells and lines are kept in full.
const maxLineProblems = 20

func (h *History) bad(p LineProblem) {
	h.Bad++
	if len(h.Problems) < maxLineProblems {
		h.Problems = append(h.Problems, p)
	}
}

func (h *History) give(v Value, emit func(Value)) {
	h.Values++
	if h.From.IsZero() || v.Measured.Before(h.From) {
		h.From = v.Measured
	}
	if v.Measured.After(h.To) {
		h.To = v.Measured
	}
	emit(v)
}

// ReadCSV reads a table with a header line and calls emit for each value, row
// by row. Empty cells are missing readings. A bad cell costs itself, a bad
// time its row; both are in the History. The error says that the columns are
// not as described, or that r failed.
func ReadCSV(r io.Reader, c Columns, emit func(Value)) (History, error) {
	t, err := newCSVTable(r, c)
	if err != nil {
		return History{}, err
	}
	for {
		row, err := t.rows.Read()
		if err == io.EOF {
			return t.history, nil
		}
		var broken *csv.ParseError
		switch {
		case errors.As(err, &broken):
			t.history.bad(LineProblem{Line: int64(broken.Line), Cause: BadSyntax, Detail: broken.Err.Error()})
		case err != nil:
			return t.history, fmt.Errorf("reading recorded readings: %w", err)
		default:
			t.row(row, emit)
		}
	}
}

// csvTable is the state of one ReadCSV.
type csvTable struct {
	rows    *csv.Reader
	columns Columns
	time    int // which cell
	reads   []read
	cells   []int // which cell each read has
	text    []byte
	history History
}

func newCSVTable(r io.Reader, c Columns) (*csvTable, error) {
	t := &csvTable{rows: csv.NewReader(r), columns: c, time: -1}
	t.rows.ReuseRecord = true
	t.rows.FieldsPerRecord = -1
	if c.Comma != 0 {
		t.rows.Comma = c.Comma
	}
	if t.columns.Zone == nil {
		t.columns.Zone = time.UTC
	}
	if t.columns.Unit == "" {
		t.columns.Unit = Seconds
	}
	header, err := t.rows.Read()
	if err != nil {
		return nil, fmt.Errorf("recorded readings: line 1: want a header line with the names of the columns: %w", err)
	}
	header = slices.Clone(header)
	if len(header) > 0 {
		header[0] = trimMark(header[0])
	}
	return t, t.bind(header)
}

// trimMark takes off the byte order mark that some spreadsheets write.
func trimMark(s string) string {
	if len(s) >= 3 && s[:3] == "\xef\xbb\xbf" {
		return s[3:]
	}
	return s
}

// bind finds the columns in the header; all that are wrong are told at once.
func (t *csvTable) bind(header []string) error {
	var errs []error
	if !t.columns.Unit.known() {
		errs = append(errs, fmt.Errorf("unit of time: got %q, want s, ms, us or ns", t.columns.Unit))
	}
	if t.time = slices.Index(header, t.columns.Time); t.time < 0 {
		errs = append(errs, fmt.Errorf("column %q for the time is not there, got %q", t.columns.Time, header))
	}
	c := checker{claimed: map[claim]string{}, looks: map[string]string{}}
	for _, col := range t.columns.Cells {
		i := slices.Index(header, col.Header)
		if i < 0 {
			errs = append(errs, fmt.Errorf("column %q is not there, got %q", col.Header, header))
		}
		s := c.prepare(Source{Probe: col.Probe, Filter: "#", Form: Number, Where: fmt.Sprintf("column %q", col.Header),
			Reads: []Read{{Quantity: col.Quantity, Unit: col.Unit, Factor: col.Factor, Inverted: col.Inverted}}})
		c.looks = map[string]string{} // two probes may have a column of one quantity each
		t.reads = append(t.reads, s.reads...)
		t.cells = append(t.cells, i)
	}
	if err := errors.Join(append(errs, c.errs...)...); err != nil {
		return fmt.Errorf("recorded readings: %w", err)
	}
	return nil
}

func (t *csvTable) row(row []string, emit func(Value)) {
	t.history.Rows++
	at, f := time.Time{}, fault{BadTime, "the row has no time"}
	if t.time < len(row) {
		at, f = t.columns.timeOf(row[t.time])
	}
	if f.bad() {
		t.history.bad(LineProblem{Line: t.line(), Column: t.columns.Time, Cause: f.cause, Detail: f.detail})
		return
	}
	for i := range t.reads {
		if t.cells[i] >= len(row) || row[t.cells[i]] == "" {
			t.history.Empty++
			continue
		}
		t.text = append(t.text[:0], row[t.cells[i]]...)
		v, f := t.reads[i].text(t.text)
		if f.bad() {
			t.history.bad(LineProblem{Line: t.line(), Column: t.columns.Cells[i].Header, Cause: f.cause, Detail: f.detail})
			continue
		}
		t.history.give(Value{Probe: t.reads[i].probe, Quantity: t.reads[i].Quantity, Value: v, Measured: at}, emit)
	}
}

func (t *csvTable) line() int64 {
	line, _ := t.rows.FieldPos(0)
	return int64(line)
}

// timeOf reads the time of a row in any of the layouts of Columns.Time.
func (c *Columns) timeOf(s string) (time.Time, fault) {
	if len(s) >= len("2006-01-02 15:04") && s[4] == '-' && (s[10] == ' ' || s[10] == 'T') {
		if at, ok := c.clockTime(s); ok {
			return at, fault{}
		}
	}
	return unixTime([]byte(s), c.Unit)
}

// clockTime reads "2006-01-02 15:04" and "2006-01-02 15:04:05"; ok is false
// for anything else.
func (c *Columns) clockTime(s string) (at time.Time, ok bool) {
	sec := 0
	switch {
	case len(s) == 16:
	case len(s) == 19 && s[16] == ':':
		if sec, ok = twoDigits(s[17:]); !ok {
			return at, false
		}
	default:
		return at, false
	}
	century, ok1 := twoDigits(s)
	year, ok2 := twoDigits(s[2:])
	month, ok3 := twoDigits(s[5:])
	day, ok4 := twoDigits(s[8:])
	hour, ok5 := twoDigits(s[11:])
	minute, ok6 := twoDigits(s[14:])
	if !ok1 || !ok2 || !ok3 || !ok4 || !ok5 || !ok6 || s[7] != '-' || s[13] != ':' ||
		month < 1 || month > 12 || hour > 23 || minute > 59 || sec > 59 {
		return at, false
	}
	year += century * 100
	if last := time.Date(year, time.Month(month)+1, 0, 0, 0, 0, 0, time.UTC).Day(); day < 1 || day > last {
		return at, false
	}
	return time.Date(year, time.Month(month), day, hour, minute, sec, 0, c.Zone), true
}

func twoDigits(s string) (int, bool) {
	if s[0] < '0' || s[0] > '9' || s[1] < '0' || s[1] > '9' {
		return 0, false
	}
	return int(s[0]-'0')*10 + int(s[1]-'0'), true
}
