package engine

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// selectors are the selector switches of a house.
type selectors struct {
	plainPart
	h        *house
	turnings []*alarm // carry the log of its selectors
}

// position returns the position in which selector i of the house is.
func (ss *selectors) position(i int) *alarms.Position {
	s := &ss.h.plan.Selectors[i]
	for k := range s.Positions {
		if slices.Contains(s.Positions[k].Seasons, ss.h.Season) {
			return &s.Positions[k]
		}
	}
	at := s.At
	if set, ok := ss.h.Selected[s.ID]; ok {
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
func (e *Engine) setSelector(in *alarms.Input, now timing.Instant) {
	for _, h := range e.houses {
		if h.plan.ID != in.House {
			continue
		}
		for i := range h.plan.Selectors {
			s := &h.plan.Selectors[i]
			for _, p := range s.Positions {
				if s.ID == in.Selector && p.Name == in.Position && s.Probe == "" {
					h.turnSelector(s, p.Name, now)
				}
			}
		}
	}
}

func (ss *selectors) turnSelector(s *alarms.Selector, to string, now timing.Instant) {
	if ss.h.Selected[s.ID] == to {
		return
	}
	selected, index := map[alarms.SelectorID]string{s.ID: to}, 0
	for i := range ss.h.plan.Selectors {
		id := ss.h.plan.Selectors[i].ID
		if id == s.ID {
			index = i
		} else if ss.h.Selected[id] != "" {
			selected[id] = ss.h.Selected[id]
		}
	}
	before := ss.position(index)
	ss.h.Selected = selected
	ss.h.arrange(now)
	if ss.position(index) != before {
		ss.turnings[index].Write(now)
	}
}

// buildSelectors makes what carries the log of the selectors of h.
func (ss *selectors) buildSelectors() {
	for i := range ss.h.plan.Selectors {
		s := &ss.h.plan.Selectors[i]
		ss.turnings = append(ss.turnings, ss.h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
			ID: ss.h.id(alarms.PlaceID(s.ID), "turned"), Kind: alarms.RulePerson, Priority: lifecycle.Always(alarms.Low),
			Because: func(alarms.Move, timing.Instant) alarms.Reason {
				return alarms.Reason{Affected: []string{ss.position(i).Name}}
			},
		}, house: ss.h, of: selectorLog{of: s}}))
	}
}

// readSelectors takes the position of selectors that st tells.
func (st *stream) readSelectors(e *Engine, now timing.Instant) {
	if st.plan.Quantity != alarms.Contact || !st.usable() {
		return
	}
	h := st.probe.place.house
	for i := range h.plan.Selectors {
		s := &h.plan.Selectors[i]
		if s.Probe != st.probe.plan.ID {
			continue
		}
		for _, p := range s.Positions {
			if p.Closed == (st.Value >= control.Closed) {
				h.turnSelector(s, p.Name, now)
				break
			}
		}
	}
}

// selectorLog is the log of the turns of a selector.
type selectorLog struct {
	lifecycle.Log
	of *alarms.Selector
}

// Title names the selector.
func (l selectorLog) Title(_ *lifecycle.Alarm, s *alarms.Subject) { s.Selector = l.of.ID }

// draw shows the selector switches.
func (ss *selectors) draw(hp *alarms.HousePicture) {
	h := ss.h
	for i := range h.plan.Selectors {
		s := &h.plan.Selectors[i]
		p := alarms.SelectorPicture{ID: s.ID, Name: s.Name, Told: toldBy(s)}
		for _, pos := range s.Positions {
			p.Positions = append(p.Positions, pos.Name)
		}
		if pos := h.position(i); pos != nil {
			p.At = pos.Name
		}
		hp.Selectors = append(hp.Selectors, p)
	}
}

func toldBy(s *alarms.Selector) string {
	switch {
	case s.Probe != "":
		return alarms.ToldByContact
	case slices.ContainsFunc(s.Positions, func(p alarms.Position) bool { return len(p.Seasons) > 0 }):
		return alarms.ToldBySeason
	}
	return alarms.ToldByPerson
}

// A cover on a vent is known where a position of a selector names it: then that is
// the fact, and the season, which only says what is usual, says nothing of it.

// coverOf is what is known of the cover on the vent of a drive.
func (ss *selectors) coverOf(id alarms.DriveID) (known, on bool) {
	for i := range ss.h.plan.Selectors {
		if !ss.h.plan.Selectors[i].Covers(id) {
			continue
		}
		if pos := ss.position(i); pos != nil {
			return true, slices.Contains(pos.Covered, id)
		}
	}
	return false, false
}

// covers is what is known of all covers of the house together: known where they are all on
// or all off.
func (ss *selectors) covers() (known, on bool) {
	n, covered := 0, 0
	for i := range ss.h.plan.Drives {
		if k, on := ss.coverOf(ss.h.plan.Drives[i].ID); k {
			n++
			if on {
				covered++
			}
		}
	}
	return n > 0 && (covered == 0 || covered == n), covered > 0
}

func (ss *selectors) allCovers() alarms.Covers {
	known, on := ss.covers()
	return alarms.Covers{Known: known, On: on}
}
