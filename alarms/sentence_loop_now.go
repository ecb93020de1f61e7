package alarms

import (
	"fmt"
	"math"

	"telltale/alarms/ground"
)

// nowSentence says what the loop does now.
func (p *LoopPicture) nowSentence() string {
	switch {
	case !p.Known:
		return "It is not known whether the loop fan runs."
	case !p.Running:
		return "The loop fan stands."
	case p.Watts == nil:
		return "The loop fan runs; what it brings is not known."
	}
	s := "The loop fan runs and brings " + flowOf(*p.Watts)
	if p.PerFanWatt != nil {
		s += fmt.Sprintf(", %s W for each W that it draws", number(*p.PerFanWatt, 1))
	}
	return s + "." + moistureNow(p.Moisture)
}

// moistureNow says what vapour carries, where that is worth a word.
func moistureNow(watts *float64) string {
	switch {
	case watts == nil, math.Abs(*watts) < 5:
		return ""
	case *watts > 0:
		return " " + Words{}.Value(Power, *watts) + " more come as moisture, which warms nothing."
	}
	return " " + Words{}.Value(Power, -*watts) + " leave as moisture, which dries the house."
}

// flowOf writes a power: "320 W of heat", "150 W of cold".
func flowOf(watts float64) string {
	if watts < 0 {
		return Words{}.Value(Power, -watts) + " of cold"
	}
	return Words{}.Value(Power, watts) + " of heat"
}

// sumSentence says what today and yesterday brought.
func (p *LoopPicture) sumSentence() string {
	s := "Today so far it brought " + p.Today.Brought() + "." + p.Today.Moisture()
	if p.Yesterday.Run > 0 {
		s += " Yesterday it brought " + p.Yesterday.Brought() + "." + p.Yesterday.Moisture()
	}
	return s
}

// pipeSentence says what one pipe does now.
func (w Words) pipeSentence(p PipePicture, damper, shut bool) string {
	s := fmt.Sprintf("The pipe at %s", w.depth(p.Depth))
	switch {
	case shut:
		s += " is shut by hand"
	case p.Temperature == nil:
		s += " is not seen now"
	case !p.Moving && damper:
		s += " draws no air now"
	case !p.Moving:
		s += " rests"
	default:
		s += " brings air of " + w.maybe(p.Temperature)
		if p.Watts != nil {
			s += ", " + flowOf(*p.Watts)
		}
	}
	if p.Ground != nil {
		s += fmt.Sprintf("; the ground there should be at %s", w.maybe(p.Ground))
	}
	if p.Effectiveness != nil {
		s += fmt.Sprintf(", so it gives %s %% of the difference to the house", number(100**p.Effectiveness, 0))
	}
	if p.Moving && p.Water != ground.Drained.String() {
		s += "; its air is saturated"
		if p.Water == ground.Condenses.String() {
			s += ", so water condenses in the pipe and must drain"
		}
	}
	s += "."
	if p.Moving {
		s += moistureNow(p.Moisture)
	}
	return s + " Today it brought " + p.Today.Brought() + "."
}

// depthSentence says which depth is the better one now.
func (e *Engine) depthSentence(l *loop, s sight) string {
	w, house := e.plan.Words, s.house.Temperature
	switch {
	case math.IsNaN(house):
		return "Which depth is the better one now is not known: nothing is known of the house."
	case l.Want == ground.Nothing:
		return "The house wants neither warmth nor cooling from the ground now."
	case l.Best == 0:
		return fmt.Sprintf("The house wants %s, but no depth would help by %s now.", l.Want, w.Distance(Temperature, 1))
	}
	var others []string
	for i, p := range l.pipes {
		if v := p.leaving(house, s.pipes[i], e.now); i != l.Best-1 && !math.IsNaN(v) {
			others = append(others, fmt.Sprintf("at %s %s", w.depth(p.plan.Depth), w.Value(Temperature, v)))
		}
	}
	best := l.pipes[l.Best-1]
	t := fmt.Sprintf("The house wants %s: the pipe at %s is the better one now; its air leaves at %s", l.Want, w.depth(best.plan.Depth),
		w.maybe(known(best.leaving(house, s.pipes[l.Best-1], e.now))))
	if len(others) > 0 {
		t += ", " + list(others)
	}
	return t + "."
}
