package control

import (
	"fmt"
	"math"
)

// Sentence says a belief about a drive in plain words, always with the
// likelihood and with what it was inferred from: "the exhaust fan probably runs
// (85 %), inferred from the temperatures inside and outside alone".
func (b Belief) Sentence(drive string) string {
	const from = "the temperatures inside and outside alone"
	text := fmt.Sprintf("%s (%.0f %%), inferred from %s", b.words(drive), 100*math.Max(b.Running, 1-b.Running), from)
	switch {
	case !b.Outside:
		return b.words(drive) + ": that cannot be inferred without a probe outside"
	case b.Shown() == Unknown:
		text = fmt.Sprintf("%s (%.0f %% likely, inferred from %s)", b.words(drive), 100*b.Running, from)
	}
	if !b.Settled {
		text += ", which the watch has known for less than two days"
	}
	return text
}

func (b Belief) words(drive string) string {
	switch b.Shown() {
	case Running:
		return "the " + drive + " probably runs"
	case Standing:
		return "the " + drive + " probably stands still"
	}
	return "it is not known whether the " + drive + " runs"
}

// Shown is what b is worth: it says that a drive runs or stands where it is as
// sure as a change that is told of, and nothing in between.
func (b Belief) Shown() Shown {
	switch {
	case !b.Outside:
	case b.Running >= surer:
		return Running
	case b.Running <= 1-surer:
		return Standing
	}
	return Unknown
}

// Sentence says a change of a drive in plain words: "the exhaust fan probably
// started at 14:02 (83 %), inferred from a break in the temperature".
func (c Change) Sentence(drive string) string {
	what, likely, from := "started", c.Running, "from a slow change of the temperature; the time is rough"
	switch c.Kind {
	case Stop:
		what, likely = "stopped", 1-c.Running
	case NoChange, Lost:
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
