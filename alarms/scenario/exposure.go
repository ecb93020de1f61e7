package scenario

import (
	"bytes"
	"fmt"

	"telltale/alarms"
)

// readExposure reads `fruit-set: temperature above 35, for 3h, window 48h, says "..."`.
func readExposure(c *cursor) alarms.Exposure {
	x := alarms.Exposure{ID: alarms.ExposureID(c.name("an exposure"))}
	c.need(":")
	x.Quantity = alarms.Quantity(c.name("a quantity"))
	exposureBound(c, &x)
	if c.take("by") {
		x.When = named[alarms.Daypart](c, "day or night")
	}
	if c.take("in") {
		for more := true; more && c.err == nil; more = c.take("and") {
			x.Seasons = append(x.Seasons, alarms.Season(c.name("a season")))
		}
	}
	if c.take("while") {
		x.While = alarms.Quantity(c.name("a quantity"))
		if c.take("from") {
			x.WhileLow = alarms.At(c.number("the lower bound"))
		}
		if c.take("to") {
			x.WhileHigh = alarms.At(c.number("the upper bound"))
		}
	}
	for c.take(",") {
		exposureItem(c, &x)
	}
	return x
}

func exposureBound(c *cursor, x *alarms.Exposure) {
	switch {
	case c.take("above"):
		x.Above = alarms.At(c.number("the limit"))
	case c.take("below"):
		x.Below = alarms.At(c.number("the limit"))
	case c.take("at", "least"):
		x.AtLeast = alarms.At(c.number("the limit"))
	case c.take("at", "most"):
		x.AtMost = alarms.At(c.number("the limit"))
	default:
		c.fail("want above, below, at least or at most, got %s", c.got())
	}
}

// exposureItem reads one of the figures of an exposure.
func exposureItem(c *cursor, x *alarms.Exposure) {
	switch {
	case c.take("for"):
		x.Time = c.duration("the exposure")
	case c.take("degree-hours"):
		x.DegreeHours = c.number("the degree-hours")
	case c.take("window"):
		x.Window = c.duration("the window")
	case c.take("gap"):
		x.Gap = c.duration("the gap")
	case c.take("days"):
		x.Days = c.count("the days")
	case c.take("nights"):
		x.Nights = c.count("the nights")
	case c.take("hold"):
		x.Hold = c.duration("the hold")
	case c.take("morning"):
		x.Morning = true
	case c.take("priority"):
		x.Priority = named[alarms.Priority](c, "a priority")
	case c.take("says"):
		x.Says = c.name("what it does")
	case c.take("source"):
		x.Source = c.name("a source")
	default:
		c.fail("want for, degree-hours, window, gap, days, nights, hold, morning, priority, says or source, got %s", c.got())
	}
}

func printExposure(b *bytes.Buffer, x alarms.Exposure) {
	head := word(string(x.ID)) + ": " + word(string(x.Quantity))
	for _, l := range []struct {
		word  string
		limit alarms.Limit
	}{{"above", x.Above}, {"below", x.Below}, {"at least", x.AtLeast}, {"at most", x.AtMost}} {
		if l.limit.Set {
			head += " " + l.word + " " + figure(l.limit.Value)
		}
	}
	if x.When != alarms.Always {
		head += " by " + x.When.String()
	}
	for i, s := range x.Seasons {
		head += map[bool]string{true: " in ", false: " and "}[i == 0] + word(string(s))
	}
	if x.While != "" {
		head += " while " + word(string(x.While))
		if x.WhileLow.Set {
			head += " from " + figure(x.WhileLow.Value)
		}
		if x.WhileHigh.Set {
			head += " to " + figure(x.WhileHigh.Value)
		}
	}
	it := items{head}
	it.length("for", x.Time, "none")
	it.number("degree-hours", x.DegreeHours)
	it.length("window", x.Window, "none")
	it.length("gap", x.Gap, "none")
	it.number("days", float64(x.Days))
	it.number("nights", float64(x.Nights))
	it.length("hold", x.Hold, "none")
	if x.Morning {
		it = append(it, "morning")
	}
	it.priority("priority", x.Priority)
	if x.Says != "" {
		it = append(it, "says "+word(x.Says))
	}
	if x.Source != "" {
		it = append(it, "source "+word(x.Source))
	}
	fmt.Fprintf(b, "      exposure %s\n", it)
}
