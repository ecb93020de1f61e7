package decode

import (
	"errors"
	"fmt"
	"math"
	"strings"

	"telltale/alarms"
)

// source is a Source made ready.
type source struct {
	Source
	reads    []read
	pointers []pointer // JSON: one for each read
	clock    pointer   // JSON
}

// checker collects everything that is wrong with a set of sources.
type checker struct {
	claimed map[claim]string // where
	looks   map[string]string
	errs    []error
}

type claim struct {
	probe    alarms.ProbeID
	quantity alarms.Quantity
}

func (c *checker) wrong(s *Source, format string, args ...any) {
	where := s.Where
	if where == "" {
		where = fmt.Sprintf("probe %q", s.Probe)
	}
	c.errs = append(c.errs, fmt.Errorf("%s: %s", where, fmt.Sprintf(format, args...)))
}

// prepare checks one source; what is wrong is collected.
func (c *checker) prepare(in Source) *source {
	s := &source{Source: in}
	if in.Probe == "" {
		c.wrong(&in, "probe: has no name")
	}
	if err := checkFilter(in.Filter); err != nil {
		c.wrong(&in, "%v", err)
	}
	switch in.Form {
	case Number, JSON, SenML, Line:
	default:
		c.wrong(&in, "form: got %q, want one of %q", in.Form, Forms)
	}
	if len(in.Reads) == 0 {
		c.wrong(&in, "reads: the source gives no quantity")
	}
	if in.Form == Number && len(in.Reads) > 1 {
		c.wrong(&in, "reads: a plain number gives one quantity, got %d", len(in.Reads))
	}
	c.prepareClock(s)
	for _, r := range in.Reads {
		c.prepareRead(s, r)
	}
	return s
}

func (c *checker) prepareClock(s *source) {
	k := &s.Source.Clock
	if k.At != "" && s.Form != JSON {
		c.wrong(&s.Source, "clock: only JSON has a pointer to the time (got %q with %s)", k.At, s.Form)
	}
	if k.Unit != "" && (!k.Unit.known() || s.Form == Number || s.Form == SenML) {
		c.wrong(&s.Source, "clock unit: got %q with %s, want s, ms, us or ns with json or line", k.Unit, s.Form)
	}
	var err error
	if s.clock, err = parsePointer(k.At); err != nil && s.Form == JSON {
		c.wrong(&s.Source, "clock: %v", err)
	}
	if k.Unit == "" {
		k.Unit = Seconds
		if s.Form == Line {
			k.Unit = Nanoseconds
		}
	}
}

func (c *checker) prepareRead(s *source, in Read) {
	r := read{Read: in, probe: s.Probe, form: s.Form, units: unitsOf(in.Quantity), scale: same, factor: 1}
	c.claim(s, in)
	if in.Unit != "" {
		u, err := r.units.check(in.Unit)
		if err != nil {
			c.wrong(&s.Source, "%s: %v", in.Quantity, err)
		}
		r.scale = u.scale
	}
	switch {
	case in.Factor != 0 && in.Quantity == alarms.Contact:
		c.wrong(&s.Source, "contact: factor: a contact has none (got %v)", in.Factor)
	case math.IsNaN(in.Factor) || math.IsInf(in.Factor, 0):
		c.wrong(&s.Source, "%s: factor: got %v, want a number such as 0.1", in.Quantity, in.Factor)
	case in.Factor != 0:
		r.factor = in.Factor
	}
	if in.Inverted && in.Quantity != alarms.Contact {
		c.wrong(&s.Source, "%s: inverted: only a contact can be", in.Quantity)
	}
	c.place(s, in)
	s.reads = append(s.reads, r)
}

// claim holds that a probe claims a measured quantity once.
func (c *checker) claim(s *source, r Read) {
	switch {
	case !r.Quantity.Known():
		c.wrong(&s.Source, "quantity: got %q, want one of %q", r.Quantity, alarms.Quantities)
		return
	case r.Quantity.Derived():
		c.wrong(&s.Source, "quantity: %s is computed from temperature and humidity, no probe may claim it", r.Quantity)
		return
	}
	k, here := claim{s.Probe, r.Quantity}, s.Where
	if here == "" {
		here = fmt.Sprintf("filter %q", s.Filter)
	}
	if first, taken := c.claimed[k]; taken {
		c.wrong(&s.Source, "probe %q claims %s twice (first at %s)", s.Probe, r.Quantity, first)
		return
	}
	c.claimed[k] = here
}

// place checks where a read looks, and that no other read gives the same
// value to the same quantity of another probe.
func (c *checker) place(s *source, r Read) {
	switch s.Form {
	case JSON:
		p, err := parsePointer(r.At)
		if err != nil {
			c.wrong(&s.Source, "%s: %v", r.Quantity, err)
		}
		s.pointers = append(s.pointers, p)
	case SenML:
		if err := checkName(r.At); err != nil {
			c.wrong(&s.Source, "%s: %v; want the resolved name (base name and name joined)", r.Quantity, err)
		}
	case Line:
		if r.At == "" {
			c.wrong(&s.Source, "%s: the field to read is not given", r.Quantity)
		}
	case Number:
		if r.At != "" {
			c.wrong(&s.Source, "%s: a plain number has no place to look in (got %q)", r.Quantity, r.At)
		}
	}
	if s.Form != Line && (r.Measurement != "" || len(r.Tags) > 0) {
		c.wrong(&s.Source, "%s: measurement and tags are for the form line (got %s)", r.Quantity, s.Form)
	}
	c.look(s, r)
}

func (c *checker) look(s *source, r Read) {
	var k strings.Builder
	fmt.Fprintf(&k, "%q %s %s %q %q", s.Filter, s.Form, r.Quantity, r.At, r.Measurement)
	for _, t := range sortedKeys(r.Tags) {
		fmt.Fprintf(&k, " %q=%q", t, r.Tags[t])
	}
	if other, taken := c.looks[k.String()]; taken && other != string(s.Probe) {
		c.wrong(&s.Source, "%s: the probes %q and %q would take the same value", r.Quantity, other, s.Probe)
		return
	}
	c.looks[k.String()] = string(s.Probe)
}

// prepareAll checks all sources and returns every problem joined.
func prepareAll(in []Source) ([]*source, error) {
	c := checker{claimed: map[claim]string{}, looks: map[string]string{}}
	var out []*source
	for _, s := range in {
		out = append(out, c.prepare(s))
	}
	return out, errors.Join(c.errs...)
}
