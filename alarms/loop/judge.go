package loop

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/timing"
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

func nextSample(now timing.Instant) timing.Instant {
	return (now/timing.Instant(loopEvery) + 1) * timing.Instant(loopEvery)
}

// sampleLoop looks at l at a fixed moment.
func (l *Loop) sampleLoop(due timing.Instant) {
	if l.from.Stale(due) { // nothing can be judged, nor until a reading comes
		l.panel.Timers.Set(l.sample, nextSample(l.panel.Now))
		return
	}
	l.panel.Timers.Set(l.sample, nextSample(due))
	s := l.look()
	for i, p := range l.pipes {
		one := s.pipes[i]
		switch {
		case !one.known || math.IsNaN(one.enters.Temperature+one.outlet.Temperature) || p.outlet.Stale(due):
		case one.moving && !s.alone(l, i):
			p.Follow, p.Water = ground.Follow{}, ground.Water{}
		default:
			p.judgePipe(one.enters, one, due)
		}
	}
	l.choose(s, due)
}

// judgePipe judges p, of which everything is known but perhaps the ground.
func (p *pipe) judgePipe(house ground.Air, s pipeSight, due timing.Instant) {
	t, earth := due.UTC(), p.groundAt(due)
	if last := p.Follow.Last; !last.IsZero() && t.Sub(last) > loopBlind {
		p.Follow = ground.Follow{}
	}
	flow := p.Follow.Step(t, s.outlet.Temperature, house.Temperature, earth, s.moving)
	p.judgeFlow(flow, s.moving, due)
	if !s.moving {
		return
	}
	p.Water.Step(t, s.outlet, house, p.loop.plan.Pressure)
	p.judgeWater(due)
	steady := !p.Follow.Since.IsZero() && t.Sub(p.Follow.Since) >= loopStarts
	if math.IsNaN(earth) || !steady || p.noFlow.Condition != alarms.Within {
		return
	}
	p.learn(house.Temperature, s.outlet.Temperature, earth)
	if share := p.effectiveness(loopLearns); share > 0 {
		p.judgeDecline(s.outlet.Temperature, ground.Leaving(house.Temperature, earth, share), due)
	}
}

func (p *pipe) judgeFlow(flow ground.Flow, moving bool, due timing.Instant) {
	switch {
	case moving:
		p.Stands = 0
	case p.Stands == 0:
		p.Stands = due
	}
	switch {
	case flow == ground.NotMoving:
		p.noFlow.Found(true, due)
	case flow == ground.Moving, p.Stands != 0 && due.Since(p.Stands) >= loopStands:
		p.noFlow.Found(false, due)
	}
}

// judgeWater follows p.Water. It begins again after a pause: then only air that
// is not saturated says that the pipe is dry.
func (p *pipe) judgeWater(due timing.Instant) {
	switch p.Water.Verdict {
	case ground.Standing, ground.Wet:
		p.wet.Found(true, due)
	case ground.Condenses:
		p.wet.Found(false, due)
	default:
		if p.Water.Since.IsZero() && !p.Water.Last.IsZero() {
			p.wet.Found(false, due)
		}
	}
}

func (p *pipe) judgeDecline(outlet, expected float64, due timing.Instant) {
	day := p.Decline.Day
	p.Decline.Step(p.loop.panel.Clock.At(due).In(p.loop.house.Plan().Day.Zone), outlet, expected)
	if p.Decline.Day == day {
		return
	}
	trend, ok := p.Decline.Trend()
	switch {
	case ok && trend.Drifted:
		p.declining.Found(true, due)
	case !ok, math.Abs(trend.Over) < declineBack:
		p.declining.Found(false, due)
	}
}

// forgetDecline drops days that are too long ago to say anything.
func (p *pipe) forgetDecline(due timing.Instant) {
	d := &p.Decline
	if d.Days == 0 {
		return
	}
	newest := time.Duration(d.When[d.Days-1]) * 24 * time.Hour
	if time.Duration(timing.At(p.loop.panel.Clock.At(due)))-newest > declineStale {
		*d = ground.Decline{}
		p.declining.Found(false, due)
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
