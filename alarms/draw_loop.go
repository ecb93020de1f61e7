package alarms

import "telltale/alarms/ground"

// LoopPicture is a ground loop. Values that are not known are nil.
type LoopPicture struct {
	Known      bool          `json:"known"`                    // whether its fan runs
	Running    bool          `json:"running"`                  // the fan runs
	House      *float64      `json:"house,omitempty"`          // of the air that enters, °C
	Watts      *float64      `json:"watts,omitempty"`          // warmth brought in by the pipes that are seen, negative for cold
	Moisture   *float64      `json:"moisture_watts,omitempty"` // brought in by vapour, which warms nothing until it condenses
	FanWatts   *float64      `json:"fan_watts,omitempty"`
	PerFanWatt *float64      `json:"per_fan_watt,omitempty"` // heat or cold now for each W that the fan draws
	Today      LoopEnergy    `json:"today"`                  // of the house's day so far
	Yesterday  LoopEnergy    `json:"yesterday"`
	Total      LoopEnergy    `json:"total"` // since the watch counts
	Want       string        `json:"want"`  // of the house: nothing, warmth or cooling
	Better     *float64      `json:"better_depth_m,omitempty"`
	Depths     string        `json:"depths"` // which depth is the better one now, as a sentence
	Sums       string        `json:"sums"`   // what today and yesterday brought, as sentences
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
	Ground        *float64   `json:"ground,omitempty"`         // that the ground should have there
	Effectiveness *float64   `json:"effectiveness,omitempty"`  // now, against the ground
	Learned       *float64   `json:"learned,omitempty"`        // effectiveness of the plan, or learned
	Watts         *float64   `json:"watts,omitempty"`          // warmth
	Moisture      *float64   `json:"moisture_watts,omitempty"` // carried by vapour, where both humidities are known
	Basis         string     `json:"basis,omitempty"`          // from which humidities
	Flow          string     `json:"flow"`                     // unsure, moving or not moving
	Water         string     `json:"water"`                    // drained, condenses, water in the pipe or saturated
	Drift         *float64   `json:"drift,omitempty"`          // K against the season
	Today         LoopEnergy `json:"today"`
	Yesterday     LoopEnergy `json:"yesterday"`
	Total         LoopEnergy `json:"total"`
	Sentence      string     `json:"sentence"` // what it does now
}

func (e *Engine) drawLoop(h *house) *LoopPicture {
	l := h.loop
	if l == nil {
		return nil
	}
	s, now := e.look(l), e.now.utc()
	p := &LoopPicture{Known: s.fanKnown, Running: s.fan, House: known(s.house.Temperature), Watts: known(s.brings(warmth)), Moisture: known(s.brings(vapour)),
		FanWatts: known(s.drawn), Today: ahead(l.Day, now), Yesterday: l.Last, Want: l.Want.String()}
	p.Total = l.Past.Plus(p.Today)
	if each, ok := ground.PerFanWatt(s.brings(warmth), s.drawn); ok && s.fan {
		p.PerFanWatt = &each
	}
	if l.Best > 0 {
		p.Better = known(l.pipes[l.Best-1].plan.Depth)
	}
	for i, one := range l.pipes {
		p.Pipes = append(p.Pipes, e.drawPipe(one, s, i))
	}
	p.Depths = e.depthSentence(l, s)
	p.Sentence, p.Sums = p.nowSentence()+e.handSentence(l), p.sumSentence()+e.waysSentence(l, p.Today)
	return p
}

func (e *Engine) drawPipe(p *pipe, all sight, i int) PipePicture {
	s := all.pipes[i]
	earth := p.groundAt(e.now)
	pp := PipePicture{Outlet: p.plan.Outlet, Name: p.outlet.plan.Name, Depth: p.plan.Depth, Moving: s.known && s.moving,
		Temperature: known(s.outlet.Temperature), Humidity: known(s.outlet.Humidity), Ground: known(earth),
		Watts: known(s.brings(warmth)), Moisture: known(s.brings(vapour)),
		Flow: p.Follow.Verdict.String(), Water: p.Water.Verdict.String(), Today: ahead(p.Day, e.now.utc()), Yesterday: p.Last}
	pp.Total = p.Past.Plus(pp.Today)
	if share, ok := ground.Effectiveness(s.enters.Temperature, s.outlet.Temperature, earth); ok && pp.Moving && all.alone(p.loop, i) {
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
	pp.Sentence = e.plan.Words.pipeSentence(pp, p.damper != nil, p.shut())
	return pp
}
