package ahead

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
	"telltale/alarms/timing"
)

// drawn is what was seen at the last reading, for the picture.
type drawn struct {
	at   timing.Instant
	seen *outlook.Outlook
}

// see looks ahead from the last reading.
func (p *Place) see() *outlook.Outlook {
	if p.drawn.seen == nil {
		p.drawn.seen = new(outlook.Outlook)
	}
	if p.drawn.at != p.heard {
		p.drawn.at, *p.drawn.seen = p.heard, p.course.Look(p.heard.UTC())
	}
	return p.drawn.seen
}

// Picture is what is expected of p now.
func (p *Place) Picture() *alarms.OutlookPicture {
	now := p.panel.Now
	o := &alarms.OutlookPicture{Lacks: outlook.Days, Record: p.record.sum(now), Days: p.drawDays()}
	if p.course == nil {
		return o
	}
	if o.Lacks = p.course.Lacks(now.UTC()); o.Lacks != outlook.Nothing {
		return o
	}
	seen := p.see()
	if o.Lacks = seen.Lacks; o.Lacks != outlook.Nothing {
		return o
	}
	o.At = p.panel.Clock.At(p.heard)
	for h, in := range outlook.Horizons {
		high, low := seen.Sides[outlook.Highest][h].Quantiles, seen.Sides[outlook.Lowest][h].Quantiles
		o.Ahead = append(o.Ahead, alarms.AheadPicture{In: in, Highest: high[:], Lowest: low[:]})
	}
	o.Limits = p.drawLimits(seen)
	return o
}

// drawLimits is how likely each limit is reached, the low ones first.
func (p *Place) drawLimits(seen *outlook.Outlook) []alarms.LimitOutlook {
	middle, low, high, ok := p.host.Temperature()
	if !ok {
		return nil
	}
	var all []alarms.LimitOutlook
	for i := range p.sides {
		s := &p.sides[i]
		off := s.furthest(low, high) - middle
		for l := range s.levels {
			limit, from := p.host.Limit(s.of, level(l)), time.Duration(0)
			if w := &s.levels[l]; w.stands() && s.holdsFrom(l) != 0 {
				limit, from = w.Limit, s.holdsFrom(l).Since(p.heard)
			}
			if !limit.Set {
				continue
			}
			reach := seen.Reach(s.index(), limit.Value-off)
			one := alarms.LimitOutlook{Side: s.of, Level: level(l), Limit: limit.Value, Likely: reach[:], Warned: s.warns(level(l))}
			one.Soon = max(seen.When(s.index(), limit.Value-off, 0.1), from)
			one.Middle = max(seen.When(s.index(), limit.Value-off, 0.5), from)
			one.Late = max(seen.When(s.index(), limit.Value-off, 0.9), from)
			all = append(all, one)
		}
	}
	return all
}

// warns reports whether it is told now that a limit of s is likely to be reached.
func (s *side) warns(l alarms.Level) bool {
	return s.alarm != nil && s.alarm.State.Active() && s.alarm.Condition >= l && s.at(l).stands()
}
