package scenario

import "telltale/alarms"

// readExposure reads `fruit-set: temperature above 35, for 3h, window 48h, says "..."`.
func readExposure(c *cursor) alarms.Exposure {
	x := alarms.Exposure{ID: alarms.ExposureID(c.name("an exposure"))}
	c.need(":")
	x.Quantity = alarms.Quantity(c.name("a quantity"))
	exposureBound(&x).one(c)
	x.When, x.Seasons = when(c)
	if c.take("while") {
		x.While = alarms.Quantity(c.name("a quantity"))
		for bound := exposureWhile(&x); bound.begin(c); {
			bound.one(c)
		}
	}
	exposureItems(&x).more(c)
	return x
}

func exposureWords(x *alarms.Exposure) string {
	head := word(string(x.ID)) + ": " + word(string(x.Quantity))
	for _, bound := range exposureBound(x) {
		head = items{bound}.after(head, " ")
	}
	head += whenWords(x.When, x.Seasons)
	if x.While != "" {
		head += " while " + word(string(x.While))
		for _, bound := range exposureWhile(x) {
			head = items{bound}.after(head, " ")
		}
	}
	return exposureItems(x).after(head, ", ")
}

func exposureBound(x *alarms.Exposure) items {
	return items{limit("above", &x.Above), limit("below", &x.Below), limit("at least", &x.AtLeast), limit("at most", &x.AtMost)}
}

func exposureWhile(x *alarms.Exposure) items {
	return items{limit("from", &x.WhileLow), limit("to", &x.WhileHigh)}
}

func exposureItems(x *alarms.Exposure) items {
	return items{duration("for", &x.Time, ""), number("degree-hours", &x.DegreeHours), duration("window", &x.Window, ""),
		duration("gap", &x.Gap, ""), count("days", &x.Days), count("nights", &x.Nights), duration("hold", &x.Hold, ""),
		flag("morning", &x.Morning, true), priority("priority", &x.Priority), text("says", "what it does", &x.Says),
		text("source", "a source", &x.Source)}
}
