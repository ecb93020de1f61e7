package say

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
)

// Loop says w in a few plain words.
func (m Locale) Loop(w alarms.LoopWhat) string {
	switch w {
	case alarms.NoFlow:
		return m.say("no air from the ground")
	case alarms.WetPipe:
		return m.say("water in the pipe")
	case alarms.Declining:
		return m.say("the air from the pipe drifts from the season")
	case alarms.LoopDepth:
		return m.say("another depth is the better one")
	}
	return m.say("what the ground loop brought")
}

func (m Locale) maybe(v *float64) string {
	if v == nil {
		return m.say("not known")
	}
	return m.Value(alarms.Temperature, *v)
}

func (n *telling) loop(ended bool) string {
	r := n.r.Loop
	if n.o.Loop == "" || r == nil {
		return n.title(n.o) + "."
	}
	where, pipe := n.where(n.o), n.say("the pipe at %s", n.depth(r.Depth))
	switch {
	case n.o.Loop == alarms.NoFlow && ended && r.Stands:
		return n.say("%s: no air was drawn through %s any more at %s, so nothing could be said of it.", where, pipe, n.Clock(n.Due, n.Due))
	case n.o.Loop == alarms.NoFlow && ended:
		return n.say("%s: %s brings air from the ground again%s; it leaves at %s.", where, pipe, n.after(), n.maybe(r.Outlet))
	case n.o.Loop == alarms.NoFlow:
		return n.say("%s: the air from %s follows the house, not the ground: it leaves at %s, the house is at %s, the ground there at %s.",
			where, pipe, n.maybe(r.Outlet), n.maybe(r.House), n.maybe(r.Ground))
	case n.o.Loop == alarms.WetPipe && ended:
		return n.say("%s: the air from %s no longer says that water stands in it%s.", where, pipe, n.after())
	case n.o.Loop == alarms.WetPipe:
		return n.say("%s: %s", where, n.wet(pipe))
	case ended:
		return n.say("%s: %s keeps to the season again%s.", where, pipe, n.after())
	}
	word := n.say("warmer")
	if r.Drift < 0 {
		word = n.say("colder")
	}
	return n.say("%s: the air from %s has become %s %s in %d days than season and house let expect.", where, pipe,
		n.Distance(alarms.Temperature, math.Abs(r.Drift)), word, r.Days)
}

func (n *telling) wet(pipe string) string {
	since := ""
	if !n.r.Since.IsZero() {
		since = n.say(" since %s", n.Clock(n.r.Since, n.Due))
	}
	if n.r.Loop.Water == ground.Standing.String() {
		return n.say("the air from %s has been saturated%s, and holds more water than the air of the house can have brought: water stands in the pipe.",
			pipe, since)
	}
	return n.say("the air from %s has been saturated%s: water may stand in the pipe.", pipe, since)
}

// loopNote is a line of the log: a day, or a change of the better depth.
func (n *telling) loopNote() string {
	r := n.r.Loop
	switch {
	case r == nil:
		return n.title(n.o) + "."
	case r.Day == nil:
		return n.say("%s: for %s the pipe at %s became the better one at %s: its air left at %s, the house was at %s.", n.where(n.o),
			n.wants(r.Want), n.depth(r.Depth), n.Clock(n.Due, n.Due), n.maybe(r.Outlet), n.maybe(r.House))
	}
	d, day := r.Day, n.Due.Add(-time.Nanosecond).In(n.dayZone())
	s := n.say("%s: on %s the ground loop brought %s", n.where(n.o), n.date(day), n.Brought(d.LoopEnergy))
	if len(d.Pipes) > 1 {
		var each []string
		for _, p := range d.Pipes {
			each = append(each, n.say("%s at %s", n.Brought(p.LoopEnergy), n.depth(p.Depth)))
		}
		s += ": " + n.list(each)
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
	heat, cold, seen := m.say("%s of heat", m.kWh(l.Heat)), m.say("%s of cold", m.kWh(l.Cold)), ""
	if l.Watched < l.Run {
		seen = m.say(", as far as it was seen")
	}
	switch {
	case l.Watched == 0 && l.Heat+l.Cold < 0.005:
		return m.say("an amount that is not known")
	case l.Heat+l.Cold < 0.005:
		return m.say("nothing%s", seen)
	case l.Cold < 0.005:
		return heat + seen
	case l.Heat < 0.005:
		return cold + seen
	}
	return m.say("%s and %s%s", heat, cold, seen)
}

// Moisture says what vapour carried, as a sentence after a blank; "" for nothing
// that is known.
func (m Locale) Moisture(l alarms.LoopEnergy) string {
	in, out := m.say("%s came as moisture, which warms nothing", m.kWh(l.Wet)), m.say("%s left as moisture", m.kWh(l.Dried))
	switch {
	case l.Wet+l.Dried < 0.005:
		return ""
	case l.Dried < 0.005:
		return m.say(" Besides, %s.", in)
	case l.Wet < 0.005:
		return m.say(" Besides, %s.", out)
	}
	return m.say(" Besides, %s, and %s.", in, out)
}

// fanRan says how long the fan ran, and for how much.
func (m Locale) fanRan(l alarms.LoopEnergy) string {
	s := m.say("The loop fan ran for %s", m.Span(l.Run))
	if each, ok := l.EachFanKWh(); ok {
		s += m.say(" and drew %s, so each kWh brought %s", m.kWh(l.Fan), m.number(each, 1))
	}
	return s + "."
}
