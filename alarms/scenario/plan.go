package scenario

import (
	"time"

	"telltale/alarms"
)

// plan reads the plan section and returns the lines after it, from the first
// line that sets a day.
func (p *parser) plan(ls []line) []line {
	p.times.zone = time.UTC
	for i, l := range ls {
		c := newCursor(l.text)
		if c.is("on") {
			return ls[i:]
		}
		switch {
		case p.place != nil && p.placeLine(c):
		case p.house != nil && p.houseLine(c):
		case p.watchLine(c):
		default:
			c.fail("want a line of the plan, or \"on 2026-06-21\" after it, got %s", c.got())
		}
		c.end()
		if c.err != nil {
			p.add(l.first, "%v", c.err)
		}
	}
	return nil
}

// watchLine reads what holds for the whole watch, or the start of a house.
func (p *parser) watchLine(c *cursor) bool {
	plan := &p.s.Plan
	switch {
	case p.house == nil && c.take("zone"):
		plan.Words.Zone = p.zone(c)
		p.times.zone = plan.Words.Zone
	case p.house == nil && c.take("fahrenheit"):
		plan.Words.Fahrenheit = true
	case p.house == nil && c.take("chatter"):
		plan.Chatter.Raises = c.count("the raises")
		c.need("raises", "in")
		plan.Chatter.Within = c.duration("the raises")
		if c.take(",", "hold") {
			plan.Chatter.Hold = c.duration("the hold")
		}
	case p.house == nil && c.take("remind"):
		p.reminders(c)
	case p.house == nil && c.take("repeat"):
		p.repeats(c)
	case p.house == nil && c.take("link", "lost", "after"):
		plan.Link.Delay = c.durationOr("the link", "none")
		if c.take(",") {
			plan.Link.Priority = named[alarms.Priority](c, "a priority")
		}
	case c.take("house"):
		plan.Houses = append(plan.Houses, alarms.House{ID: alarms.HouseID(c.name("a house"))})
		p.house = &plan.Houses[len(plan.Houses)-1]
		p.house.Name = c.quotedName()
		p.place = nil
	default:
		return false
	}
	return true
}

// reminders reads "low after 24h, medium never".
func (p *parser) reminders(c *cursor) {
	for more := true; more && c.err == nil; more = c.take(",") {
		var into *time.Duration
		switch r := &p.s.Plan.Reminders; {
		case c.take("low"):
			into = &r.Low
		case c.take("medium"):
			into = &r.Medium
		case c.take("high"):
			into = &r.High
		default:
			c.fail("want low, medium or high, got %s", c.got())
			return
		}
		if c.take("never") {
			*into = -1
		} else {
			c.need("after")
			*into = c.duration("the reminder")
		}
	}
}

// repeats reads "high every 30m, medium never".
func (p *parser) repeats(c *cursor) {
	for more := true; more && c.err == nil; more = c.take(",") {
		r := &p.s.Plan.Reminders
		into := &r.RepeatHigh
		if c.take("medium") {
			into = &r.RepeatMedium
		} else {
			c.need("high")
		}
		if c.take("never") {
			*into = -1
		} else {
			c.need("every")
			*into = c.duration("the repeat")
		}
	}
}

// houseLine reads one line inside a house.
func (p *parser) houseLine(c *cursor) bool {
	h := p.house
	switch {
	case p.place == nil && c.take("at"):
		h.Latitude = c.number("the latitude")
		if !c.take("north") {
			c.need("south")
			h.Latitude = -h.Latitude
		}
		c.need(",")
		h.Longitude = c.number("the longitude")
		if !c.take("east") {
			c.need("west")
			h.Longitude = -h.Longitude
		}
	case p.place == nil && c.take("daylight", "from"):
		h.Day.Fixed = true
		h.Day.Zone = p.s.Plan.Words.Zone
		h.Day.Start = c.timeOfDay()
		c.need("to")
		h.Day.End = c.timeOfDay()
		if c.take("in") {
			h.Day.Zone = p.zone(c)
		}
	case p.place == nil && c.take("settle"):
		h.Day.Settle = c.durationOr("settling", "none")
	case p.place == nil && c.take("season"):
		h.Season = alarms.Season(c.name("a season"))
	case p.place == nil && c.take("silent"):
		h.Priority = named[alarms.Priority](c, "a priority")
	case p.place == nil && c.take("circuit"):
		circuit := alarms.Circuit{ID: alarms.CircuitID(c.name("a circuit"))}
		circuit.Name = c.quotedName()
		for c.take(",") {
			switch {
			case c.take("witness"):
				circuit.Witness = alarms.ProbeID(c.name("a probe"))
			case c.take("fed", "by"):
				circuit.FedBy = alarms.CircuitID(c.name("a circuit"))
			case c.take("zero"):
				circuit.Zero = alarms.Quantity(c.name("a quantity"))
			default:
				circuit.Priority = named[alarms.Priority](c, "a priority")
			}
		}
		h.Circuits = append(h.Circuits, circuit)
	case c.take("place"):
		h.Places = append(h.Places, alarms.Place{ID: alarms.PlaceID(c.name("a place"))})
		p.place = &h.Places[len(h.Places)-1]
		p.place.Name = c.quotedName()
	case c.take("loop"):
		p.loopLine(c)
		p.place = nil
	default:
		return p.controlLine(c)
	}
	return true
}

// timeOfDay takes a clock time as a length after midnight; 24:00 is the end of the day.
func (c *cursor) timeOfDay() time.Duration {
	got := c.got()
	s := c.name("a time of day")
	if c.err != nil {
		return 0
	}
	if s == "24:00" {
		return 24 * time.Hour
	}
	t, err := readMoment("2000-01-01", s, time.UTC)
	if err != nil {
		c.fail("want a time of day such as 06:30, got %s", got)
		return 0
	}
	return t.Sub(time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC))
}

// count takes a whole number from 1 to a million.
func (c *cursor) count(what string) int {
	v := c.number(what)
	if n := int(v); c.err == nil && (float64(n) != v || n < 1 || n > 1_000_000) {
		c.fail("want a whole number from 1 for %s, got %g", what, v)
	}
	return int(v)
}
