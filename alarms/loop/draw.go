package loop

import (
	"telltale/alarms"
	"telltale/alarms/ground"
)

// Picture is l as it is now.
func (l *Loop) Picture() *alarms.LoopPicture {
	s, now := l.look(), l.panel.Now.UTC()
	p := &alarms.LoopPicture{Known: s.fanKnown, Running: s.fan, House: alarms.Known(s.house.Temperature), Watts: alarms.Known(s.brings(warmth)), Moisture: alarms.Known(s.brings(vapour)),
		FanWatts: alarms.Known(s.drawn), Today: ahead(l.Day, now), Yesterday: l.Last, Want: l.Want.String()}
	p.Total = l.Past.Plus(p.Today)
	if each, ok := ground.PerFanWatt(s.brings(warmth), s.drawn); ok && s.fan {
		p.PerFanWatt = &each
	}
	if l.Best > 0 {
		p.Better = alarms.Known(l.pipes[l.Best-1].plan.Depth)
	}
	for i, one := range l.pipes {
		p.Pipes = append(p.Pipes, one.drawPipe(s, i))
	}
	p.Best, p.Up, p.Flow, p.Ways = l.Best, l.hand.up, l.hand.flow, l.waysSoFar(p.Today)
	return p
}

func (p *pipe) drawPipe(all sight, i int) alarms.PipePicture {
	s := all.pipes[i]
	earth := p.groundAt(p.loop.panel.Now)
	pp := alarms.PipePicture{Outlet: p.plan.Outlet, Name: p.outlet.Name(), Depth: p.plan.Depth, Moving: s.known && s.moving,
		Temperature: alarms.Known(s.outlet.Temperature), Humidity: alarms.Known(s.outlet.Humidity), Ground: alarms.Known(earth),
		Watts: alarms.Known(s.brings(warmth)), Moisture: alarms.Known(s.brings(vapour)),
		Flow: p.Follow.Verdict.String(), Water: p.Water.Verdict.String(), Today: ahead(p.Day, p.loop.panel.Now.UTC()), Yesterday: p.Last}
	pp.Total = p.Past.Plus(pp.Today)
	if share, ok := ground.Effectiveness(s.enters.Temperature, s.outlet.Temperature, earth); ok && pp.Moving && all.alone(p.loop, i) {
		pp.Effectiveness = alarms.Known(share)
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
	pp.Damper, pp.Shut, pp.Leaves = p.damper != nil, p.shut(), alarms.Known(p.leaving(all.house.Temperature, s, p.loop.panel.Now))
	return pp
}
