package scenario

import (
	"math"
	"slices"
	"time"

	"telltale/alarms"
)

// clause is what one probe does on a line of readings.
type clause struct {
	span
	base alarms.Input // Probe, Kind, Retained, Note
	// measured is a moment, or with shifted a difference to the time received.
	measured time.Time
	shifted  bool
	shift    time.Duration
	courses  []course
}

// course is how one quantity goes over a series.
type course struct {
	quantity alarms.Quantity
	from, to float64
	give     float64 // around from, give or take
}

// readings reads clauses parted by semicolons and puts their inputs in order
// of time; at one time, in the order written.
func (p *parser) readings(c *cursor, sp span) []alarms.Input {
	var all []alarms.Input
	for more := true; more && c.err == nil; more = c.take(";") {
		cl := p.clause(c, sp)
		all = append(all, cl.inputs(c)...)
		if len(all) > mostInLine {
			c.fail("want at most %d readings in a line, got %d", mostInLine, len(all))
		}
	}
	c.end()
	slices.SortStableFunc(all, func(a, b alarms.Input) int { return a.At.Compare(b.At) })
	return all
}

func (p *parser) clause(c *cursor, sp span) clause {
	cl := clause{span: sp}
	if c.is("every") {
		c.need("every")
		cl.every = c.duration("the probe")
		if sp.every == 0 {
			c.fail(`want "12:00 to 13:00 every 30s" at the start of the line before another "every"`)
		}
	}
	cl.base.Probe = alarms.ProbeID(c.name("a probe, tick, link, watch or a person"))
	if c.take("unreadable") {
		cl.base.Kind = alarms.GarbledIn
		if !c.done() && !c.is(":", ";") {
			cl.base.Quantity = readQuantity(c)
		}
		if c.take(":") {
			cl.base.Note = c.rest()
		}
		return cl
	}
	cl.base.Kind = alarms.ReadingIn
	for more := true; more && c.err == nil; more = c.take(",") {
		switch {
		case c.take("retained"):
			cl.base.Retained = true
		case c.take("measured"):
			p.measured(c, &cl)
		default:
			cl.courses = append(cl.courses, readCourse(c, sp.every != 0))
		}
	}
	if c.err == nil && len(cl.courses) == 0 {
		c.fail("want at least one quantity with its value")
	}
	return cl
}

// measured reads "11:59", "5s earlier" or "2m later".
func (p *parser) measured(c *cursor, cl *clause) {
	if s := c.got(); c.err == nil {
		if _, err := time.ParseDuration(trimQuotes(s)); err == nil {
			cl.shifted = true
			cl.shift = c.duration("the probe's own clock")
			if c.take("earlier") {
				cl.shift = -cl.shift
			} else {
				c.need("later")
			}
			return
		}
	}
	cl.measured = c.moment(p.times, "the probe's own clock")
}

func trimQuotes(s string) string {
	if len(s) >= 2 {
		return s[1 : len(s)-1]
	}
	return s
}

func readCourse(c *cursor, series bool) course {
	k := course{quantity: readQuantity(c)}
	switch {
	case c.take("from"):
		k.from = c.number("the start of the ramp")
		c.need("to")
		k.to = c.number("the end of the ramp")
	case c.take("around"):
		k.from = c.number("the middle")
		c.need("give", "or", "take")
		k.to, k.give = k.from, c.number("the swing")
	default:
		k.from = c.anyNumber(string(k.quantity))
		k.to = k.from
		return k
	}
	if !series {
		c.fail(`want one number here: "from" and "around" belong to a series (12:00 to 13:00 every 30s)`)
	}
	return k
}

func readQuantity(c *cursor) alarms.Quantity {
	q := alarms.Quantity(c.name("a quantity"))
	if c.err == nil && !q.Known() {
		c.fail("want one of the quantities %v, got %q", alarms.Quantities, q)
	}
	return q
}

// inputs lays the clause's readings out over its span.
func (cl clause) inputs(c *cursor) []alarms.Input {
	var out []alarms.Input
	moments := cl.moments(c)
	for i, t := range moments {
		in := cl.base
		in.At = t
		if in.Kind == alarms.GarbledIn {
			out = append(out, in)
			continue
		}
		in.Measured = cl.measured
		if cl.shifted {
			in.Measured = t.Add(cl.shift)
		}
		for _, k := range cl.courses {
			in.Quantity, in.Value = k.quantity, k.value(i, len(moments))
			out = append(out, in)
		}
	}
	return out
}

// value is the i-th of n values.
func (k course) value(i, n int) float64 {
	if k.from == k.to && k.give == 0 || n == 1 || math.IsNaN(k.from) {
		return k.from
	}
	ramp := (k.to - k.from) * float64(i) / float64(n-1)
	swing := k.give * float64([...]int{1, 0, -1, 0}[i%4])
	return math.Round((k.from+ramp+swing)*100) / 100
}
