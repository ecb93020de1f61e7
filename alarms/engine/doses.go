package engine

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/exposure"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// told returns what x has come to at a moment.
func (x *exposed) told(due timing.Instant) alarms.ExposureReason {
	m, p := x.meter.Ahead(int64(due)), x.plan
	r := alarms.ExposureReason{ID: p.ID, Says: p.Says, Time: m.Exposed(), Limit: p.Time, DegreeHours: m.Dose(),
		LimitDegreeHours: p.DegreeHours, Window: p.Window, Gap: p.Gap, Days: p.Days, Nights: p.Nights,
		Running: m.Run, Unknown: m.Unseen(), Source: p.Source, Morning: p.Morning, Also: x.also, With: x.with}
	if x.telling { // what was reached may be over by now
		r.Time, r.DegreeHours = max(r.Time, r.Limit), max(r.DegreeHours, r.LimitDegreeHours)
	}
	return r
}

func (x *exposed) why(due timing.Instant) alarms.Reason {
	told := x.told(due)
	l, _, _ := x.plan.Bound()
	r := alarms.Reason{Limit: &l.Value, Exposure: &told}
	var buf [8]voice
	vs, _ := x.heard(due, buf[:0])
	v := x.worst(vs)
	if x.word.lost {
		r.Lost = x.word.losses(x.muteAt(due))
	}
	if v == nil {
		return r
	}
	if x.missed(vs) {
		_, v = x.word.wait(vs, 0)
		r.Probe = v.of[0].probe.plan.ID
	}
	if v.doubt != "" {
		r.Fault, r.Probe = v.doubt, v.of[0].probe.plan.ID
	}
	value := v.now
	r.Value = &value
	return r
}

func (x *exposed) drawExposure(e *Engine) alarms.ExposurePicture {
	told := x.told(e.panel.Now)
	return alarms.ExposurePicture{Alarm: x.alarm.ID, Quantity: x.plan.Quantity, Reached: x.alarm.Condition != alarms.Within || x.owed, ExposureReason: told}
}

// Title names the exposure.
func (x *exposed) Title(_ *lifecycle.Alarm, s *alarms.Subject) { s.Exposure = x.plan.ID }

// Names keep the exposure as it was.
func (x *exposed) Names(_ *lifecycle.Alarm, o *alarms.Names) { o.Exposure = x.plan }

// Facts are on whose word it rests, and whether it does harm.
func (x *exposed) Facts(_ *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	x.point.wordFacts(t, f)
	f.Reached = x.meter.Reached || x.telling
}

// First is what to look at first.
func (x *exposed) First(_ *lifecycle.Alarm, r *alarms.Reason, f *alarms.First) {
	x.point.place.lookFirst(r, f)
}

// Present is the worst value, and how far it is beyond.
func (x *exposed) Present(a *lifecycle.Alarm) alarms.Present {
	e := x.point.place.house.e
	p := presentValue(e, x.point, a.Side)
	var buf [8]voice
	vs, _ := x.heard(e.panel.Now, buf[:0])
	if v := x.worst(vs); v != nil && v.doubt != "" && !x.point.quantity.Derived() {
		p.doubted(e, v.of[0], v.now)
	}
	if l, sign, _ := x.plan.Bound(); l.Set {
		p.beyond(l.Value, sign)
	}
	return p.Present
}

// Rests reports whether the harm that was done grows no more.
func (x *exposed) Rests(_ *lifecycle.Alarm, now timing.Instant) bool {
	c, _, _ := x.sense(now)
	return c == exposure.Within || c == exposure.Aside
}

// What an exposure reaches after noon or by night is told in the morning, as one.

