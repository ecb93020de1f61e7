package decode

import (
	"cmp"
	"fmt"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"
)

// Lines reads recorded readings in line protocol, a line at a time.
type Lines struct {
	part  *part
	batch batch
}

// NewLines prepares to read what sources choose. Of them only probe, reads and
// the unit of the clock count; their form is Line.
func NewLines(sources []Source) (*Lines, error) {
	lined := make([]Source, len(sources))
	for i, s := range sources {
		s.Form = Line
		s.Filter = cmp.Or(s.Filter, "#")
		lined[i] = s
	}
	ready, err := prepareAll(lined)
	if err != nil {
		return nil, fmt.Errorf("recorded readings: %w", err)
	}
	return &Lines{part: newPart(Line, ready)}, nil
}

// LooksLine reports whether text begins with a line of line protocol.
func LooksLine(text []byte) bool { return looksLine(text) }

// Read reads one line. It holds what it returns until the next; a value without
// a time is among the problems. Comments, and lines that no source chooses, give
// neither.
func (l *Lines) Read(line []byte) ([]Value, []Problem) {
	p, b := l.part, &l.batch
	b.values, b.problems = b.values[:0], nil
	clear(p.out)
	d := lineprotocol.NewDecoderWithBytes(line)
	if !d.Next() {
		return nil, nil
	}
	if err := p.line(d, b); err != nil {
		return nil, []Problem{{Cause: BadSyntax, Detail: "not line protocol: " + err.Error()}}
	}
	for i, o := range p.out {
		if o.fault.bad() {
			b.problems = append(b.problems, Problem{Probe: p.reads[i].probe, Cause: o.fault.cause, Detail: o.fault.detail})
		}
	}
	kept := b.values[:0]
	for _, v := range b.values {
		if v.Measured.Equal(time.Time{}) {
			b.problems = append(b.problems, Problem{Probe: v.Probe, Cause: BadTime, Detail: "the line has no time"})
			continue
		}
		kept = append(kept, v)
	}
	return kept, b.problems
}
