package ahead

import (
	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/outlook"
	"telltale/alarms/timing"
)

// side is one side of a place: its two limits, and the warning that they share.
type side struct {
	lifecycle.Plain
	place  *Place
	of     alarms.Side
	levels [2]warned        // outer, inner
	alarm  *lifecycle.Alarm // made when first needed
	order  int              // of its timers
	ended  alarms.AheadEnd  // of a warning that is being ended
	coming *coming          // what is told of the day, or the night, on the same side
}

// warned follows one limit.
type warned struct {
	outlook.Warning `json:"warning"`
	Limit           alarms.Limit `json:"-"`
	Chance          float64      `json:"chance,omitempty"`  // as of outlook.Outlook, by the last look
	Reached         bool         `json:"reached,omitempty"` // while warned of; until the alarm of the limit is over, or it was a touch
	Taken           bool         `json:"taken,omitempty"`   // and that alarm came
	Said            []said       `json:"said,omitempty"`    // of which it is not known yet what came of them; oldest first
}

// level is that of the i-th limit of a side.
func level(i int) alarms.Level { return alarms.Outer + alarms.Level(i) }

func (s *side) at(l alarms.Level) *warned { return &s.levels[l-alarms.Outer] }

// furthest is of the lowest and the highest the one that stands further out on the side.
func (s *side) furthest(low, high float64) float64 {
	if s.of == alarms.LowSide {
		return low
	}
	return high
}

// index is the side as package outlook counts them.
func (s *side) index() int {
	if s.of == alarms.LowSide {
		return outlook.Lowest
	}
	return outlook.Highest
}

// meet takes the limit that holds now. Where it is another one, what was said was
// of the former; a warning stands if the new one is reached sooner, else it is dropped.
func (w *warned) meet(l alarms.Limit, sign float64) (dropped bool) {
	if l == w.Limit {
		return false
	}
	stood, sooner := w.stands(), l.Set && sign*l.Value < sign*w.Limit.Value
	on := w.On && sooner
	*w = warned{Limit: l}
	w.On = on
	return stood && !on
}

// forget forgets all that was expected.
func (w *warned) forget() { *w = warned{Limit: w.Limit} }

// stands reports whether w is warned of, or was reached while it was.
func (w *warned) stands() bool { return w.On || w.Reached }

// step takes whether the limit is reached now.
func (w *warned) step(p *Place, now timing.Instant, reached bool) {
	stood := w.On
	w.Step(now.UTC(), w.Chance, reached)
	switch {
	case reached:
		w.Reached = w.Reached || stood
		p.record.came(w, now)
	case w.Reached && w.Within >= outlook.Again && !w.Taken: // too short for its alarm
		w.Reached = false
	case stood && !w.On:
		w.close(now)
	}
	p.record.expire(w, now)
}

// taken follows whether the alarm of the limit is on.
func (w *warned) taken(on bool) {
	switch {
	case on && w.Reached:
		w.Taken = true
	case w.Taken:
		w.Reached, w.Taken = false, false
	}
}

// follow brings the warning to what is expected, and to the alarm of the limit.
func (s *side) follow(due timing.Instant) {
	limit, on := s.place.host.LimitAlarm(s.of), alarms.Within
	if limit.State.Active() {
		on = max(limit.Level, limit.Condition)
	}
	want := alarms.Within
	for i := range s.levels {
		s.levels[i].taken(on >= level(i))
		if s.levels[i].stands() && on < level(i) && !limit.State.Aside() && s.place.warns() {
			want = level(i)
		}
	}
	if s.alarm == nil {
		if want == alarms.Within {
			return
		}
		s.make()
	}
	a := s.alarm
	over := a.Condition != alarms.Within && (on >= a.Condition || limit.State.Aside())
	switch {
	case over:
		if a.State != alarms.SuppressedByDesign {
			a.Apply(a.Condition, limit.ID, due)
		}
		if want != alarms.Within || limit.State.Aside() || !s.at(a.Condition).stands() {
			s.tell(want, due)
		}
	case want != a.Condition || a.State == alarms.SuppressedByDesign:
		s.tell(want, due)
	case want != alarms.Within && !s.Rests(a, due):
		a.RemindOwed(due)
	}
}