// waitsForDay reports whether what x has reached at a moment is not told before
// the next morning: by night, and in the afternoon, of which the night is a part.
// Where no day begins for long, as in a polar night, it is told.
func (x *exposed) waitsForDay(e *Engine, at timing.Instant) bool {
	h := x.place.house
	if !x.plan.Morning {
		return false
	}
	begins, ok := h.nextPart(at, alarms.Day)
	if !ok || begins.Since(at) > 24*time.Hour {
		return false
	}
	if h.Daypart == alarms.Night {
		return true
	}
	began, _, ok := h.calendar.LastTurn(e.panel.Clock.At(at), 24*time.Hour)
	ends, sure := h.nextPart(at, alarms.Night)
	return ok && sure && ends.Since(at) < e.panel.Clock.At(at).Sub(began)
}

// owedAll reports what is owed in the house, whose day has begun.
func (ds *doses) owedAll(now timing.Instant) {
	for _, x := range ds.exposures {
		if x.owed && !x.waitsForDay(ds.h.e, now) {
			x.place.tellOwed(ds.h.e, now)
		}
	}
}

// tellOwed tells all that is owed at p as one: the damp night is one cause. Of
// what is told together the one of the highest priority speaks, the first in the
// plan of equals, and names the others.
func (p *place) tellOwed(e *Engine, now timing.Instant) {
	var speaker *exposed
	var owed []*exposed
	for _, x := range p.exposures {
		if !x.owed {
			continue
		}
		owed = append(owed, x)
		if !x.alarm.State.Aside() && (speaker == nil || x.plan.Priority > speaker.plan.Priority) {
			speaker = x
		}
	}
	for _, x := range owed {
		x.owed, x.telling = false, true
		if x != speaker && speaker != nil {
			x.with = speaker.plan.ID
			if !x.alarm.State.Aside() {
				speaker.also = append(speaker.also, x.plan.Says)
			}
		}
	}
	for _, x := range owed {
		x.alarm.Apply(alarms.Outer, "", now)
	}
	for _, x := range owed {
		x.telling, x.also, x.with = false, nil, ""
		if !x.meter.Reached && !x.unsaid() {
			x.alarm.Apply(alarms.Within, "", now)
		}
	}
}

// doses are the exposures of all places of a house.
type doses struct {
	plainPart
	h         *house
	exposures []*exposed // of all its places
}

// start begins to count at the first moment ever seen.
func (ds *doses) start(now timing.Instant) {
	for _, x := range ds.exposures {
		x.expose(ds.h.e, now)
	}
}

func (ds *doses) save(s *snapshot) {
	for _, x := range ds.exposures {
		s.Exposures[x.alarm.ID] = x.save()
	}
}

func (ds *doses) load(s *snapshot, replanned bool) {
	for _, x := range ds.exposures {
		if xs, ok := s.Exposures[x.alarm.ID]; ok {
			x.loadExposure(ds.h.e, xs, replanned)
		}
	}
}

func (ds *doses) replan(due timing.Instant) {
	for _, x := range ds.exposures {
		x.alarm.Found(x.meter.Reached, due)
	}
}

// nightfall returns when the next night begins, a day later where none does.
func (ds *doses) nightfall(after timing.Instant) timing.Instant {
	if t, ok := ds.nextPart(after, alarms.Night); ok {
		return t
	}
	return after.Add(24 * time.Hour)
}

// nextPart returns when the next part of that kind begins.
func (ds *doses) nextPart(after timing.Instant, part alarms.Daypart) (begins timing.Instant, ok bool) {
	t := ds.h.wall.At(after)
	for range 4 {
		next, ok := ds.h.calendar.NextChange(t)
		if !ok {
			break
		}
		if ds.h.calendar.PartAt(next) == part {
			return ds.h.wall.Core(next), true
		}
		t = next
	}
	return 0, false
}

// loseSight says that nothing is known of the house from a moment on.
func (ds *doses) loseSight(from timing.Instant) {
	for _, x := range ds.exposures {
		x.meter.Tell(int64(from), exposure.Unknown, 0, 0)
		ds.h.e.panel.Timers.Set(x.timer, timing.Instant(x.meter.Due()))
	}
}
