package scenario

import (
	"telltale/alarms"
)

// placeLine reads one line inside a place.
func (p *parser) placeLine(c *cursor) bool {
	at := p.place
	switch {
	case c.take("unwatched"):
		at.Unwatched = named[alarms.Priority](c, "a priority")
	case c.take("leaf"):
		at.LeafBelowAir = alarms.At(c.number("the leaf"))
		c.need("below", "air")
	case c.take("disagree"):
		p.disagree(c)
	case c.take("exposure"):
		at.Exposures = append(at.Exposures, readExposure(c))
	case c.take("probe"):
		at.Probes = append(at.Probes, readProbe(c))
	case !c.done() && alarms.Quantity(c.tokens[c.next].text).Known():
		q := alarms.Quantity(c.name("a quantity"))
		if c.take("rate") {
			at.Rates = append(at.Rates, readRate(c, q))
		} else {
			at.Bands = append(at.Bands, readBand(c, q))
		}
	default:
		return false
	}
	return true
}

// disagree reads "temperature 2, humidity 10, for 30m".
func (p *parser) disagree(c *cursor) {
	for more := true; more && c.err == nil; more = c.take(",") {
		if c.take("for") {
			p.place.DisagreeFor = c.duration("disagreement")
			continue
		}
		q := alarms.Quantity(c.name("a quantity"))
		v := c.number(string(q))
		if c.err != nil {
			return
		}
		if !q.Known() {
			c.fail("want one of the quantities %v, got %q", alarms.Quantities, q)
			return
		}
		if p.place.Disagree == nil {
			p.place.Disagree = map[alarms.Quantity]float64{}
		}
		p.place.Disagree[q] = v
	}
}

func readBand(c *cursor, q alarms.Quantity) alarms.Band {
	b := alarms.Band{Quantity: q}
	if c.take("by") {
		b.When = named[alarms.Daypart](c, "day or night")
	}
	if c.take("in") {
		for more := true; more && c.err == nil; more = c.take("and") {
			b.Seasons = append(b.Seasons, alarms.Season(c.name("a season")))
		}
	}
	c.need(":")
	for more := true; more && c.err == nil; more = c.take(",") {
		bandItem(c, &b)
	}
	return b
}

// bandItem reads one of the figures of a band.
func bandItem(c *cursor, b *alarms.Band) {
	switch {
	case c.take("low-low"):
		b.LowLow = alarms.At(c.number("low-low"))
	case c.take("low"):
		b.Low = alarms.At(c.number("low"))
	case c.take("high"):
		b.High = alarms.At(c.number("high"))
	case c.take("high-high"):
		b.HighHigh = alarms.At(c.number("high-high"))
	case c.take("deadband"):
		b.Deadband = c.number("the deadband")
	case c.take("delay"):
		b.Delay = c.durationOr("the delay", "none")
	case c.take("quick"):
		b.QuickDelay = c.durationOr("the quick delay", "none")
	case c.take("clear"):
		b.ClearDelay = c.durationOr("the delay before return", "none")
	case c.take("priority"):
		b.Priority = named[alarms.Priority](c, "a priority")
	case c.take("worst"):
		b.Worst = named[alarms.Priority](c, "a priority")
	case c.take("source"):
		b.Source = c.name("a source")
	default:
		c.fail("want low-low, low, high, high-high, deadband, delay, quick, clear, priority, worst or source, got %s", c.got())
	}
}

func readRate(c *cursor, q alarms.Quantity) alarms.RateLimit {
	r := alarms.RateLimit{Quantity: q}
	c.need(":")
	for more := true; more && c.err == nil; more = c.take(",") {
		switch {
		case c.take("rise"):
			r.Rise = alarms.At(c.number("the rise"))
		case c.take("fall"):
			r.Fall = alarms.At(c.number("the fall"))
		case c.take("window"):
			r.Window = c.duration("the window")
		case c.take("clear"):
			r.ClearDelay = c.durationOr("the delay before return", "none")
		case c.take("priority"):
			r.Priority = named[alarms.Priority](c, "a priority")
		default:
			c.fail("want rise, fall, window, clear or priority, got %s", c.got())
		}
	}
	return r
}

// readProbe reads `bench-1 "Bench sensor" one-wire, on north, every 30s: temperature`.
func readProbe(c *cursor) alarms.Probe {
	pr := alarms.Probe{ID: alarms.ProbeID(c.name("a probe"))}
	pr.Name = c.quotedName()
	if !c.is(",", ":") {
		pr.Kind = readKind(c)
	}
	for c.take(",") {
		switch {
		case c.take("on"):
			pr.Circuit = alarms.CircuitID(c.name("a circuit"))
		case c.take("every"):
			pr.Every = c.duration("the interval")
		case c.take("misses"):
			pr.MissesAllowed = c.number("the misses allowed")
		case c.take("priority"):
			pr.Priority = named[alarms.Priority](c, "a priority")
		default:
			c.fail("want on, every, misses or priority, got %s", c.got())
		}
	}
	c.need(":")
	for more := true; more && c.err == nil; more = c.take(";") {
		pr.Streams = append(pr.Streams, readStream(c))
	}
	return pr
}

func readKind(c *cursor) alarms.ProbeKind {
	got := alarms.ProbeKind(c.name("a kind of probe"))
	for _, k := range alarms.ProbeKinds {
		if k == got {
			return k
		}
	}
	c.fail("want a kind of probe, one of %q, got %q", alarms.ProbeKinds[1:], got)
	return ""
}

func readStream(c *cursor) alarms.Stream {
	s := alarms.Stream{Quantity: alarms.Quantity(c.name("a quantity"))}
	if c.err == nil && !s.Quantity.Known() {
		c.fail("want one of the quantities %v, got %q", alarms.Quantities, s.Quantity)
	}
	for more := c.is("min", "max", "jump", "stuck", "offset", "weak"); more && c.err == nil; more = c.take(",") {
		switch {
		case c.take("min"):
			s.Min = alarms.At(c.number("min"))
		case c.take("max"):
			s.Max = alarms.At(c.number("max"))
		case c.take("jump", "any"):
			s.Jump = -1
		case c.take("jump"):
			s.Jump = c.number("the jump")
		case c.take("stuck"):
			s.StuckFor = c.durationOr("stuck", "never")
		case c.take("offset"):
			s.Offset = c.number("the offset")
		case c.take("weak"):
			s.Weak = alarms.At(c.number("weak"))
		default:
			c.fail("want min, max, jump, stuck, offset or weak, got %s", c.got())
		}
	}
	return s
}