// tell brings the alarm of s to a level; from what another one said it begins anew.
func (s *side) tell(want alarms.Level, due timing.Instant) {
	a := s.alarm
	if a.State == alarms.SuppressedByDesign {
		a.Apply(alarms.Within, "", due)
	}
	if want == a.Condition {
		return
	}
	worse := want > a.Condition
	a.Apply(want, "", due)
	if w := s.at(max(want, alarms.Outer)); worse && a.State.Active() {
		w.say(due)
	}
}

// farthest is how far is looked ahead.
var farthest = outlook.Horizons[len(outlook.Horizons)-1]

// glance is what is expected of a place whose value furthest out is off from its middle.
type glance struct {
	seen *outlook.Outlook // nil: it is not looked now
	off  float64          // K
	now  timing.Instant
}

// chance is how likely a limit is reached that holds from a moment on.
func (g glance) chance(s *side, limit alarms.Limit, from timing.Instant) float64 {
	if !limit.Set {
		return 0
	}
	if from <= g.now {
		return g.seen.Chance(s.index(), limit.Value-g.off)
	}
	return g.seen.ChanceFrom(s.index(), limit.Value-g.off, from.Since(g.now))
}

// follows is the limit that a level is to follow: the one in force, or a tighter one that
// soon will be while that is likely to be reached and the other is not.
func (s *side) follows(l int, g glance) alarms.Limit {
	w, now := &s.levels[l], s.place.host.Limit(s.of, level(l))
	next, at := s.place.host.Next(s.of, level(l), farthest)
	switch {
	case at == 0 || !s.tighter(next, now):
	case w.stands() || g.seen == nil:
		if w.Limit == next {
			return next
		}
	case g.chance(s, now, g.now) < outlook.Likely && g.chance(s, next, at) >= outlook.Likely:
		return next
	}
	return now
}

// tighter reports whether limit a is passed before b.
func (s *side) tighter(a, b alarms.Limit) bool {
	return a.Set && (!b.Set || s.of.Sign()*a.Value < s.of.Sign()*b.Value)
}

// holdsFrom is from when on the limit that a level follows will hold; 0: it does.
func (s *side) holdsFrom(l int) timing.Instant {
	limit := s.levels[l].Limit
	next, at := s.place.host.Next(s.of, level(l), farthest)
	if at == 0 || limit != next || !s.tighter(next, s.place.host.Limit(s.of, level(l))) {
		return 0
	}
	return at
}

// meet takes the limits to follow, and says why what stood ends, if it does by that.
func (s *side) meet(g glance) (why alarms.AheadEnd) {
	for l := range s.levels {
		if s.levels[l].meet(s.follows(l, g), s.of.Sign()) {
			why = alarms.AheadNoLimit
		}
	}
	return why
}

// end is follow where it is known why a warning ends, if it does; "" where not.
func (s *side) end(why alarms.AheadEnd, due timing.Instant) {
	s.ended = why
	s.follow(due)
	s.ended = ""
	s.coming.follow(due)
}

// hold keeps in a, made or not, the value that is furthest out while it is on.
func (s *side) hold(a *lifecycle.Alarm, v float64, now timing.Instant) {
	if a == nil || a.Condition == alarms.Within {
		return
	}
	if a.Peak.At < a.Began || s.of.Sign()*v > s.of.Sign()*a.Peak.Value {
		a.Peak = lifecycle.Moment{Value: v, At: now}
	}
}

// make makes the alarm of s.
func (s *side) make() {
	limit := s.place.host.LimitAlarm(s.of)
	s.alarm = s.place.host.Alarm(lifecycle.Alarm{
		ID: limit.ID.Ahead(), Kind: alarms.RuleAhead, Quantity: alarms.Temperature, Side: s.of, Priority: limit.Priority, Because: s.why,
		Passing: true, Order: s.order,
	}, s)
}
