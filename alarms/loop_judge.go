package alarms

import (
	"math"
	"time"

	"telltale/alarms/ground"
)

// How a loop is judged. All common practice, no source.
const (
	loopEvery     = 5 * time.Minute     // between samples
	loopBlind     = 20 * time.Minute    // a longer pause breaks a run of samples
	loopStands    = 6 * time.Hour       // a fan that stands for so long ends "no flow"
	loopStarts    = 15 * time.Minute    // after the fan starts, before a pipe shows its own temperature
	loopLearns    = 7 * 24 * time.Hour  // of running, from which the effectiveness is taken
	loopRough     = 24 * time.Hour      // of running, from which it is good enough to look ahead
	loopUsual     = 0.8                 // effectiveness taken before
	loopApart     = 3.0                 // K between house and ground, from which it is learned
	declineBack   = 0.7                 // K of drift below which there is none any more
	declineStale  = 14 * 24 * time.Hour // without running: what was before says nothing
	betterSamples = 12                  // for which another depth must be better before that is noted
	wantBack      = 1.0                 // K beyond its limit before a want ends
)

func nextSample(now instant) instant {
	return (now/instant(loopEvery) + 1) * instant(loopEvery)
}

// sampleLoop looks at l at a fixed moment.
func (e *Engine) sampleLoop(l *loop, due instant) {
	if l.from.stale(due) { // nothing can be judged, nor until a reading comes
		e.timers.set(l.sample, nextSample(e.now))
		return
	}
	e.timers.set(l.sample, nextSample(due))
	s := e.look(l)
	for i, p := range l.pipes {
		one := s.pipes[i]
		switch {
		case !one.known || math.IsNaN(one.enters.Temperature+one.outlet.Temperature) || p.outlet.stale(due):
		case one.moving && !s.alone(l, i):
			p.Follow, p.Water = ground.Follow{}, ground.Water{}
		default:
			e.judgePipe(p, one.enters, one, due)
		}
	}
	e.choose(l, s, due)
}

// stale reports whether no temperature of p is new enough to judge by.
func (p *place) stale(now instant) bool {
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if st.plan.Quantity == Temperature && st.usable() && now.since(st.ValueAt) <= st.memory() {
				return false
			}
		}
	}
	return true
}

// groundAt returns the temperature that the ground should have at p's depth,
// NaN where the soil is not known.
func (p *pipe) groundAt(now instant) float64 {
	soil := p.loop.plan.Soil
	if soil == nil {
		return math.NaN()
	}
	return soil.At(p.plan.Depth, ground.Day(p.loop.house.wall.at(now).In(p.loop.house.plan.Day.Zone)))
}

// judgePipe judges p, of which everything is known but perhaps the ground.
func (e *Engine) judgePipe(p *pipe, house ground.Air, s pipeSight, due instant) {
	t, earth := due.utc(), p.groundAt(due)
	if last := p.Follow.Last; !last.IsZero() && t.Sub(last) > loopBlind {
		p.Follow = ground.Follow{}
	}
	flow := p.Follow.Step(t, s.outlet.Temperature, house.Temperature, earth, s.moving)
	e.judgeFlow(p, flow, s.moving, due)
	if !s.moving {
		return
	}
	p.Water.Step(t, s.outlet, house, p.loop.plan.Pressure)
	e.judgeWater(p, due)
	steady := !p.Follow.Since.IsZero() && t.Sub(p.Follow.Since) >= loopStarts
	if math.IsNaN(earth) || !steady || p.noFlow.Condition != Within {
		return
	}
	p.learn(house.Temperature, s.outlet.Temperature, earth)
	if share := p.effectiveness(loopLearns); share > 0 {
		e.judgeDecline(p, s.outlet.Temperature, ground.Leaving(house.Temperature, earth, share), due)
	}
}

func (e *Engine) judgeFlow(p *pipe, flow ground.Flow, moving bool, due instant) {
	switch {
	case moving:
		p.Stands = 0
	case p.Stands == 0:
		p.Stands = due
	}
	switch {
	case flow == ground.NotMoving:
		e.found(p.noFlow, true, due)
	case flow == ground.Moving, p.Stands != 0 && due.since(p.Stands) >= loopStands:
		e.found(p.noFlow, false, due)
	}
}

// judgeWater follows p.Water. It begins anew after a pause: then only air that
// is not saturated says that the pipe is dry.
func (e *Engine) judgeWater(p *pipe, due instant) {
	switch p.Water.Verdict {
	case ground.Standing, ground.Wet:
		e.found(p.wet, true, due)
	case ground.Condenses:
		e.found(p.wet, false, due)
	default:
		if p.Water.Since.IsZero() && !p.Water.Last.IsZero() {
			e.found(p.wet, false, due)
		}
	}
}

func (e *Engine) judgeDecline(p *pipe, outlet, expected float64, due instant) {
	day := p.Decline.Day
	p.Decline.Step(e.wall(due).In(p.loop.house.plan.Day.Zone), outlet, expected)
	if p.Decline.Day == day {
		return
	}
	trend, ok := p.Decline.Trend()
	switch {
	case ok && trend.Drifted:
		e.found(p.declining, true, due)
	case !ok, math.Abs(trend.Over) < declineBack:
		e.found(p.declining, false, due)
	}
}

// forgetDecline drops days that are too long ago to say anything.
func (e *Engine) forgetDecline(p *pipe, due instant) {
	d := &p.Decline
	if d.Days == 0 {
		return
	}
	newest := time.Duration(d.When[d.Days-1]) * 24 * time.Hour
	if time.Duration(at(e.wall(due)))-newest > declineStale {
		*d = ground.Decline{}
		e.found(p.declining, false, due)
	}
}

// found reports what was found to the alarm a, if that is new.
func (e *Engine) found(a *alarm, on bool, due instant) {
	level := Within
	if on {
		level = Outer
	}
	if level != a.Condition {
		e.apply(a, level, nil, due)
	}
}

// learn takes one sample with air moving.
func (p *pipe) learn(house, outlet, earth float64) {
	if p.plan.Effectiveness > 0 || p.Learned.Span >= loopLearns || math.Abs(house-earth) < loopApart || p.Follow.Verdict != ground.Moving {
		return
	}
	p.Learned.Span += loopEvery
	p.Learned.Top += (house - outlet) * (house - earth)
	p.Learned.Bottom += (house - earth) * (house - earth)
}

// effectiveness returns the share of the difference between house and ground
// that p gives to the air: of the plan, or learned from at least so much
// running; 0 where it is not known.
func (p *pipe) effectiveness(least time.Duration) float64 {
	if p.plan.Effectiveness > 0 {
		return p.plan.Effectiveness
	}
	if p.Learned.Span < least || p.Learned.Bottom <= 0 {
		return 0
	}
	return min(max(p.Learned.Top/p.Learned.Bottom, 0.05), 1)
}
