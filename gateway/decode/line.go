package decode

import (
	"fmt"
	"strconv"
	"time"

	"github.com/influxdata/line-protocol/v2/lineprotocol"

	"telltale/alarms"
)

// lineScratch is the memory for one line: which reads are still in question,
// how many of their tags were met, and what fields gave.
type lineScratch struct {
	asks    []bool
	tags    []int
	pending []pendingValue
}

type pendingValue struct {
	read  int
	value float64
	fault fault
}

// decodeLine reads a payload of one or more lines. A line that cannot be read
// costs the other lines nothing.
func (p *part) decodeLine(payload []byte, b *batch) fault {
	d := lineprotocol.NewDecoderWithBytes(payload)
	var first fault
	bad := 0
	for d.Next() {
		if err := p.line(d, b); err != nil {
			if bad++; bad == 1 {
				first = fault{BadSyntax, "not line protocol: " + err.Error()}
			}
		}
	}
	if bad > 1 {
		first.detail += fmt.Sprintf(" (and %d more lines)", bad-1)
	}
	return first
}

// line reads one line; its values count only when the whole line is good.
func (p *part) line(d *lineprotocol.Decoder, b *batch) error {
	any, err := p.chooseLine(d)
	if err != nil {
		return err
	}
	p.lines.pending = p.lines.pending[:0]
	for {
		key, v, err := d.NextField()
		if err != nil {
			return err
		}
		if key == nil {
			break
		}
		if !any {
			continue
		}
		for i := range p.reads {
			if r := &p.reads[i]; p.lines.asks[i] && r.At == string(key) {
				x, f := r.lineValue(v)
				p.lines.pending = append(p.lines.pending, pendingValue{i, x, f})
			}
		}
	}
	stamp, err := d.TimeBytes()
	if err != nil {
		return err
	}
	return p.commitLine(stamp, b)
}

// chooseLine reads measurement and tags and marks the reads they suit.
func (p *part) chooseLine(d *lineprotocol.Decoder) (any bool, err error) {
	name, err := d.Measurement()
	if err != nil {
		return false, err
	}
	for i := range p.reads {
		r := &p.reads[i]
		p.lines.asks[i] = r.Measurement == "" || r.Measurement == string(name)
		p.lines.tags[i] = 0
	}
	for {
		key, value, err := d.NextTag()
		if err != nil {
			return false, err
		}
		if key == nil {
			break
		}
		for i := range p.reads {
			if want, ok := p.reads[i].Tags[string(key)]; ok && want == string(value) {
				p.lines.tags[i]++
			}
		}
	}
	for i := range p.reads {
		p.lines.asks[i] = p.lines.asks[i] && p.lines.tags[i] == len(p.reads[i].Tags)
		any = any || p.lines.asks[i]
	}
	return any, nil
}

// commitLine gives the values of a line that has been read to its end.
func (p *part) commitLine(stamp []byte, b *batch) error {
	for _, v := range p.lines.pending {
		clock := p.clockOf(v.read)
		var measured time.Time
		if len(stamp) > 0 {
			n, err := strconv.ParseInt(string(stamp), 10, 64)
			if err != nil {
				return fmt.Errorf("invalid timestamp %s", show(stamp))
			}
			var late fault
			if measured, late = wholeTime(n, clock.Unit, stamp); late.bad() {
				b.add(Problem{Probe: p.reads[v.read].probe, Cause: late.cause, Detail: late.detail})
			}
		}
		p.take(v.read, v.value, v.fault, measured, b)
	}
	return nil
}

func (p *part) clockOf(read int) Clock {
	for _, o := range p.owners {
		if read < o.to {
			return o.clock
		}
	}
	return Clock{}
}

// lineValue reads one field: any number, text that is one, a boolean for a
// contact.
func (r *read) lineValue(v lineprotocol.Value) (float64, fault) {
	switch v.Kind() {
	case lineprotocol.Float:
		return r.number(v.FloatV(), nil)
	case lineprotocol.Int:
		return r.number(float64(v.IntV()), nil)
	case lineprotocol.Uint:
		return r.number(float64(v.UintV()), nil)
	case lineprotocol.String:
		return r.text(v.BytesV())
	case lineprotocol.Bool:
		if r.Quantity == alarms.Contact {
			return r.contact(v.BoolV()), fault{}
		}
	}
	return 0, fault{WrongType, fmt.Sprintf("got %v, want a number", v)}
}
