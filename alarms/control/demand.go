package control

import (
	"slices"
	"time"

	"telltale/alarms/timing"
)

// demand is what is asked of a drive: by season and people, by its own stages, and by
// those of the drives that it opens for.
type demand struct {
	want   Want
	all    []*stage  // of the thermostat
	own    []*stage  // that drive it
	stages []*stage  // those, and what drives what it opens for
	opens  []*demand // of the drives that must not run without it
	bulb   int       // by which it is judged where no stage is meant
	home   *series   // what that feels
}

// said is what is asked of it alone, if anything is.
func (q *demand) said() (said Call, heard bool) {
	if q.want.Wish != Follow {
		return q.want.call(), true
	}
	for _, s := range q.own {
		if s.acting {
			said, heard = either(said, s.certain(), heard), true
		}
	}
	return said, heard
}

// call says whether the drive is called.
func (q *demand) call() Call {
	said, heard := q.said()
	if q.want.Wish != Follow {
		return said
	}
	for _, f := range q.opens {
		if c, any := f.said(); any {
			said, heard = either(said, c, heard), true
		}
	}
	return said
}

// asked reports whether the dial asks for the drive, whatever season and selectors say.
func (q *demand) asked() bool {
	return slices.ContainsFunc(q.stages, func(s *stage) bool { return !s.out() && (s.certain() == Called || s.Calls) })
}

// idle reports whether no cooling stage that could need the drive calls.
func (q *demand) idle() bool {
	return !slices.ContainsFunc(q.stages, func(s *stage) bool {
		return s.spec.Mode == Cooling && !s.out() && s.Certain != NotCalled
	})
}

// contacts is how many pairs of contacts that feel a temperature drive it.
func (q *demand) contacts() (n int) {
	for _, s := range q.stages {
		if (s.twin == nil || s.twin.index < s.index) && !s.spec.Mode.Humid() { // of two that take turns the later one
			n++
		}
	}
	return n
}

// more reports whether another of several stages may be to come.
func (q *demand) more() bool {
	return q.contacts() > 1 && slices.ContainsFunc(q.stages, func(s *stage) bool {
		return !s.spec.Mode.Humid() && s.acting && !s.Calls && s.Certain != Called
	})
}

// lag is the longest of the bulbs that drive it.
func (q *demand) lag() (lag time.Duration) {
	if q.want.Wish == ByHours {
		return 0
	}
	for _, s := range q.stages {
		if s.acting {
			lag = max(lag, s.spec.Lag)
		}
	}
	return lag
}

// stage returns the acting stage that calls by the dial, else the first acting one,
// else nil.
func (q *demand) stage() (first *stage) {
	for _, s := range q.stages {
		switch {
		case !s.acting:
		case s.Calls:
			return s
		case first == nil:
			first = s
		}
	}
	return first
}

// last is the last call as the dial has it, stage -1 for none.
func (q *demand) last() call {
	c := call{Stage: -1}
	if q.want.Wish == ByHours && q.want.Hours.On {
		c.Called = q.want.Hours.Since
	}
	if q.want.Wish != Follow {
		return c
	}
	if s := q.stage(); s != nil {
		if c.Stage = s.index; s.Passed != 0 {
			c.Called, c.CalledT = s.Passed, s.PassedTemp
		}
	}
	return c
}

// at returns a stage by its index, nil for none.
func (q *demand) at(index int) *stage {
	if index < 0 || index >= len(q.all) {
		return nil
	}
	return q.all[index]
}

// felt is what is felt where a stage hangs.
func (q *demand) felt(s *stage) *series {
	if s == nil {
		return q.home
	}
	return s.felt
}

// readAt is when the last reading came on which the call rests: that the drive should
// run on one of its bulbs, that it should not on all of them.
func (q *demand) readAt(called bool) timing.Instant {
	if called {
		return q.felt(q.stage()).last()
	}
	oldest, any := timing.Instant(0), false
	for _, s := range q.stages {
		if at := s.felt.last(); s.acting && (!any || at < oldest) {
			oldest, any = at, true
		}
	}
	if !any {
		return q.home.last()
	}
	return oldest
}

// idles reports whether it is not called for certain at a moment after the last readings
// either: where these are far apart a house can go through a whole cycle between two.
func (q *demand) idles(at timing.Instant) bool {
	return q.want.Wish != Follow || !slices.ContainsFunc(q.stages, func(s *stage) bool { return s.acting && !s.idles(at) })
}

// doubtful reports whether it may have been called between the last two readings, which
// came now, though it was not for certain at either.
func (q *demand) doubtful(now timing.Instant) bool {
	return q.want.Wish == Follow && slices.ContainsFunc(q.stages, func(s *stage) bool { return s.acting && s.doubted == now })
}

// needs are what the house needs that the drive could give, where that is not known as
// far as it may.
func (q *demand) needs(frosty bool) (s Sign) {
	for _, st := range q.stages {
		unknown := NeedsAir
		if st.spec.Mode == Heating {
			unknown = NeedsWarmth
		} else if frosty {
			unknown = 0
		}
		s |= st.needs(unknown)
	}
	return s
}

// witness returns the stage whose switch points the drive would show, nil for none, as
// for one that feels humidity, of which too little is known: the acting stage that
// drives it, of several of one mode the one that switches it on first and off last.
func (q *demand) witness() (found *stage) {
	for _, s := range q.stages {
		switch {
		case !s.acting:
		case found == nil:
			found = s
		case s.spec.Mode != found.spec.Mode, s.twin == found:
			return nil
		case (s.spec.On < found.spec.On) == (s.spec.Mode == Cooling):
			found = s
		}
	}
	if found != nil && found.spec.Mode.Humid() {
		return nil
	}
	return found
}
