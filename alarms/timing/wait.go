package timing

import "time"

// This file holds the one rule on waiting through times in which nothing can be
// heard: the link is down, the watch was away, its process stood still.
//
// A wait for a message (of a probe that has not been heard, of a silence whose
// extent is not known, of what stays silent after a shared silence) counts on
// through all of them and is never set back. Only: a message that was on its
// way in such a time is lost, so it does not end before one interval (a grace)
// has passed since messages can be heard again; and where they come and go so
// fast that no grace is ever over, when two graces of hearing have passed in
// all. In two intervals of hearing, however they are cut up by one gap, a probe
// that is on time is heard. Where the alarm that would tell that nothing can be
// heard was put aside, its silence speaks for nobody: then a wait ends all the
// same, though not before nothing could be heard for a grace.
//
// A delay of a condition (a limit, a rate, siblings that differ) stands still
// while nothing can be heard, and goes on with the first reading after which
// the condition still holds: see latch.stand. What counts hours (an exposure)
// keeps what it counted and counts no hour that was not seen. A verdict on a
// mechanical control needs an unbroken view of minutes: it alone begins again.

// Hearing is whether messages can be heard, and for how long they could not.
type Hearing struct {
	Blind Instant       `json:"blind,omitempty"` // since when they cannot; 0: they can
	Since Instant       `json:"since,omitempty"` // when they could again, after the last time in which they could not
	Dark  time.Duration `json:"dark,omitempty"`  // ns in which they could not, up to Since

	Untold bool `json:"untold,omitempty"` // that they cannot now: somebody put that alarm aside
}

// Shut begins a time in which nothing can be heard.
func (s *Hearing) Shut(now Instant) {
	if s.Blind == 0 {
		s.Blind = now
	}
}

// Open ends it.
func (s *Hearing) Open(now Instant) {
	if s.Blind != 0 {
		s.Dark += now.Since(s.Blind)
		s.Blind, s.Since, s.Untold = 0, now, false
	}
}

// seen is a clock that stands still while nothing can be heard.
func (s *Hearing) seen(now Instant) Instant {
	if s.Blind != 0 {
		now = min(now, s.Blind)
	}
	return now.Add(-s.Dark)
}

// Wait is where a wait began.
type Wait struct {
	From Instant `json:"from,omitempty"`
	Seen Instant `json:"seen,omitempty"` // by the clock that stands still
}

// Await begins a wait.
func (s *Hearing) Await(now Instant) Wait { return Wait{now, s.seen(now)} }

// Over returns when the wait w of length d is over, given what is known now,
// when at least d of it has passed; ok is false while that is not known,
// because nothing can be heard.
func (s *Hearing) Over(w Wait, d, grace time.Duration, now Instant) (due Instant, ok bool) {
	end := w.From.Add(d)
	heard := s.seen(now).Since(w.Seen)
	switch {
	case s.Since <= w.From && s.Blind == 0, heard >= 2*grace:
		return max(end, w.From), true
	case s.Untold:
		return max(end, s.Blind.Add(grace)), true
	case s.Blind != 0:
		return 0, false
	}
	return max(end, min(s.Since.Add(grace), now.Add(2*grace-heard))), true
}
