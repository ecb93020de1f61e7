package loop

import (
	"maps"
	"math"
	"slices"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/timing"
)

// Turn takes what is set by hand at l, and counts what it brings from now on.
func (l *Loop) Turn(now timing.Instant) {
	l.hand = l.byHand()
	if key := l.hand.key(); key != l.By {
		depths := l.depthNames()
		l.DepthsBy = with(l.DepthsBy, l.By, depths)
		for i, outlet := range l.DepthsBy[key] {
			l.Depths[i] = l.number(outlet)
		}
		l.DepthsBy = with(l.DepthsBy, key, [3]alarms.PlaceID{})
		for _, p := range l.pipes {
			p.change(l.By, key)
			p.forgetDecline(now)
		}
		l.countWay(ahead(l.Day, now.UTC()))
		l.By, l.Best, l.Held, l.Passing = key, 0, 0, 0
	}
	for _, p := range l.pipes {
		p.turnPipe(now)
	}
	l.Count(now)
}

// countWay adds what a day brought so far, day, and was not added before, to what the
// loop brought in the present way.
func (l *Loop) countWay(day alarms.LoopEnergy) {
	if len(l.ways) < 2 {
		return
	}
	l.Ways = with(l.Ways, l.By, l.Ways[l.By].Plus(day).Minus(l.Counted))
	l.Counted = day
}

// forgetWays drops what is kept of ways in which the plan lets no air pass any more.
func (l *Loop) forgetWays() {
	none := func(key string) bool {
		return !slices.ContainsFunc(l.ways, func(b byHand) bool { return b.key() == key })
	}
	for _, key := range slices.Sorted(maps.Keys(l.DepthsBy)) {
		if none(key) {
			l.DepthsBy = with(l.DepthsBy, key, [3]alarms.PlaceID{})
		}
	}
	for _, p := range l.pipes {
		for _, key := range slices.Sorted(maps.Keys(p.Others)) {
			if none(key) {
				p.Others = with(p.Others, key, figures{})
			}
		}
	}
}

// change lays aside what was learned of p while air passed in one way, and goes on
// with what is known of another.
func (p *pipe) change(from, to string) {
	was := p.Others[to]
	p.Others = with(with(p.Others, from, figures{p.Decline, p.Learned}), to, figures{})
	p.Decline, p.Learned = was.Decline, was.Learned
	p.Follow, p.Water = ground.Follow{}, ground.Water{}
}

// turnPipe brings the alarms of p to what is set by hand.
func (p *pipe) turnPipe(now timing.Instant) {
	if p.shut() || p.loop.hand.up { // what was found is of air that was drawn otherwise
		p.Follow, p.Water = ground.Follow{}, ground.Water{}
		p.noFlow.Found(false, now)
		p.wet.Found(false, now)
	}
	if trend, ok := p.Decline.Trend(); p.declining.Condition != alarms.Within && !(ok && math.Abs(trend.Over) >= declineBack) {
		p.declining.Found(false, now)
	}
}
