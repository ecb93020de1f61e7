package alarms

// What happens in one instant is judged as one thing: a value that passes two
// limits whose delays end together is raised once, at the worse; two quantities
// of a probe that fall silent together make one silence. So sides and houses
// are only noted when something about them changes, and settle looks at them
// when all deadlines of the instant have fired and its input is applied.

// review notes that the silences, unwatched places and faults of h must be
// looked at anew.
func (e *Engine) review(h *house) {
	if !h.noted {
		h.noted = true
		e.news = append(e.news, h)
	}
}

// sideChanged notes that a latch of s switched.
func (e *Engine) sideChanged(s *side) {
	if !s.noted {
		s.noted = true
		e.changed = append(e.changed, s)
	}
}

// settle looks at all that was noted, at the end of an instant.
func (e *Engine) settle(now instant) {
	for len(e.changed) > 0 || len(e.news) > 0 {
		sides, houses := e.changed, e.news
		e.changed, e.news = nil, nil
		for _, s := range sides {
			s.noted = false
			e.apply(s.alarm, s.level(), nil, now)
		}
		for _, h := range houses {
			h.noted = false
			e.reviewNow(h, now)
		}
	}
}
