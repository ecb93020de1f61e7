package alarms

import "slices"

// InForce merges the bands of p for q that hold in season and daypart: each
// limit from the most specific band that sets it, the rest from the most
// specific band of all.
func (p *Place) InForce(q Quantity, season Season, part Daypart) (merged Band, ok bool) {
	most, by := p.holding(q, season, part)
	if most == nil {
		return Band{}, false
	}
	merged = *most
	merged.Limits = Limits{}
	for k, b := range by {
		if b != nil {
			*merged.All()[k] = *b.All()[k]
		}
	}
	return merged, true
}

// holding returns the most specific band of p for q that holds in season and
// daypart, and by which band each limit is given, nil for none; of equally specific
// ones the first.
func (p *Place) holding(q Quantity, season Season, part Daypart) (most *Band, by [4]*Band) {
	for i := range p.Bands {
		b := &p.Bands[i]
		if b.Quantity != q || !b.Holds(season, part) {
			continue
		}
		if most == nil || b.specific() > most.specific() {
			most = b
		}
		for k, l := range b.All() {
			if l.Set && (by[k] == nil || b.specific() > by[k].specific()) {
				by[k] = b
			}
		}
	}
	return most, by
}

// Holds reports whether b holds in season and daypart.
func (b *Band) Holds(season Season, part Daypart) bool {
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

// All are the limits of l, lowest first.
func (l *Limits) All() [4]*Limit { return [4]*Limit{&l.LowLow, &l.Low, &l.High, &l.HighHigh} }

// Looser returns for each limit the one that allows more: for low and high
// that is none where one of the two is not set. Low-low and high-high stand
// for harm: of them the one that is set holds.
func Looser(a, b Limits) Limits {
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

// Turns reports whether b does not hold always.
func (b *Band) Turns() bool { return b.When != Always || len(b.Seasons) > 0 }

// Turns reports whether x does not count always.
func (x *Exposure) Turns() bool { return x.When != Always || len(x.Seasons) > 0 }

// JudgesAs reports whether b judges as o does.
func (b *Band) JudgesAs(o *Band) bool {
	return b.Limits == o.Limits && b.Deadband == o.Deadband && b.Delay == o.Delay && b.QuickDelay == o.QuickDelay &&
		b.ClearDelay == o.ClearDelay && b.Priority == o.Priority && b.Worst == o.Worst
}
