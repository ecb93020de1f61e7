package loop

import (
	"math"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// whyPipe says what is known of p, for the alarm of it that is about what.
func (p *pipe) whyPipe(what alarms.LoopWhat, due timing.Instant) alarms.Reason {
	s, i := p.loop.look(), p.index()
	r := alarms.LoopReason{What: what, Depth: p.plan.Depth, House: alarms.Known(s.pipes[i].enters.Temperature), Outlet: alarms.Known(s.pipes[i].outlet.Temperature),
		Ground: alarms.Known(p.groundAt(due)), Stands: s.pipes[i].known && !s.pipes[i].moving}
	if p.Water.Verdict != ground.Drained {
		r.Water = p.Water.Verdict.String()
	}
	if t, ok := p.Decline.Trend(); ok {
		r.Drift, r.Days = math.Round(t.Over*100)/100, t.Days
	}
	out := alarms.Reason{Value: r.Outlet, Loop: &r}
	switch what {
	case alarms.NoFlow:
		out.Since = p.Follow.Since
	case alarms.WetPipe:
		out.Since, out.Value = p.Water.Since, alarms.Known(s.pipes[i].outlet.Humidity)
	}
	return out
}

func (p *pipe) index() int {
	for i, one := range p.loop.pipes {
		if one == p {
			return i
		}
	}
	return 0
}

// whyDay tells of the day that has just ended.
func (l *Loop) whyDay() alarms.Reason {
	day := alarms.LoopDay{LoopEnergy: l.Last}
	for _, p := range l.pipes {
		day.Pipes = append(day.Pipes, alarms.PipeDay{Depth: p.plan.Depth, LoopEnergy: p.Last})
	}
	return alarms.Reason{Since: l.panel.Clock.At(l.DayFrom), Loop: &alarms.LoopReason{What: alarms.LoopSums, Day: &day}}
}

// whyDepth tells of the better depth now.
func (l *Loop) whyDepth(s sight, due timing.Instant) alarms.Reason {
	p := l.pipes[l.Best-1]
	leaves := p.leaving(s.house.Temperature, s.pipes[l.Best-1], due)
	return alarms.Reason{Place: p.plan.Outlet, Loop: &alarms.LoopReason{What: alarms.LoopDepth, Depth: p.plan.Depth, Outlet: alarms.Known(leaves), House: alarms.Known(s.house.Temperature),
		Ground: alarms.Known(p.groundAt(due)), Want: l.Want.String(), Gain: math.Round(math.Abs(leaves-s.house.Temperature)*100) / 100}}
}

// what is what alarm a of p is about.
func (p *pipe) what(a *lifecycle.Alarm) alarms.LoopWhat {
	switch a {
	case p.noFlow:
		return alarms.NoFlow
	case p.wet:
		return alarms.WetPipe
	}
	return alarms.Declining
}

// Title says what of p an alarm is about.
func (p *pipe) Title(a *lifecycle.Alarm, s *alarms.Subject) { s.Loop = p.what(a) }
