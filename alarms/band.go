package alarms

import (
	"slices"
	"time"

	"telltale/alarms/sun"
)

// inForce merges the bands of p for q that hold in season and daypart: each
// limit from the most specific band that sets it, the rest from the most
// specific band of all.
func (p *Place) inForce(q Quantity, season Season, part Daypart) (Band, bool) {
	var bands []Band
	for _, b := range p.Bands {
		if b.Quantity == q && b.holds(season, part) {
			bands = append(bands, b)
		}
	}
	if len(bands) == 0 {
		return Band{}, false
	}
	slices.SortStableFunc(bands, func(a, b Band) int { return b.specific() - a.specific() })
	merged := bands[0]
	for _, b := range bands[1:] {
		for i, l := range merged.all() {
			if other := *b.all()[i]; !l.Set {
				*l = other
			}
		}
	}
	return merged, true
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

// takeLimits sets the band in force of every point of h.
func (e *Engine) takeLimits(h *house) {
	for _, p := range h.places {
		for _, pt := range p.points {
			if !pt.banded {
				continue
			}
			b, ok := p.plan.inForce(pt.quantity, h.Season, h.Daypart)
			old, had := p.plan.inForce(pt.quantity, h.SeasonBefore, h.Before)
			switch {
			case !ok: // what held before lends its delays for the way back
				old.Limits = Limits{}
				pt.band = old
			case h.Settling && had:
				b.Limits = looser(b.Limits, old.Limits)
				fallthrough
			default:
				pt.band = b
			}
		}
	}
}

// changeDay turns day to night or night to day.
func (e *Engine) changeDay(h *house, due instant) {
	part := h.daypartAt(due)
	e.scheduleDay(h, due)
	if part == h.Daypart {
		return
	}
	e.changeLimits(h, h.Season, part, due)
}

func (e *Engine) changeLimits(h *house, season Season, part Daypart, now instant) {
	h.SeasonBefore, h.Before = h.Season, h.Daypart
	h.Season, h.Daypart = season, part
	h.Settling = h.plan.Day.Settle > 0
	if h.Settling {
		e.timers.set(h.settled, now.add(h.plan.Day.Settle))
	}
	e.takeLimits(h)
	e.rejudgeHouse(h, now)
	e.arrange(h, now)
}

func (e *Engine) endSettling(h *house, due instant) {
	h.Settling = false
	e.takeLimits(h)
	e.rejudgeHouse(h, due)
}

func (e *Engine) rejudgeHouse(h *house, now instant) {
	for _, p := range h.places {
		e.rejudge(p, now)
	}
}

func (e *Engine) setSeason(id HouseID, s Season, now instant) {
	for _, h := range e.houses {
		if h.plan.ID != id || h.Season == s || !slices.Contains(Seasons, s) {
			continue
		}
		e.changeLimits(h, s, h.Daypart, now)
		h.Proposed = h.proposal(now)
		e.showProposal(h, now)
		e.note(h.season, now)
	}
}

func (e *Engine) scheduleDay(h *house, now instant) {
	if next, ok := h.nextChange(now.time()); ok {
		e.timers.set(h.change, at(next))
	}
}

// daypartAt returns day from sunrise to sunset, or between the fixed hours.
func (h *house) daypartAt(now instant) Daypart {
	d := h.plan.Day
	day := false
	if d.Fixed {
		since := sinceMidnight(now.time().In(d.Zone))
		day = since >= d.Start && since < d.End
		if d.End < d.Start {
			day = since >= d.Start || since < d.End
		}
	} else {
		day = sun.IsDay(h.plan.Latitude, h.plan.Longitude, now.time())
	}
	if day {
		return Day
	}
	return Night
}

func sinceMidnight(t time.Time) time.Duration {
	return time.Duration(t.Hour())*time.Hour + time.Duration(t.Minute())*time.Minute +
		time.Duration(t.Second())*time.Second + time.Duration(t.Nanosecond())
}

// nextChange returns the next moment at which the daypart may change.
func (h *house) nextChange(now time.Time) (time.Time, bool) {
	d := h.plan.Day
	if !d.Fixed {
		return sun.NextChange(h.plan.Latitude, h.plan.Longitude, now)
	}
	local := now.In(d.Zone)
	var next time.Time
	for day := range 3 {
		for _, clock := range []time.Duration{d.Start, d.End} {
			t := time.Date(local.Year(), local.Month(), local.Day()+day, 0, 0, 0, 0, d.Zone)
			t = time.Date(t.Year(), t.Month(), t.Day(), int(clock/time.Hour), int(clock/time.Minute)%60,
				int(clock/time.Second)%60, 0, d.Zone)
			if t.After(now) && (next.IsZero() || t.Before(next)) {
				next = t
			}
		}
	}
	return next, !next.IsZero()
}
