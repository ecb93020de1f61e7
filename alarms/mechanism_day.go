package alarms

import (
	"slices"

	"telltale/alarms/control"
)

// position returns the position in which selector i of h is.
func (h *house) position(i int) *Position {
	s := &h.plan.Selectors[i]
	for k := range s.Positions {
		if slices.Contains(s.Positions[k].Seasons, h.Season) {
			return &s.Positions[k]
		}
	}
	at := s.At
	if set, ok := h.Selected[s.ID]; ok {
		at = set
	}
	for k := range s.Positions {
		if s.Positions[k].Name == at {
			return &s.Positions[k]
		}
	}
	return nil
}

// setSelector takes where a person says that a selector stands.
func (e *Engine) setSelector(in *Input, now instant) {
	for _, h := range e.houses {
		if h.plan.ID != in.House {
			continue
		}
		for i := range h.plan.Selectors {
			s := &h.plan.Selectors[i]
			for _, p := range s.Positions {
				if s.ID == in.Selector && p.Name == in.Position && s.Probe == "" {
					e.turnSelector(h, s, p.Name, now)
				}
			}
		}
	}
}

func (e *Engine) turnSelector(h *house, s *Selector, to string, now instant) {
	if h.Selected[s.ID] == to {
		return
	}
	selected, index := map[SelectorID]string{s.ID: to}, 0
	for i := range h.plan.Selectors {
		id := h.plan.Selectors[i].ID
		if id == s.ID {
			index = i
		} else if h.Selected[id] != "" {
			selected[id] = h.Selected[id]
		}
	}
	before := h.position(index)
	h.Selected = selected
	e.arrange(h, now)
	if h.position(index) != before {
		e.note(h.turnings[index], now)
	}
}

// buildSelectors makes what carries the log of the selectors of h.
func (e *Engine) buildSelectors(h *house) {
	for i := range h.plan.Selectors {
		s := &h.plan.Selectors[i]
		h.turnings = append(h.turnings, e.newAlarm(&alarm{
			id: h.id(PlaceID(s.ID), "turned"), rule: RulePerson, house: h, selector: s, priority: always(Low),
			why: func(Move, instant) Reason { return Reason{Affected: []string{h.position(i).Name}} },
		}))
	}
}

// readSelectors takes the position of selectors that st tells.
func (e *Engine) readSelectors(st *stream, now instant) {
	if st.plan.Quantity != Contact || !st.usable() {
		return
	}
	h := st.probe.place.house
	for i := range h.plan.Selectors {
		s := &h.plan.Selectors[i]
		if s.Probe != st.probe.plan.ID {
			continue
		}
		for _, p := range s.Positions {
			if p.Closed == (st.Value >= 0.5) {
				e.turnSelector(h, s, p.Name, now)
				break
			}
		}
	}
}

// startMechanisms sets what depends on the first moment ever seen.
func (e *Engine) startMechanisms(h *house, now instant) {
	e.beginOutdoors(h, now)
	if len(h.mechanisms) == 0 {
		return
	}
	e.arrange(h, now)
	e.timers.set(h.midnight, h.midnightAfter(now))
}

// beginDay tells the judges of h that a new day begins.
func (e *Engine) beginDay(h *house, due instant) {
	if from := e.leap(due, h, e.asleep); from != due {
		e.timers.set(h.midnight, h.midnightAfter(from))
		return
	}
	e.proposeSeason(h, due)
	for _, m := range h.mechanisms {
		e.tell(m, m.judge.Day(control.Moment(due)), due)
	}
	e.timers.set(h.midnight, h.midnightAfter(due))
}

// infer lets the temperatures say whether m's exhaust fan runs.
func (e *Engine) infer(m *mechanism, inside, outside float64, now instant) {
	if m.sense == nil {
		return
	}
	m.sense.Ahead = e.clock.Ahead
	_, change := m.sense.Step(now.utc().In(m.house.plan.Day.Zone), inside, outside)
	switch change.Kind {
	case control.NoChange:
	case control.Lost:
		e.tell(m, m.judge.Uninferred(control.Moment(now), m.guess), now)
	default:
		runs := change.Kind == control.Start
		e.tell(m, m.judge.Inferred(control.Moment(now), m.guess, runs, control.At(change.At)), now)
	}
}
