package alarms

import (
	"fmt"
	"math"

	"telltale/alarms/ground"
)

// LoopPicture is a ground loop. Values that are not known are nil.
type LoopPicture struct {
	Known      bool          `json:"known"`           // whether its fan runs
	Running    bool          `json:"running"`         // the fan runs
	House      *float64      `json:"house,omitempty"` // of the air that enters, °C
	Watts      *float64      `json:"watts,omitempty"` // heat brought in by the pipes that are seen, negative for cold
	FanWatts   *float64      `json:"fan_watts,omitempty"`
	PerFanWatt *float64      `json:"per_fan_watt,omitempty"` // heat or cold now for each W that the fan draws
	Today      LoopEnergy    `json:"today"`                  // of the house's day so far
	Yesterday  LoopEnergy    `json:"yesterday"`
	Total      LoopEnergy    `json:"total"` // since the watch counts
	Want       string        `json:"want"`  // of the house: nothing, warmth or cooling
	Better     *float64      `json:"better_depth_m,omitempty"`
	Depths     string        `json:"depths"` // which depth is the better one now, as a sentence
	Sentence   string        `json:"sentence"`
	Pipes      []PipePicture `json:"pipes"`
}

// PipePicture is one pipe. Values that are not known are nil.
type PipePicture struct {
	Outlet        PlaceID    `json:"outlet"`
	Name          string     `json:"name"` // of the outlet
	Depth         float64    `json:"depth_m"`
	Moving        bool       `json:"moving"` // air is drawn through it
	Temperature   *float64   `json:"temperature,omitempty"`
	Humidity      *float64   `json:"humidity,omitempty"`
	Ground        *float64   `json:"ground,omitempty"`        // that the ground should have there
	Effectiveness *float64   `json:"effectiveness,omitempty"` // now, against the ground
	Learned       *float64   `json:"learned,omitempty"`       // effectiveness of the plan, or learned
	Watts         *float64   `json:"watts,omitempty"`
	Basis         string     `json:"basis,omitempty"` // from which humidities
	Flow          string     `json:"flow"`            // unsure, moving or not moving
	Water         string     `json:"water"`           // drained, condenses, water in the pipe or saturated
	Drift         *float64   `json:"drift,omitempty"` // K against the season
	Today         LoopEnergy `json:"today"`
	Yesterday     LoopEnergy `json:"yesterday"`
	Total         LoopEnergy `json:"total"`
}

func (e *Engine) drawLoop(h *house) *LoopPicture {
	l := h.loop
	if l == nil {
		return nil
	}
	s, now := e.look(l), e.now.time()
	p := &LoopPicture{Known: s.fanKnown, Running: s.fan, House: known(s.house.Temperature), Watts: known(s.watts()),
		FanWatts: known(s.drawn), Today: ahead(l.Day, now), Yesterday: l.Last, Want: l.Want.String()}
	p.Total = l.Past.sum(p.Today)
	if each, ok := ground.PerFanWatt(s.watts(), s.drawn); ok && s.fan {
		p.PerFanWatt = &each
	}
	if l.Best > 0 {
		p.Better = known(l.pipes[l.Best-1].plan.Depth)
	}
	for i, one := range l.pipes {
		p.Pipes = append(p.Pipes, e.drawPipe(one, s.house, s.pipes[i]))
	}
	p.Depths = e.depthSentence(l, s)
	p.Sentence = e.nowSentence(h, p)
	return p
}

func (e *Engine) drawPipe(p *pipe, house ground.Air, s pipeSight) PipePicture {
	earth := p.groundAt(e.now)
	pp := PipePicture{Outlet: p.plan.Outlet, Name: p.outlet.plan.Name, Depth: p.plan.Depth, Moving: s.known && s.moving,
		Temperature: known(s.outlet.Temperature), Humidity: known(s.outlet.Humidity), Ground: known(earth), Watts: known(s.watts()),
		Flow: p.Follow.Verdict.String(), Water: p.Water.Verdict.String(), Today: ahead(p.Day, e.now.time()), Yesterday: p.Last}
	pp.Total = p.Past.sum(pp.Today)
	if share, ok := ground.Effectiveness(house.Temperature, s.outlet.Temperature, earth); ok && pp.Moving {
		pp.Effectiveness = known(share)
	}
	if share := p.effectiveness(loopRough); share > 0 {
		pp.Learned = &share
	}
	if pp.Moving && pp.Watts != nil {
		pp.Basis = s.power.Basis.String()
	}
	if t, ok := p.Decline.Trend(); ok {
		pp.Drift = &t.Over
	}
	return pp
}

func (l LoopEnergy) sum(m LoopEnergy) LoopEnergy {
	return LoopEnergy{l.Heat + m.Heat, l.Cold + m.Cold, l.Fan + m.Fan, l.Run + m.Run, l.Watched + m.Watched}
}

// nowSentence says what the loop does now.
func (e *Engine) nowSentence(h *house, p *LoopPicture) string {
	switch {
	case !p.Known:
		return "It is not known whether the loop fan runs."
	case !p.Running:
		return "The loop fan stands."
	case p.Watts == nil:
		return "The loop fan runs; what it brings is not known."
	}
	word := "heat"
	if *p.Watts < 0 {
		word = "cold"
	}
	s := fmt.Sprintf("The loop fan runs and brings %s of %s", Words{}.Value(Power, math.Abs(*p.Watts)), word)
	if p.PerFanWatt != nil {
		s += fmt.Sprintf(", %s W for each W that it draws", number(*p.PerFanWatt, 1))
	}
	return s + "."
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
