package scenario

import (
	"bytes"
	"fmt"

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
	case c.take("unwarned"):
		at.NoEarlyWarning = true
	case c.take("exposure"):
		at.Exposures = append(at.Exposures, readExposure(c))
	case c.take("probe"):
		at.Probes = append(at.Probes, readProbe(c))
	case !c.done() && alarms.Quantity(c.tokens[c.next].text).Known():
		q := quantity(c)
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

func printPlace(b *bytes.Buffer, p *alarms.Place) {
	fmt.Fprintf(b, "    place %s\n", withName(p.ID, p.Name))
	if p.Unwatched != alarms.NoPriority {
		fmt.Fprintf(b, "      unwatched %s\n", p.Unwatched)
	}
	if p.NoEarlyWarning {
		fmt.Fprintf(b, "      unwarned\n")
	}
	if p.LeafBelowAir.Set {
		fmt.Fprintf(b, "      leaf %s below air\n", figure(p.LeafBelowAir.Value))
	}
	if s := disagreeWords(p); s != "" {
		fmt.Fprintf(b, "      disagree %s\n", s)
	}
	for _, band := range p.Bands {
		fmt.Fprintf(b, "      %s%s: %s\n", band.Quantity, whenWords(band.When, band.Seasons),
			bandItems(&band).or("source "+word(band.Source)))
	}
	for _, r := range p.Rates {
		fmt.Fprintf(b, "      %s rate: %s\n", r.Quantity, rateItems(&r).or("priority "+r.Priority.String()))
	}
	for _, x := range p.Exposures {
		fmt.Fprintf(b, "      exposure %s\n", exposureWords(&x))
	}
	for _, pr := range p.Probes {
		head := withName(pr.ID, pr.Name)
		if pr.Kind != alarms.KindPlain {
			head += " " + word(string(pr.Kind))
		}
		fmt.Fprintf(b, "      probe %s: %s\n", probeItems(&pr).after(head, ", "), joined(pr.Streams, streamWords))
	}
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

func disagreeWords(p *alarms.Place) string {
	var all items
	for _, q := range alarms.Quantities {
		if v, ok := p.Disagree[q]; ok {
			all = append(all, item{said: func() string { return string(q) + " " + figure(v) }})
		}
	}
	return append(all, duration("for", &p.DisagreeFor, "none")).String()
}

// when reads "by day" and "in winter and spring".
func when(c *cursor) (d alarms.Daypart, seasons []alarms.Season) {
	if c.take("by") {
		d = named[alarms.Daypart](c, "day or night")
	}
	if c.take("in") {
		seasons = namesOf[alarms.Season](c, "a season")
	}
	return d, seasons
}

func whenWords(d alarms.Daypart, seasons []alarms.Season) (s string) {
	if d != alarms.Always {
		s = " by " + d.String()
	}
	if len(seasons) > 0 {
		s += " in " + namesWords(seasons)
	}
	return s
}

func readBand(c *cursor, q alarms.Quantity) alarms.Band {
	b := alarms.Band{Quantity: q}
	b.When, b.Seasons = when(c)
	c.need(":")
	bandItems(&b).list(c)
	return b
}

func bandItems(b *alarms.Band) items {
	return items{
		limit("low-low", &b.LowLow), limit("low", &b.Low), limit("high", &b.High), limit("high-high", &b.HighHigh),
		number("deadband", &b.Deadband),
		duration("delay", &b.Delay, "none"), duration("quick", &b.QuickDelay, "none"), duration("clear", &b.ClearDelay, "none"),
		priority("priority", &b.Priority), priority("worst", &b.Worst), text("source", "a source", &b.Source),
	}
}

func readRate(c *cursor, q alarms.Quantity) alarms.RateLimit {
	r := alarms.RateLimit{Quantity: q}
	c.need(":")
	rateItems(&r).list(c)
	return r
}

func rateItems(r *alarms.RateLimit) items {
	return items{limit("rise", &r.Rise), limit("fall", &r.Fall), duration("window", &r.Window, ""),
		duration("clear", &r.ClearDelay, "none"), priority("priority", &r.Priority)}
}

// readProbe reads `bench-1 "Bench sensor" one-wire, on north, every 30s: temperature`.
func readProbe(c *cursor) alarms.Probe {
	pr := alarms.Probe{ID: alarms.ProbeID(c.name("a probe"))}
	pr.Name = c.quotedName()
	if !c.is(",", ":") {
		pr.Kind = oneOf(c, "kind of probe", alarms.ProbeKinds[1:])
	}
	probeItems(&pr).more(c)
	c.need(":")
	pr.Streams = parts(c, readStream)
	return pr
}

func probeItems(p *alarms.Probe) items {
	return items{text("on", "a circuit", &p.Circuit), duration("every", &p.Every, ""), number("misses", &p.MissesAllowed),
		priority("priority", &p.Priority)}
}

func readStream(c *cursor) alarms.Stream {
	s := alarms.Stream{Quantity: quantity(c)}
	if it := streamItems(&s); it.begin(c) {
		it.list(c)
	}
	return s
}

func streamItems(s *alarms.Stream) items {
	return items{limit("min", &s.Min), limit("max", &s.Max), numberOr("jump", &s.Jump, "any"), duration("stuck", &s.StuckFor, "never"),
		number("offset", &s.Offset), limit("weak", &s.Weak)}
}

func streamWords(s *alarms.Stream) string { return streamItems(s).after(string(s.Quantity), " ") }
