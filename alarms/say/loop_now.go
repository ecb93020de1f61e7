package say

import (
	"fmt"
	"math"

	"telltale/alarms"
	"telltale/alarms/ground"
)

// pipes says what a ground loop does now.
type pipes struct{ Locale }

// now says what the loop does now.
func (m pipes) now(p *alarms.LoopPicture) string {
	switch {
	case !p.Known:
		return "It is not known whether the loop fan runs."
	case !p.Running:
		return "The loop fan stands."
	case p.Watts == nil:
		return "The loop fan runs; what it brings is not known."
	}
	s := "The loop fan runs and brings " + m.heatOr(*p.Watts)
	if p.PerFanWatt != nil {
		s += fmt.Sprintf(", %s W for each W that it draws", m.number(*p.PerFanWatt, 1))
	}
	return s + "." + m.moistureNow(p.Moisture)
}

// moistureNow says what vapour carries, where that is worth a word.
func (m pipes) moistureNow(watts *float64) string {
	switch {
	case watts == nil, math.Abs(*watts) < 5:
		return ""
	case *watts > 0:
		return " " + m.Value(alarms.Power, *watts) + " more come as moisture, which warms nothing."
	}
	return " " + m.Value(alarms.Power, -*watts) + " leave as moisture, which dries the house."
}

// heatOr writes a power: "320 W of heat", "150 W of cold".
func (m pipes) heatOr(watts float64) string {
	if watts < 0 {
		return m.Value(alarms.Power, -watts) + " of cold"
	}
	return m.Value(alarms.Power, watts) + " of heat"
}

// sums says what today and yesterday brought.
func (m pipes) sums(p *alarms.LoopPicture) string {
	s := "Today so far it brought " + m.Brought(p.Today) + "." + m.Moisture(p.Today)
	if p.Yesterday.Run > 0 {
		s += " Yesterday it brought " + m.Brought(p.Yesterday) + "." + m.Moisture(p.Yesterday)
	}
	return s
}

// pipe says what one pipe does now.
func (m pipes) pipe(p *alarms.PipePicture) string {
	s := fmt.Sprintf("The pipe at %s", m.depth(p.Depth))
	switch {
	case p.Shut:
		s += " is shut by hand"
	case p.Temperature == nil:
		s += " is not seen now"
	case !p.Moving && p.Damper:
		s += " draws no air now"
	case !p.Moving:
		s += " rests"
	default:
		s += " brings air of " + m.maybe(p.Temperature)
		if p.Watts != nil {
			s += ", " + m.heatOr(*p.Watts)
		}
	}
	if p.Ground != nil {
		s += fmt.Sprintf("; the ground there should be at %s", m.maybe(p.Ground))
	}
	if p.Effectiveness != nil {
		s += fmt.Sprintf(", so it gives %s %% of the difference to the house", m.number(100**p.Effectiveness, 0))
	}
	if p.Moving && p.Water != ground.Drained.String() {
		s += "; its air is saturated"
		if p.Water == ground.Condenses.String() {
			s += ", so water condenses in the pipe and must drain"
		}
	}
	s += "."
	if p.Moving {
		s += m.moistureNow(p.Moisture)
	}
	return s + " Today it brought " + m.Brought(p.Today) + "."
}

// betterDepth says which depth is the better one now.
func (m pipes) betterDepth(l *alarms.LoopPicture) string {
	switch {
	case l.House == nil:
		return "Which depth is the better one now is not known: nothing is known of the house."
	case l.Want == ground.Nothing.String():
		return "The house wants neither warmth nor cooling from the ground now."
	case l.Best == 0 || l.Best > len(l.Pipes):
		return fmt.Sprintf("The house wants %s, but no depth would help by %s now.", l.Want, m.Distance(alarms.Temperature, 1))
	}
	var others []string
	for i := range l.Pipes {
		if p := &l.Pipes[i]; i != l.Best-1 && p.Leaves != nil {
			others = append(others, fmt.Sprintf("at %s %s", m.depth(p.Depth), m.Value(alarms.Temperature, *p.Leaves)))
		}
	}
	best := &l.Pipes[l.Best-1]
	s := fmt.Sprintf("The house wants %s: the pipe at %s is the better one now; its air leaves at %s", l.Want, m.depth(best.Depth), m.maybe(best.Leaves))
	if len(others) > 0 {
		s += ", " + alarms.List(others)
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
			how += " drawn up"
		}
		all = append(all, fmt.Sprintf("%s in %s with %s", m.Brought(w.LoopEnergy), m.Span(w.Run), how))
	}
	if len(all) == 0 {
		return ""
	}
	return " By the way in which air passed it brought " + alarms.List(all) + "."
}

// byHand says what is set by hand at a loop, after a blank; "" for nothing.
func (m pipes) byHand(l *alarms.LoopPicture) string {
	var all []string
	if l.Up {
		all = append(all, "air is drawn up through the pipes")
	}
	if l.Flow > 0 {
		all = append(all, m.flow(l.Flow)+" in all")
	}
	for i := range l.Pipes {
		if p := &l.Pipes[i]; p.Shut {
			all = append(all, "the pipe at "+m.depth(p.Depth)+" is shut")
		}
	}
	if len(all) == 0 {
		return ""
	}
	return " Set by hand: " + alarms.List(all) + "."
}
