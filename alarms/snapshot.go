package alarms

import (
	"encoding/json"
	"fmt"
	"slices"
)

// snapshotVersion changes when an older snapshot can no longer be read.
const snapshotVersion = 1

// snapshot is the whole state of an engine.
type snapshot struct {
	Version int                      `json:"version"`
	Now     instant                  `json:"now"`
	Started bool                     `json:"started"`
	Clock   wallClock                `json:"clock"`
	Hearing hearing                  `json:"hearing"`
	Link    linkState                `json:"link"`
	Houses  map[HouseID]houseState   `json:"houses"`
	Probes  map[ProbeID]probeState   `json:"probes"`
	Streams map[string]streamState   `json:"streams"`
	Points  map[string]pointState    `json:"points"`
	Nodes   map[AlarmID]nodeState    `json:"nodes"`
	Alarms  map[AlarmID]savedAlarm   `json:"alarms"`
	Trouble map[AlarmID]troubleState `json:"trouble"`

	Exposures  map[AlarmID]savedExposure `json:"exposures,omitempty"`
	Loops      map[HouseID]savedLoop     `json:"loops,omitempty"`
	Mechanisms map[string]savedMechanism `json:"mechanisms,omitempty"`
	Openings   map[AlarmID]openingState  `json:"openings,omitempty"`

	Plan   string          `json:"plan,omitempty"`   // tells it from another
	Counts map[AlarmID]int `json:"counts,omitempty"` // of alarms that the plan does not name any more
}

// Snapshot returns the whole state, to be given to Restore.
func (e *Engine) Snapshot() ([]byte, error) {
	if e.former != nil {
		return slices.Clone(e.former.saved), nil
	}
	s := snapshot{
		Version: snapshotVersion, Now: e.now, Started: e.started, Clock: e.clock, Hearing: e.timers.hearing, Link: e.link.linkState,
		Houses: map[HouseID]houseState{}, Probes: map[ProbeID]probeState{}, Streams: map[string]streamState{},
		Points: map[string]pointState{}, Nodes: map[AlarmID]nodeState{}, Alarms: map[AlarmID]savedAlarm{},
		Trouble: map[AlarmID]troubleState{}, Exposures: map[AlarmID]savedExposure{}, Loops: map[HouseID]savedLoop{},
		Mechanisms: map[string]savedMechanism{}, Openings: map[AlarmID]openingState{}, Plan: e.print(), Counts: e.counts,
	}
	for id, t := range e.trouble {
		s.Trouble[id] = t.troubleState
	}
	s.Link.Due, s.Link.SteadyDue = e.link.delay.due, e.link.steady.due
	for _, h := range e.houses {
		hs := h.houseState
		hs.ChangeDue = h.calendar.change.due
		hs.MidnightDue = h.midnight.due
		for _, m := range h.mechanisms {
			s.Mechanisms[m.key()] = m.save()
		}
		for _, o := range h.openings {
			s.Openings[o.alarm.id] = o.openingState
		}
		s.Houses[h.plan.ID] = hs
		if h.loop != nil {
			s.Loops[h.plan.ID] = e.saveLoop(h.loop)
		}
		for _, p := range h.places {
			for _, pr := range p.probes {
				ps := pr.probeState
				ps.At = p.key()
				s.Probes[pr.plan.ID] = ps
			}
			for _, pt := range p.points {
				s.Points[pt.key()] = pt.save()
			}
			for _, x := range p.exposures {
				s.Exposures[x.alarm.id] = x.save()
			}
		}
		for _, st := range h.streams {
			s.Streams[st.key()] = st.save()
		}
		for _, n := range h.nodes {
			s.Nodes[n.alarm.id] = n.save()
		}
	}
	for _, a := range e.order {
		if a.State != Normal || a.Count > 0 || a.Condition != Within || a.Peak.At != 0 {
			s.Alarms[a.id] = a.save()
		}
	}
	return json.Marshal(s)
}

// Restore builds an engine for p in the state that Snapshot took. If that was
// under another plan, each thing goes on as what has its name in p, and the
// first Step after it also returns what the change brought about: what was on
// and is not in p any more has ended, what p judges otherwise is judged anew,
// and no hold of before delays what begins now. Until then a snapshot is the
// one that was restored.
func Restore(p Plan, saved []byte) (*Engine, error) {
	var s snapshot
	if err := json.Unmarshal(saved, &s); err != nil {
		return nil, fmt.Errorf("snapshot cannot be read: %w", err)
	}
	if s.Version != snapshotVersion {
		return nil, fmt.Errorf("snapshot has version %d, want %d", s.Version, snapshotVersion)
	}
	e, err := New(p)
	if err != nil {
		return nil, err
	}
	if !s.Started {
		return e, nil
	}
	replanned := s.Plan != e.print()
	e.load(&s, replanned)
	if replanned {
		e.remember(&s, saved)
	}
	return e, nil
}

