package loop

import (
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/timing"
)

// want follows what the house needs of its loop; it changes back only when
// the temperature is beyond the limit by a little.
func (l *Loop) want(house float64) ground.Want {
	warm, cool := l.plan.WarmBelow.Value, l.plan.CoolAbove.Value
	switch {
	case math.IsNaN(house):
		return l.Want
	case house < warm, l.Want == ground.Warmth && house < min(warm+wantBack, cool):
		return ground.Warmth
	case house > cool, l.Want == ground.Cooling && house > max(cool-wantBack, warm):
		return ground.Cooling
	}
	return ground.Nothing
}

// leaving returns the temperature at which air leaves or would leave p, NaN
// where that is not known, or the pipe brings nothing.
func (p *pipe) leaving(house float64, s pipeSight, now timing.Instant) float64 {
	switch {
	case p.noFlow.Condition != alarms.Within, p.shut():
		return math.NaN()
	case s.known && s.moving && !math.IsNaN(s.outlet.Temperature):
		return s.outlet.Temperature
	}
	share := p.effectiveness(loopRough)
	if share == 0 {
		share = loopUsual
	}
	return ground.Leaving(house, p.groundAt(now), share)
}

// options are the depths to choose from.
func (l *Loop) options(s sight, now timing.Instant) []ground.Option {
	var all []ground.Option
	for i, p := range l.pipes {
		open := l.Best == i+1
		if p.damper != nil || p.shut() {
			open = s.pipes[i].moving
		}
		all = append(all, ground.Option{Depth: p.plan.Depth, Leaving: p.leaving(s.house.Temperature, s.pipes[i], now), Open: open})
	}
	return all
}

// choose finds the better depth now, and notes it when it has changed for good.
func (l *Loop) choose(s sight, due timing.Instant) {
	if math.IsNaN(s.house.Temperature) {
		return
	}
	want := l.want(s.house.Temperature)
	if want != l.Want {
		l.Best = 0
	}
	l.Want = want
	l.Best = ground.Better(want, s.house.Temperature, l.options(s, due)).Best + 1
	last := l.Depths[want]
	switch {
	case want == ground.Nothing || l.Best == 0:
	case last == 0:
		l.Depths[want] = l.Best
	case l.Best == last:
		l.Held, l.Passing = 0, 0
	case l.Best != l.Passing:
		l.Held, l.Passing = 1, l.Best
	default:
		l.Held++
	}
	if l.Held >= betterSamples && l.Passing == l.Best {
		l.Depths[want], l.Held, l.Passing = l.Best, 0, 0
		l.tells = l.whyDepth(s, due)
		l.log.Write(due)
	}
}

// outlet names pipe n of l, counted from 1.
func (l *Loop) outlet(n int) alarms.PlaceID {
	if n == 0 {
		return ""
	}
	return l.pipes[n-1].plan.Outlet
}

// number is the pipe with an outlet, counted from 1; 0 for none.
func (l *Loop) number(outlet alarms.PlaceID) int {
	return 1 + slices.IndexFunc(l.pipes, func(p *pipe) bool { return p.plan.Outlet == outlet })
}

// groundAt returns the temperature that the ground should have at p's depth,
// NaN where the soil is not known.
func (p *pipe) groundAt(now timing.Instant) float64 {
	soil := p.loop.plan.Soil
	if soil == nil {
		return math.NaN()
	}
	return soil.At(p.plan.Depth, ground.Day(p.loop.panel.Clock.At(now).In(p.loop.house.Plan().Day.Zone)))
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
