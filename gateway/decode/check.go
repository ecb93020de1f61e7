package decode

import (
	"errors"
	"fmt"
	"slices"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/topic"
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
		c.wrong(&in, "probe: must have a name")
	}
	if err := topic.CheckFilter(in.Filter); err != nil {
		c.wrong(&in, "filter: %v", err)
	}
	if !slices.Contains(Forms, in.Form) {
		c.wrong(&in, "form: must be one of %q (got %q)", Forms, in.Form)
	}
	if len(in.Reads) == 0 {
		c.wrong(&in, "reads: must give a quantity at least")
	}
	if in.Form == Number && len(in.Reads) > 1 {
		c.wrong(&in, "reads: must give one quantity, for a plain number is the whole payload (got %d)", len(in.Reads))
	}
	c.prepareClock(s)
	for _, r := range in.Reads {
		c.prepareRead(s, r)
	}
	return s
}

func (c *checker) prepareClock(s *source) {
	k := &s.Source.Clock
	if err := k.Check(s.Form); err != nil {
		c.wrong(&s.Source, "clock: %v", err)
	}
	if k.Unit != "" && !slices.Contains(TimeUnits, k.Unit) {
		c.wrong(&s.Source, "clock unit: must be one of %q (got %q)", TimeUnits, k.Unit)
	}
	s.clock, _ = parsePointer(k.At)
	if k.Unit == "" {
		k.Unit = Seconds
		if s.Form == Line {
			k.Unit = Nanoseconds
		}
	}
}

func (c *checker) prepareRead(s *source, in Read) {
	for _, w := range in.Check(s.Form) {
		c.wrong(&s.Source, "%s: %s: %s", in.Quantity, w.Field, w.Err)
	}
	c.claim(s, in)
	r := read{Read: in, probe: s.Probe, form: s.Form, units: unitsOf(in.Quantity), scale: same, factor: 1}
	if in.Unit != "" {
		u, _ := r.units.find(in.Unit)
		r.scale = u.scale
	}
	if in.Factor != 0 {
		r.factor = in.Factor
	}
	if s.Form == JSON {
		p, _ := parsePointer(in.At)
		s.pointers = append(s.pointers, p)
	}
	s.reads = append(s.reads, r)
}

// claim holds that a probe claims a quantity once.
func (c *checker) claim(s *source, r Read) {
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

// prepareAll checks all sources and returns every problem joined.
func prepareAll(in []Source) ([]*source, error) {
	c := checker{claimed: map[claim]string{}}
	out := walk.Each(in, c.prepare)
	return out, errors.Join(c.errs...)
}
