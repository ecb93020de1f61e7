package control

import (
	"fmt"
	"math"
)

// Sentence says a belief about a drive in plain words, always with the
// likelihood and with what it was inferred from: "the exhaust fan probably runs
// (85 %), inferred from the temperatures inside and outside alone".
func (b Belief) Sentence(drive string) string {
	from := "the temperature inside alone"
	if b.Outside {
		from = "the temperatures inside and outside alone"
	}
	text := fmt.Sprintf("%s (%.0f %%), inferred from %s", b.words(drive), 100*math.Max(b.Running, 1-b.Running), from)
	if !b.Settled {
		text += ", which the watch has known for less than two days"
	}
	return text
}

func (b Belief) words(drive string) string {
	switch {
	case b.Running >= surer:
		return "the " + drive + " probably runs"
	case b.Running >= 0.5:
		return "the " + drive + " may be running"
	case b.Running > 1-surer:
		return "the " + drive + " may be standing still"
	}
	return "the " + drive + " probably stands still"
}

// Sentence says a change of a drive in plain words: "the exhaust fan probably
// started at 14:02 (83 %), inferred from a break in the temperature".
func (c Change) Sentence(drive string) string {
	what, likely, from := "started", c.Running, "from a slow change of the temperature; the time is rough"
	switch c.Kind {
	case Stop:
		what, likely = "stopped", 1-c.Running
	case NoChange:
		return "no change of the " + drive
	}
	sure, at := "probably", "about "+c.At.Format("15:04")
	if likely < surer {
		sure = "may have"
	}
	if c.Sharp {
		at, from = c.At.Format("15:04"), "from a break in the temperature"
	}
	return fmt.Sprintf("the %s %s %s at %s (%.0f %%), inferred %s", drive, sure, what, at, 100*likely, from)
}
