package alarms

import "slices"

// inForce merges the bands of p for q that hold in season and daypart: each
// limit from the most specific band that sets it, the rest from the most
// specific band of all; of equally specific ones from the first.
func (p *Place) inForce(q Quantity, season Season, part Daypart) (merged Band, ok bool) {
	most := -1
	var by [4]int // how specific the band is that each limit comes from, and one more
	var limits Limits
	for i := range p.Bands {
		b := &p.Bands[i]
		if b.Quantity != q || !b.holds(season, part) {
			continue
		}
		specific := b.specific()
		if specific > most {
			most, merged = specific, *b
		}
		for k, l := range b.all() {
			if l.Set && specific >= by[k] {
				by[k] = specific + 1
				*limits.all()[k] = *l
			}
		}
	}
	merged.Limits = limits
	return merged, most >= 0
}

func (b *Band) holds(season Season, part Daypart) bool {
	return (len(b.Seasons) == 0 || slices.Contains(b.Seasons, season)) && (b.When == Always || b.When == part)
}

func (b *Band) specific() int {
	n := 0
	if len(b.Seasons) > 0 {
		n += 2
	}
	if b.When != Always {
		n++
	}
	return n
}

func (l *Limits) all() [4]*Limit { return [4]*Limit{&l.LowLow, &l.Low, &l.High, &l.HighHigh} }

// looser returns for each limit the one that allows more: for low and high
// that is none where one of the two is not set. Low-low and high-high stand
// for harm: of them the one that is set holds.
func looser(a, b Limits) Limits {
	harm := func(x, y Limit, sign float64) Limit {
		if !x.Set || (y.Set && sign*y.Value > sign*x.Value) {
			return y
		}
		return x
	}
	comfort := func(x, y Limit, sign float64) Limit {
		if !x.Set || !y.Set {
			return Limit{}
		}
		return harm(x, y, sign)
	}
	return Limits{
		LowLow: harm(a.LowLow, b.LowLow, -1), Low: comfort(a.Low, b.Low, -1),
		High: comfort(a.High, b.High, +1), HighHigh: harm(a.HighHigh, b.HighHigh, +1),
	}
}

// inForce returns the band in force of pt. What changes with daypart or season is
// found when it is asked for.
func (pt *point) inForce() *Band {
	if h := pt.place.house; pt.taken == 0 || pt.turns && pt.taken != h.turned {
		pt.taken = h.turned
		pt.band = pt.merge()
	}
	return &pt.band
}

// takeLimits is when it was found what holds in h.
func (h *house) takeLimits() {
	h.turned++
	for _, pt := range h.wary { // so that a change can be told
		pt.inForce()
	}
}

// merge returns the band in force of pt.
func (pt *point) merge() Band {
	p, h := pt.place, pt.place.house
	b, ok := p.plan.inForce(pt.quantity, h.Season, h.Daypart)
	if !ok || h.Settling {
		old, had := p.plan.inForce(pt.quantity, h.SeasonBefore, h.Before)
		switch {
		case !ok: // what held before lends its delays for the way back
			old.Limits = Limits{}
			b = old
		case had:
			b.Limits = looser(b.Limits, old.Limits)
		}
	}
	return b
}

// turns reports whether b does not hold always.
func (b *Band) turns() bool { return b.When != Always || len(b.Seasons) > 0 }

// turns reports whether x does not count always.
func (x *Exposure) turns() bool { return x.When != Always || len(x.Seasons) > 0 }

// judgesAs reports whether b judges as o does.
func (b *Band) judgesAs(o *Band) bool {
	return b.Limits == o.Limits && b.Deadband == o.Deadband && b.Delay == o.Delay && b.QuickDelay == o.QuickDelay &&
		b.ClearDelay == o.ClearDelay && b.Priority == o.Priority && b.Worst == o.Worst
}

// findTurning notes whether the band of pt changes with daypart or season, and
// the strictest limits that it may ever have.
func (pt *point) findTurning() {
	s := &pt.strictest
	for i := range pt.place.plan.Bands {
		b := &pt.place.plan.Bands[i]
		if b.Quantity != pt.quantity {
			continue
		}
		pt.turns = pt.turns || b.turns()
		for _, l := range [...]Limit{b.Low, b.LowLow} {
			if l.Set && (!s.Low.Set || l.Value > s.Low.Value) {
				s.Low = l
			}
		}
		for _, l := range [...]Limit{b.High, b.HighHigh} {
			if l.Set && (!s.High.Set || l.Value < s.High.Value) {
				s.High = l
			}
		}
	}
	if pt.turns {
		pt.beWary(true)
	}
}

// beWary notes whether pt must be looked at when its limits change: it would not
// be calm by the strictest of them. So a change is the business of few.
func (pt *point) beWary(on bool) {
	h := pt.place.house
	switch {
	case on && pt.wary == 0:
		h.wary = append(h.wary, pt)
		pt.wary = len(h.wary)
	case !on && pt.wary != 0:
		last := h.wary[len(h.wary)-1]
		h.wary[pt.wary-1], last.wary = last, pt.wary
		h.wary, pt.wary = h.wary[:len(h.wary)-1], 0
	}
}

// changeLimits lets season and daypart of h be others from now on.
func (e *Engine) changeLimits(h *house, season Season, part Daypart, now instant) {
	h.SeasonBefore, h.Before = h.Season, h.Daypart
	h.Season, h.Daypart = season, part
	if h.Settling = h.calendar.Settle > 0; h.Settling {
		h.SettledDue = now.add(h.calendar.Settle)
	}
	e.judgeAnew(h, now)
	e.owedAll(h, now)
	e.arrange(h, now)
	e.judgeOpenings(h, now)
}

// endSettling ends the time in which the looser limits hold in h, unless another
// change has made it longer.
func (e *Engine) endSettling(h *house, due instant) {
	if h.Settling && h.SettledDue <= due {
		h.Settling, h.SettledDue = false, 0
		e.judgeAnew(h, due)
		e.judgeOpenings(h, due)
	}
}

// judgeAnew judges in h by the limits now in force where that changes anything.
func (e *Engine) judgeAnew(h *house, now instant) {
	h.turned++
	for i := len(h.wary) - 1; i >= 0; i-- { // of which judging may take one out
		pt := h.wary[i]
		if was := pt.band; !pt.inForce().judgesAs(&was) {
			e.judgeSides(pt, now)
		}
	}
	for _, x := range h.exposures {
		if x.plan.turns() {
			e.expose(x, now)
		}
	}
}

func (e *Engine) setSeason(id HouseID, s Season, now instant) {
	for _, h := range e.houses {
		if h.plan.ID != id || h.Season == s || !slices.Contains(Seasons, s) {
			continue
		}
		e.changeLimits(h, s, h.Daypart, now)
		e.timers.set(h.settled, h.SettledDue)
		h.Outdoors.Inside = nil // of vents as they were
		h.Proposed = h.proposal(now)
		e.showProposal(h, now)
		e.note(h.season, now)
	}
}
