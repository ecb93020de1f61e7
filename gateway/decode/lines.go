package decode

import (
	"errors"
	"fmt"
	"io"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// ReadLines reads recorded readings in line protocol and calls emit for each
// value that the sources choose, in the order of the file. Of the sources only
// probe, reads and the unit of the clock count; their form is Line. A line
// that cannot be read costs itself; lines that no source chooses are passed
// over; a line without a time is bad. The error says that the sources are
// wrong, or that r failed. One line is held in memory whole.
func ReadLines(r io.Reader, sources []Source, emit func(Value)) (History, error) {
	var h History
	lined := make([]Source, len(sources))
	for i, s := range sources {
		s.Form = Line
		if s.Filter == "" {
			s.Filter = "#"
		}
		lined[i] = s
	}
	ready, err := prepareAll(lined)
	if err != nil {
		return h, fmt.Errorf("recorded readings: %w", err)
	}
	p := newPart(Line, ready)
	d := lineprotocol.NewDecoder(r)
	var b batch
	for d.Next() {
		h.Rows++
		b.values, b.problems = b.values[:0], b.problems[:0]
		clear(p.out)
		if err := p.line(d, &b); err != nil {
			h.bad(lineError(err, h.Rows))
			continue
		}
		h.line(p, &b, emit)
	}
	if err := d.Err(); err != nil {
		return h, fmt.Errorf("reading recorded readings: %w", err)
	}
	return h, nil
}

// line books what one good line gave.
func (h *History) line(p *part, b *batch, emit func(Value)) {
	for _, pr := range b.problems {
		h.bad(LineProblem{Line: int64(h.Rows), Cause: pr.Cause, Detail: pr.Detail})
	}
	for i, o := range p.out {
		if o.fault.bad() {
			h.bad(LineProblem{Line: int64(h.Rows), Column: p.reads[i].At, Cause: o.fault.cause, Detail: o.fault.detail})
		}
	}
	for _, v := range b.values {
		if v.Measured.Equal(time.Time{}) {
			h.bad(LineProblem{Line: int64(h.Rows), Cause: BadTime, Detail: "the line has no time"})
			continue
		}
		h.give(v, emit)
	}
}

// lineError takes the line number from the decoder where it gives one: rows
// leave out comments and blank lines.
func lineError(err error, row uint64) LineProblem {
	var at *lineprotocol.DecodeError
	p := LineProblem{Line: int64(row), Cause: BadSyntax, Detail: "not line protocol: " + err.Error()}
	if errors.As(err, &at) {
		p.Line = at.Line
		p.Detail = fmt.Sprintf("not line protocol: column %d: %v", at.Column, at.Err)
	}
	return p
}
