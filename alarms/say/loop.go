package say

import (
	"fmt"
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
)

// Loop says w in a few plain words.
func (m Locale) Loop(w alarms.LoopWhat) string {
	switch w {
	case alarms.NoFlow:
		return "no air from the ground"
	case alarms.WetPipe:
		return "water in the pipe"
	case alarms.Declining:
		return "the air from the pipe drifts from the season"
	case alarms.LoopDepth:
		return "another depth is the better one"
	}
	return "what the ground loop brought"
}

func (m Locale) maybe(v *float64) string {
	if v == nil {
		return "not known"
	}
	return m.Value(alarms.Temperature, *v)
}

func (n *telling) loop(ended bool) string {
	r := n.r.Loop
	if n.o.Loop == "" || r == nil {
		return n.title(n.o) + "."
	}
	where, pipe := n.where(n.o), "the pipe at "+n.depth(r.Depth)
	switch {
	case n.o.Loop == alarms.NoFlow && ended && r.Stands:
		return fmt.Sprintf("%s: no air was drawn through %s any more at %s, so nothing could be said of it.", where, pipe, n.Clock(n.Due, n.Due))
	case n.o.Loop == alarms.NoFlow && ended:
		return fmt.Sprintf("%s: %s brings air from the ground again%s; it leaves at %s.", where, pipe, n.after(), n.maybe(r.Outlet))
	case n.o.Loop == alarms.NoFlow:
		return fmt.Sprintf("%s: the air from %s follows the house, not the ground: it leaves at %s, the house is at %s, the ground there at %s.",
			where, pipe, n.maybe(r.Outlet), n.maybe(r.House), n.maybe(r.Ground))
	case n.o.Loop == alarms.WetPipe && ended:
		return fmt.Sprintf("%s: the air from %s no longer says that water stands in it%s.", where, pipe, n.after())
	case n.o.Loop == alarms.WetPipe:
		return fmt.Sprintf("%s: %s", where, n.wet(pipe))
	case ended:
		return fmt.Sprintf("%s: %s keeps to the season again%s.", where, pipe, n.after())
	}
	word := "warmer"
	if r.Drift < 0 {
		word = "colder"
	}
	return fmt.Sprintf("%s: the air from %s has become %s %s in %d days than season and house let expect.", where, pipe,
		n.Distance(alarms.Temperature, math.Abs(r.Drift)), word, r.Days)
}

func (n *telling) wet(pipe string) string {
	since := ""
	if !n.r.Since.IsZero() {
		since = " since " + n.Clock(n.r.Since, n.Due)
	}
	if n.r.Loop.Water == ground.Standing.String() {
		return fmt.Sprintf("the air from %s has been saturated%s, and holds more water than the air of the house can have brought: water stands in the pipe.",
			pipe, since)
	}
	return fmt.Sprintf("the air from %s has been saturated%s: water may stand in the pipe.", pipe, since)
}

// loopNote is a line of the log: a day, or a change of the better depth.
func (n *telling) loopNote() string {
	r := n.r.Loop
	switch {
	case r == nil:
		return n.title(n.o) + "."
	case r.Day == nil:
		return fmt.Sprintf("%s: for %s the pipe at %s became the better one at %s: its air left at %s, the house was at %s.", n.where(n.o),
			r.Want, n.depth(r.Depth), n.Clock(n.Due, n.Due), n.maybe(r.Outlet), n.maybe(r.House))
	}
	d, day := r.Day, n.Due.Add(-time.Nanosecond).In(n.dayZone())
	s := fmt.Sprintf("%s: on %s the ground loop brought %s", n.where(n.o), day.Format("2 January"), n.Brought(d.LoopEnergy))
	if len(d.Pipes) > 1 {
		var each []string
		for _, p := range d.Pipes {
			each = append(each, fmt.Sprintf("%s at %s", n.Brought(p.LoopEnergy), n.depth(p.Depth)))
		}
		s += ": " + alarms.List(each)
	}
	return s + "." + n.Moisture(d.LoopEnergy) + " " + n.fanRan(d.LoopEnergy)
}

// dayZone is where the days of the house begin.
func (n *telling) dayZone() *time.Location {
	if z := n.h.Day.Zone; z != nil {
		return z
	}
	return time.UTC
}

// Brought says what a loop or pipe brought, to follow "brought".
func (m Locale) Brought(l alarms.LoopEnergy) string {
	heat, cold, seen := m.kWh(l.Heat)+" of heat", m.kWh(l.Cold)+" of cold", ""
	if l.Watched < l.Run {
		seen = ", as far as it was seen"
	}
	switch {
	case l.Watched == 0 && l.Heat+l.Cold < 0.005:
		return "an amount that is not known"
	case l.Heat+l.Cold < 0.005:
		return "nothing" + seen
	case l.Cold < 0.005:
		return heat + seen
	case l.Heat < 0.005:
		return cold + seen
	}
	return heat + " and " + cold + seen
}

// Moisture says what vapour carried, as a sentence after a blank; "" for nothing
// that is known.
func (m Locale) Moisture(l alarms.LoopEnergy) string {
	in, out := m.kWh(l.Wet)+" came as moisture, which warms nothing", m.kWh(l.Dried)+" left as moisture"
	switch {
	case l.Wet+l.Dried < 0.005:
		return ""
	case l.Dried < 0.005:
		return " Besides, " + in + "."
	case l.Wet < 0.005:
		return " Besides, " + out + "."
	}
	return " Besides, " + in + ", and " + out + "."
}

// fanRan says how long the fan ran, and for how much.
func (m Locale) fanRan(l alarms.LoopEnergy) string {
	s := "The loop fan ran for " + m.Span(l.Run)
	if each, ok := l.EachFanKWh(); ok {
		s += fmt.Sprintf(" and drew %s, so each kWh brought %s", m.kWh(l.Fan), m.number(each, 1))
	}
	return s + "."
}
