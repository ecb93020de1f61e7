package decode

import (
	"encoding/json"
	"fmt"
	"maps"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// read is a Read made ready.
type read struct {
	Read
	probe  alarms.ProbeID
	form   Form
	units  units
	scale  conversion
	factor float64
}

// owner is one source within a part: its reads are a range of the part's.
type owner struct {
	probe    alarms.ProbeID
	from, to int
	clock    Clock
	clockAt  int // leaf of the time, -1 for none
}

// outcome is what became of one read in one payload.
type outcome struct {
	taken int // values given
	fault fault
}

// part reads one form for all sources of a topic that use it.
type part struct {
	form   Form
	owners []owner
	reads  []read
	out    []outcome
	finder finder
	lines  lineScratch
}

// batch is what one payload gave.
type batch struct {
	values   []Value
	problems []Problem
}

func newPart(form Form, sources []*source) *part {
	p := &part{form: form}
	leaves := 0
	for _, s := range sources {
		o := owner{probe: s.Probe, from: len(p.reads), clock: s.Clock, clockAt: -1}
		for i, r := range s.reads {
			if form == JSON {
				p.finder.tree.add(s.pointers[i], leaves)
				leaves++
			}
			p.reads = append(p.reads, r)
		}
		o.to = len(p.reads)
		p.owners = append(p.owners, o)
	}
	for i, s := range sources {
		if form == JSON && s.Clock.At != "" {
			p.finder.tree.add(s.clock, leaves)
			p.owners[i].clockAt = leaves
			leaves++
		}
	}
	p.finder.found = make([]json.RawMessage, leaves)
	p.out = make([]outcome, len(p.reads))
	p.lines = lineScratch{asks: make([]bool, len(p.reads)), tags: make([]int, len(p.reads))}
	return p
}

// decode reads one payload and adds what it gave to b.
func (p *part) decode(payload []byte, received time.Time, b *batch) {
	clear(p.out)
	if len(payload) > maxPayload {
		p.refuse(fault{TooLarge, fmt.Sprintf("the payload has %d bytes, at most %d are read", len(payload), maxPayload)}, b)
		return
	}
	var whole fault
	switch p.form {
	case Number:
		p.decodeNumber(payload, b)
	case JSON:
		whole = p.decodeJSON(payload, b)
	case SenML:
		whole = p.decodeSenML(payload, received, b)
	case Line:
		whole = p.decodeLine(payload, b)
	}
	if whole.bad() {
		p.refuse(whole, b)
		return
	}
	p.judge(b)
}

func (p *part) decodeNumber(payload []byte, b *batch) {
	for i := range p.reads {
		v, f := p.reads[i].text(payload)
		p.take(i, v, f, time.Time{}, b)
	}
}

// take books what read i gave: a value, or why not.
func (p *part) take(i int, v float64, f fault, measured time.Time, b *batch) {
	if f.bad() {
		p.out[i].fault = f
		return
	}
	p.out[i].taken++
	b.values = append(b.values, Value{Probe: p.reads[i].probe, Quantity: p.reads[i].Quantity,
		Value: v, Measured: measured})
}

// refuse makes one problem for each probe: the payload, or a line or record
// of it that may have been anybody's, is bad. What is missing is not told.
func (p *part) refuse(f fault, b *batch) {
	for _, o := range p.owners {
		whole := Problem{Probe: o.probe, Cause: f.cause, Detail: f.detail}
		for i := o.from; i < o.to; i++ {
			p.own(o, i, b)
			if !p.out[i].met() && p.awaited(o, i) {
				whole.Quantities = append(whole.Quantities, p.reads[i].Quantity)
			}
		}
		b.add(whole)
	}
}

// awaited reports whether read i of o was to be in the payload: what is not
// optional, or everything where all is.
func (p *part) awaited(o owner, i int) bool {
	for _, r := range p.reads[o.from:o.to] {
		if !r.Optional {
			return !p.reads[i].Optional
		}
	}
	return true
}

// own makes a problem of the fault of read i, if it has one.
func (p *part) own(o owner, i int, b *batch) {
	f := p.out[i].fault
	if !f.bad() {
		return
	}
	q := p.reads[i].Quantity
	one := Problem{Probe: o.probe, Cause: f.cause, Detail: fmt.Sprintf("%s: %s", q, f.detail)}
	if p.out[i].taken == 0 {
		one.Quantities = []alarms.Quantity{q}
	}
	b.add(one)
}

// judge makes problems of what is missing or bad. A probe of which nothing at
// all is in a payload that serves several probes is simply not meant.
func (p *part) judge(b *batch) {
	met := false
	for i := range p.out {
		met = met || p.out[i].met()
	}
	if !met && len(p.owners) > 1 {
		b.add(Problem{Cause: Unmatched, Detail: "the payload can be read, but nothing in it is claimed by any probe of this topic"})
		return
	}
	for _, o := range p.owners {
		p.judgeOwner(o, b)
	}
}

func (o outcome) met() bool { return o.taken > 0 || o.fault.bad() }

func (p *part) judgeOwner(o owner, b *batch) {
	met := false
	for i := o.from; i < o.to; i++ {
		met = met || p.out[i].met()
	}
	if !met && len(p.owners) > 1 {
		return
	}
	for i := o.from; i < o.to; i++ {
		if r := &p.reads[i]; !p.out[i].met() && !r.Optional {
			p.out[i].fault = fault{Missing, "nothing is there" + r.place()}
		}
		p.own(o, i, b)
	}
}

// add adds a problem, or joins it to one of the same probe and cause.
func (b *batch) add(n Problem) {
	for i := range b.problems {
		o := &b.problems[i]
		if o.Probe == n.Probe && o.Cause == n.Cause {
			o.Detail += "; " + n.Detail
			o.Quantities = append(o.Quantities, n.Quantities...)
			return
		}
	}
	b.problems = append(b.problems, n)
}

// place says where a read looks, for sentences.
func (r *read) place() string {
	switch r.form {
	case JSON:
		return fmt.Sprintf(" at the pointer %q", r.At)
	case SenML:
		return fmt.Sprintf(" under the name %q in a unit of %s", r.At, r.Quantity)
	case Line:
		var s strings.Builder
		fmt.Fprintf(&s, " in the field %q", r.At)
		if r.Measurement != "" {
			fmt.Fprintf(&s, " of %q", r.Measurement)
		}
		for _, k := range slices.Sorted(maps.Keys(r.Tags)) {
			fmt.Fprintf(&s, " with %s=%q", k, r.Tags[k])
		}
		return s.String()
	}
	return ""
}
