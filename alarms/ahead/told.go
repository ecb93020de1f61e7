package ahead

import (
	"cmp"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/outlook"
	"telltale/alarms/timing"
)

// why says what is expected of s, or why that is not told any more.
func (s *side) why(m alarms.Move, due timing.Instant) alarms.Reason {
	host := s.place.host
	l := s.alarm.Condition
	if m == alarms.Return || l == alarms.Within {
		l = s.alarm.Worst
	}
	w := s.at(max(l, alarms.Outer))
	r := alarms.Reason{Value: host.Present(s.of).Value, Rate: host.Rate(s.of), Ahead: &alarms.AheadReason{}}
	if w.Limit.Set {
		limit := w.Limit.Value
		r.Limit = &limit
	}
	if m == alarms.Return || m == alarms.Release {
		peak := s.alarm.Peak.Value
		r.Peak, r.Ahead.Ended = &peak, cmp.Or(s.ended, alarms.AheadTurned)
		r.Since = s.place.panel.Clock.At(s.place.heard)
		return r
	}
	if m == alarms.Suppress {
		if host.LimitAlarm(s.of).State.Aside() {
			r.Ahead.Ended = alarms.AheadAside
		}
		return r
	}
	if from := s.holdsFrom(int(max(l, alarms.Outer) - alarms.Outer)); from != 0 {
		r.Ahead.Holds = s.place.panel.Clock.At(from)
	}
	middle, low, high, ok := host.Temperature()
	if ok && s.place.course != nil && w.Limit.Set {
		off := s.furthest(low, high) - middle
		r.Ahead.Likely, r.Ahead.Soon, r.Ahead.Middle, r.Ahead.Late = s.expect(due, w.Limit.Value-off)
	}
	if id, since := host.Against(s.of); id != "" {
		r.Ahead.Drive, r.Ahead.Runs = id, s.place.panel.Clock.At(due).Sub(since)
	}
	return r
}

// expect is how likely a temperature is reached within the farthest horizon, and in how
// long: sooner in one case of ten, in the middle, later in one of ten.
func (s *side) expect(due timing.Instant, limit float64) (likely float64, soon, middle, late time.Duration) {
	seen := s.place.course.Look(due.UTC())
	if seen.Lacks != outlook.Nothing {
		return 0, 0, 0, 0
	}
	reach := seen.Reach(s.index(), limit)
	when := func(share float64) time.Duration { return seen.When(s.index(), limit, share).Truncate(time.Second) }
	return reach[len(reach)-1], when(0.1), when(0.5), when(0.9)
}

// Rests reports whether it has become unlikely, though for too short a while to say so.
func (s *side) Rests(a *lifecycle.Alarm, _ timing.Instant) bool {
	w := s.at(max(a.Condition, alarms.Outer))
	return !w.Reached && w.Calm > 0
}

// InHand is the time until the limit is reached, at the soonest.
func (s *side) InHand(a *lifecycle.Alarm, now timing.Instant) (h lifecycle.Hand) {
	w := s.at(max(a.Condition, alarms.Outer))
	middle, low, high, ok := s.place.host.Temperature()
	v := s.furthest(low, high)
	from := s.holdsFrom(int(max(a.Condition, alarms.Outer) - alarms.Outer))
	if !ok || !w.On || from == 0 && s.of.Sign()*v >= s.of.Sign()*w.Limit.Value || s.place.course.Lacks(now.UTC()) != outlook.Nothing {
		return h
	}
	seen, limit := s.place.course.Look(s.place.heard.UTC()), w.Limit.Value-(v-middle)
	if reach := seen.Reach(s.index(), limit); !(reach[len(reach)-1] > 0) {
		return h
	}
	soon := seen.When(s.index(), limit, 0.1).Truncate(time.Second)
	return lifecycle.Hand{Until: max(s.place.heard.Add(soon), from), Limit: w.Limit.Value}
}

// Facts are who tries what in the house meanwhile.
func (s *side) Facts(a *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	if !a.Over(t) {
		f.Trials = s.place.host.Trials()
	}
}

// First is what to look at first.
func (s *side) First(_ *lifecycle.Alarm, r *alarms.Reason, f *alarms.First) {
	s.place.host.First(r, f)
}

// Aside lets be told what the warning speaks for, or no longer.
func (s *side) Aside(_ *lifecycle.Alarm, now timing.Instant) { s.place.LimitMoved(s.of, now) }

// Present is the value that is furthest out.
func (s *side) Present(*lifecycle.Alarm) alarms.Present { return s.place.host.Present(s.of) }
