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
		reminderItems(&plan.Reminders).list(c)
	case p.house == nil && c.take("repeat"):
		repeatItems(&plan.Reminders).list(c)
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

// reminderItems are such as "low after 24h, medium never".
func reminderItems(r *alarms.Reminders) items {
	return items{each("low", "after", &r.Low), each("medium", "after", &r.Medium), each("high", "after", &r.High)}
}

// repeatItems are such as "high every 30m, medium never".
func repeatItems(r *alarms.Reminders) items {
	return items{each("high", "every", &r.RepeatHigh), each("medium", "every", &r.RepeatMedium)}
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
		circuitItems(&circuit).more(c)
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

// circuitItems has the priority without a word of its own.
func circuitItems(c *alarms.Circuit) items {
	return items{priority("", &c.Priority), text("fed by", "a circuit", &c.FedBy), text("witness", "a probe", &c.Witness),
		text("zero", "a quantity", &c.Zero)}
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

// shutBy takes when a thing opened by hand is to be shut: 0 for sunset.
func shutBy(c *cursor) time.Duration {
	switch {
	case c.take("sunset"):
		return 0
	case c.take("never"):
		return -1
	}
	return c.timeOfDay()
}

// count takes a whole number from 1 to a million.
func (c *cursor) count(what string) int {
	v := c.number(what)
	if n := int(v); c.err == nil && (float64(n) != v || n < 1 || n > 1_000_000) {
		c.fail("want a whole number from 1 for %s, got %g", what, v)
	}
	return int(v)
}