func (e *Engine) load(s *snapshot, replanned bool) {
	e.clock = s.Clock
	e.start(s.Now)
	e.timers.hearing = s.Hearing
	for id, n := range s.Counts {
		e.counts[id] = n
	}
	e.link.linkState = s.Link
	e.link.Due, e.link.SteadyDue = 0, 0
	e.timers.set(e.link.delay, s.Link.Due)
	e.timers.set(e.link.steady, s.Link.SteadyDue)
	for id, t := range e.trouble {
		t.troubleState = s.Trouble[id]
	}
	for _, h := range e.houses {
		for _, st := range h.streams {
			e.makeFaults(st.probe, s)
		}
		for _, m := range h.mechanisms {
			m.makeFound(m.savedIn(s.Mechanisms))
		}
	}
	for _, a := range e.order {
		if as, ok := s.Alarms[a.id]; ok {
			e.loadAlarm(a, as)
		} else {
			e.goOn(a)
		}
	}
	for _, h := range e.houses {
		e.loadHouse(h, s, replanned)
	}
	e.respokenAll(s.Now)
}

// makeFaults makes the late alarms of p that s has something of.
func (e *Engine) makeFaults(p *probe, s *snapshot) {
	for f := range faultCount {
		if _, ok := s.Alarms[p.faultID(f)]; ok {
			e.faultAlarm(p, f)
		}
	}
	if _, ok := s.Alarms[p.calibrationID()]; ok {
		e.calibrationLog(p)
	}
}

func (e *Engine) loadHouse(h *house, s *snapshot, replanned bool) {
	if hs, ok := s.Houses[h.plan.ID]; ok {
		e.loadDays(h, hs, replanned)
	}
	if ls, ok := s.Loops[h.plan.ID]; ok && h.loop != nil {
		e.loadLoop(h.loop, ls, replanned)
	}
	for _, st := range h.streams {
		if ss, ok := s.Streams[st.key()]; ok {
			e.loadStream(st, ss)
		}
	}
	for _, m := range h.mechanisms {
		m.load(m.savedIn(s.Mechanisms))
	}
	for _, o := range h.openings {
		o.load(s.Openings[o.alarm.id], s.Now)
	}
	for _, p := range h.places {
		for _, pr := range p.probes {
			pr.probeState = s.Probes[pr.plan.ID]
			pr.At = ""
		}
		for _, pt := range p.points {
			if ps, ok := s.Points[pt.key()]; ok {
				pt.load(ps, replanned)
			}
		}
		for _, x := range p.exposures {
			if xs, ok := s.Exposures[x.alarm.id]; ok {
				e.loadExposure(x, xs, replanned)
			}
		}
	}
	if !replanned {
		e.loadSilences(h, s.Nodes)
	} else {
		dark := e.reviseStreams(h, s)
		e.loadSilences(h, s.Nodes)
		e.reviseSilences(h, dark, s.Now)
	}
	for _, p := range h.places {
		p.look()
	}
	h.loadLosses()
}

// loadDays takes the state of a house. Under another plan the days, and with
// them the limits, are those of the new one at once: what start found holds.
func (e *Engine) loadDays(h *house, s houseState, replanned bool) {
	if replanned {
		s = s.replanned(h)
	} else {
		e.timers.set(h.calendar.change, s.ChangeDue)
		t := h.settled
		if c := h.calendar.settled; s.SeasonBefore == s.Season && (c.due == 0 || c.due == s.SettledDue) {
			t = c // day or night has changed
		}
		e.timers.set(t, s.SettledDue)
		e.timers.set(h.midnight, s.MidnightDue)
	}
	s.MidnightDue, s.ChangeDue = 0, 0
	h.houseState = s
	h.takeLimits()
}

// replanned leaves of s what a plan that is not its own can go on with.
func (s houseState) replanned(h *house) houseState {
	if !slices.Contains(Seasons, s.Season) {
		s.Season = h.plan.Season
	}
	s.Daypart, s.Before, s.SeasonBefore, s.Settling, s.SettledDue = h.Daypart, h.Daypart, s.Season, false, 0
	selected := map[SelectorID]string{}
	for i := range h.plan.Selectors {
		one := &h.plan.Selectors[i]
		if at := s.Selected[one.ID]; slices.ContainsFunc(one.Positions, func(p Position) bool { return p.Name == at }) {
			selected[one.ID] = at
		}
	}
	if s.Selected = selected; len(selected) == 0 {
		s.Selected = nil
	}
	return s
}

func (st *stream) key() string { return string(st.probe.plan.ID) + "/" + string(st.plan.Quantity) }

func (pt *point) key() string {
	return string(pt.place.house.id(pt.place.plan.ID, string(pt.quantity)))
}
