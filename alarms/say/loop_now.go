package say

import (
	"math"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/tongue"
)

// pipes says what a ground loop does now.
type pipes struct{ Locale }

// now says what the loop does now.
func (m pipes) now(p *alarms.LoopPicture) string {
	switch {
	case !p.Known:
		return m.say("It is not known whether the loop fan runs.")
	case !p.Running:
		return m.say("The loop fan stands.")
	case p.Watts == nil:
		return m.say("The loop fan runs; what it brings is not known.")
	}
	s := m.say("The loop fan runs and brings %s", m.heatOr(*p.Watts))
	if p.PerFanWatt != nil {
		s += m.say(", %s W for each W that it draws", m.number(*p.PerFanWatt, 1))
	}
	return s + "." + m.moistureNow(p.Moisture)
}

// moistureNow says what vapour carries, where that is worth a word.
func (m pipes) moistureNow(watts *float64) string {
	switch {
	case watts == nil, math.Abs(*watts) < 5:
		return ""
	case *watts > 0:
		return m.say(" %s more come as moisture, which warms nothing.", m.Value(alarms.Power, *watts))
	}
	return m.say(" %s leave as moisture, which dries the house.", m.Value(alarms.Power, -*watts))
}

// heatOr writes a power: "320 W of heat", "150 W of cold".
func (m pipes) heatOr(watts float64) string {
	if watts < 0 {
		return m.say("%s of cold", m.Value(alarms.Power, -watts))
	}
	return m.say("%s of heat", m.Value(alarms.Power, watts))
}

// sums says what today and yesterday brought.
func (m pipes) sums(p *alarms.LoopPicture) string {
	s := m.say("Today so far it brought %s.%s", m.Brought(p.Today), m.Moisture(p.Today))
	if p.Yesterday.Run > 0 {
		s += m.say(" Yesterday it brought %s.%s", m.Brought(p.Yesterday), m.Moisture(p.Yesterday))
	}
	return s
}

// pipe says what one pipe does now.
func (m pipes) pipe(p *alarms.PipePicture) string {
	s := m.say("The pipe at %s", m.depth(p.Depth))
	switch {
	case p.Shut:
		s += m.say(" is shut by hand")
	case p.Temperature == nil:
		s += m.say(" is not seen now")
	case !p.Moving && p.Damper:
		s += m.say(" draws no air now")
	case !p.Moving:
		s += m.say(" rests")
	default:
		s += m.say(" brings air of %s", m.maybe(p.Temperature))
		if p.Watts != nil {
			s += ", " + m.heatOr(*p.Watts)
		}
	}
	if p.Ground != nil {
		s += m.say("; the ground there should be at %s", m.maybe(p.Ground))
	}
	if p.Effectiveness != nil {
		s += m.say(", so it gives %s %% of the difference to the house", m.number(100**p.Effectiveness, 0))
	}
	if p.Moving && p.Water != ground.Drained.String() {
		s += m.say("; its air is saturated")
		if p.Water == ground.Condenses.String() {
			s += m.say(", so water condenses in the pipe and must drain")
		}
	}
	s += "."
	if p.Moving {
		s += m.moistureNow(p.Moisture)
	}
	return s + m.say(" Today it brought %s.", m.Brought(p.Today))
}

// wanted is what a house may want from the ground.
var wanted = map[string]tongue.Text{ground.Warmth.String(): "warmth", ground.Cooling.String(): "cooling"}

func (m Locale) wants(what string) string { return m.say(wanted[what]) }

// betterDepth says which depth is the better one now.
func (m pipes) betterDepth(l *alarms.LoopPicture) string {
	switch {
	case l.House == nil:
		return m.say("Which depth is the better one now is not known: nothing is known of the house.")
	case l.Want == ground.Nothing.String():
		return m.say("The house wants neither warmth nor cooling from the ground now.")
	case l.Best == 0 || l.Best > len(l.Pipes):
		return m.say("The house wants %s, but no depth would help by %s now.", m.wants(l.Want), m.Distance(alarms.Temperature, 1))
	}
	var others []string
	for i := range l.Pipes {
		if p := &l.Pipes[i]; i != l.Best-1 && p.Leaves != nil {
			others = append(others, m.say("at %s %s", m.depth(p.Depth), m.Value(alarms.Temperature, *p.Leaves)))
		}
	}
	best := &l.Pipes[l.Best-1]
	s := m.say("The house wants %s: the pipe at %s is the better one now; its air leaves at %s", m.wants(l.Want), m.depth(best.Depth), m.maybe(best.Leaves))
	if len(others) > 0 {
		s += ", " + m.list(others)
	}
	return s + "."
}

// ways says what the loop brought in each way in which air passed, after a blank;
// "" where there is one way only.
func (m pipes) ways(l *alarms.LoopPicture) string {
	var all []string
	for _, w := range l.Ways {
		how := m.flow(w.Flow)
		if w.Up {
			how += m.say(" drawn up")
		}
		all = append(all, m.say("%s in %s with %s", m.Brought(w.LoopEnergy), m.Span(w.Run), how))
	}
	if len(all) == 0 {
		return ""
	}
	return m.say(" By the way in which air passed it brought %s.", m.list(all))
}

// byHand says what is set by hand at a loop, after a blank; "" for nothing.
func (m pipes) byHand(l *alarms.LoopPicture) string {
	var all []string
	if l.Up {
		all = append(all, m.say("air is drawn up through the pipes"))
	}
	if l.Flow > 0 {
		all = append(all, m.say("%s in all", m.flow(l.Flow)))
	}
	for i := range l.Pipes {
		if p := &l.Pipes[i]; p.Shut {
			all = append(all, m.say("the pipe at %s is shut", m.depth(p.Depth)))
		}
	}
	if len(all) == 0 {
		return ""
	}
	return m.say(" Set by hand: %s.", m.list(all))
}
