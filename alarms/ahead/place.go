package ahead

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/dayahead"
	"telltale/alarms/lifecycle"
	"telltale/alarms/outlook"
	"telltale/alarms/timing"
)

const (
	every  = time.Minute                  // between looks
	stands = 15*time.Minute + time.Second // that the last reading is of the present
)

// Host is a place, as its outlook sees it.
type Host interface {
	Plan() *alarms.Place
	House() *alarms.House
	// Temperature is what is believed of it now, in °C: the middle of its probes, the
	// lowest and the highest; ok is false for none.
	Temperature() (middle, low, high float64, ok bool)
	// Limit is the one in force on a side that raises its alarm to a level.
	Limit(side alarms.Side, level alarms.Level) alarms.Limit
	// Next is the one that will be, after the next change of day and night, and from when
	// on; at is 0 where none comes within a time.
	Next(side alarms.Side, level alarms.Level, within time.Duration) (limit alarms.Limit, at timing.Instant)
	// LimitAt is the first on a side that will be in force at a moment to come.
	LimitAt(side alarms.Side, at timing.Instant) alarms.Limit
	// LimitAlarm is the alarm of the limits on a side.
	LimitAlarm(side alarms.Side) *lifecycle.Alarm
	// Alarm makes an alarm of the place, after all others.
	Alarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm
	// Against is the drive that is seen to run against a side, and since when by the
	// wall clock; "" for none.
	Against(side alarms.Side) (drive alarms.DriveID, since time.Time)
	// Rate is how fast it moves now that stands furthest out on a side, K/h; nil: not known.
	Rate(side alarms.Side) *float64
	// First is what to look at first where the limit of a side is reached.
	First(r *alarms.Reason, f *alarms.First)
	// Present is what is known of the value that is furthest out on a side.
	Present(side alarms.Side) alarms.Present
	// Trials are who tries what in the house.
	Trials() []alarms.Trial
}

// Place is a place whose temperature has limits.
type Place struct {
	host   Host
	panel  *lifecycle.Panel
	course *outlook.Course  // nil: nothing was heard yet
	days   *dayahead.Course // likewise
	heard  timing.Instant   // last
	looked timing.Instant
	blind  *timing.Timer // end of the time for which the last reading stands, while anything waits for it
	sides  [2]side       // low, high
	coming [2]coming     // by sides
	record record
	drawn  drawn
}

// New returns the outlook of a place with a limit of its temperature.
func New(h Host, panel *lifecycle.Panel) *Place {
	p := &Place{host: h, panel: panel}
	p.blind = panel.Timers.Build(p.lose)
	for i, of := range []alarms.Side{alarms.LowSide, alarms.HighSide} {
		p.sides[i] = side{place: p, of: of, order: panel.Timers.Reserve(lifecycle.TimerCount)}
	}
	for i := range p.coming {
		c := &p.coming[i]
		*c = coming{place: p, side: &p.sides[i], order: panel.Timers.Reserve(lifecycle.TimerCount)}
		c.over = panel.Timers.Build(c.pass)
		c.side.coming = c
	}
	return p
}

// ID is the place that p is of.
func (p *Place) ID() alarms.PlaceID { return p.host.Plan().ID }

// begin begins to learn of the next hours.
func (p *Place) begin() *outlook.Course {
	h := p.host.House()
	return outlook.New(h.Latitude, h.Longitude)
}

// beginDays begins to learn of days and nights.
func (p *Place) beginDays() *dayahead.Course {
	h := p.host.House()
	return dayahead.New(h.Latitude, h.Longitude, h.Day.Zone)
}

// Reading takes what is believed of the place after a reading there.
func (p *Place) Reading(now timing.Instant) {
	middle, low, high, ok := p.host.Temperature()
	if !ok {
		return
	}
	if p.course == nil {
		p.course = p.begin()
	}
	if p.days == nil {
		p.days = p.beginDays()
	}
	p.course.Wall(p.panel.Clock.Ahead)
	p.course.Reading(now.UTC(), middle)
	p.days.Reading(now.UTC(), p.panel.Clock.Ahead, middle)
	p.heard = now
	looks := p.looked == 0 || now.Since(p.looked) >= every
	if looks || p.waits() {
		p.judge(now, looks, middle, low, high)
	}
	if looks {
		p.foresee(now)
	}
	for i := range p.coming {
		c := &p.coming[i]
		c.side.hold(c.alarm, c.side.furthest(low, high), now)
	}
	if p.waits() {
		p.panel.Timers.Set(p.blind, now.Add(stands))
	}
}

// judge follows the limits, with a new look or by the last one.
func (p *Place) judge(now timing.Instant, looks bool, middle, low, high float64) {
	var seen outlook.Outlook
	if looks {
		p.looked, seen = now, p.course.Look(now.UTC())
		if seen.Lacks != outlook.Nothing {
			p.forget(now)
			return
		}
	}
	for i := range p.sides {
		s := &p.sides[i]
		v := s.furthest(low, high)
		look := glance{off: v - middle, now: now}
		if looks {
			look.seen = &seen
		}
		why := s.meet(look)
		for l := range s.levels {
			w := &s.levels[l]
			if !w.Limit.Set {
				continue
			}
			if looks {
				w.Chance = look.chance(s, w.Limit, s.holdsFrom(l))
			}
			limit := p.host.Limit(s.of, level(l))
			w.step(p, now, limit.Set && s.of.Sign()*v >= s.of.Sign()*limit.Value)
		}
		s.end(why, now)
		s.hold(s.alarm, v, now)
		if looks && s.alarm != nil {
			s.alarm.Hasten(now)
		}
	}
}

// lose is when the last reading does not stand any more.
func (p *Place) lose(due timing.Instant) {
	if p.course != nil && p.course.Lacks(due.UTC()) != outlook.Nothing {
		p.forget(due)
	}
}

// forget ends what cannot be known any more.
func (p *Place) forget(now timing.Instant) {
	for i := range p.sides {
		s := &p.sides[i]
		for l := range s.levels {
			s.levels[l].forget()
		}
		s.end(alarms.AheadUnknown, now)
	}
}

// warns reports whether people want to be warned.
func (p *Place) warns() bool { return !p.host.Plan().NoEarlyWarning }

// waits reports whether a warning stands, or waits for what comes of it.
func (p *Place) waits() bool {
	for i := range p.sides {
		for l := range p.sides[i].levels {
			if w := &p.sides[i].levels[l]; w.stands() || len(w.Said) > 0 {
				return true
			}
		}
	}
	return false
}

// LimitMoved follows a move of the alarm of the limits on a side.
func (p *Place) LimitMoved(of alarms.Side, due timing.Instant) {
	s := p.side(of)
	s.follow(due)
	s.coming.follow(due)
}

func (p *Place) side(of alarms.Side) *side {
	if of == alarms.LowSide {
		return &p.sides[0]
	}
	return &p.sides[1]
}

// Replan brings what is on to another plan.
func (p *Place) Replan(due timing.Instant) {
	for i := range p.sides {
		s := &p.sides[i]
		s.end(s.meet(glance{now: due}), due)
	}
}
