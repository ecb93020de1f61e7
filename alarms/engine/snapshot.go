package engine

import (
	"encoding/json"
	"fmt"
	"slices"

	"telltale/alarms"
	"telltale/alarms/ahead"
	"telltale/alarms/leave"
	"telltale/alarms/lifecycle"
	"telltale/alarms/loop"
	"telltale/alarms/thermostat"
	"telltale/alarms/timing"
)

// snapshotVersion changes when an older snapshot can no longer be read.
const snapshotVersion = 1

// snapshot is the whole state of an engine.
type snapshot struct {
	Version int                                `json:"version"`
	Now     timing.Instant                     `json:"now"`
	Started bool                               `json:"started"`
	Clock   timing.Clock                       `json:"clock"`
	Hearing timing.Hearing                     `json:"hearing"`
	Link    linkState                          `json:"link"`
	Houses  map[alarms.HouseID]houseState      `json:"houses"`
	Probes  map[alarms.ProbeID]probeState      `json:"probes"`
	Streams map[string]streamState             `json:"streams"`
	Points  map[string]pointState              `json:"points"`
	Nodes   map[alarms.AlarmID]nodeState       `json:"nodes"`
	Alarms  map[alarms.AlarmID]lifecycle.Saved `json:"alarms"`
	Trouble map[alarms.AlarmID]troubleState    `json:"trouble"`

	Exposures   map[alarms.AlarmID]savedExposure `json:"exposures,omitempty"`
	Loops       map[alarms.HouseID]loop.Saved    `json:"loops,omitempty"`
	Thermostats map[string]thermostat.Saved      `json:"mechanisms,omitempty"`
	Openings    map[alarms.AlarmID]openingState  `json:"openings,omitempty"`

	Ahead map[alarms.HouseID]map[alarms.PlaceID]*ahead.Saved `json:"ahead,omitempty"`
	Airs  map[alarms.HouseID]savedAir                        `json:"airs,omitempty"`

	Leaves []leave.Kept `json:"leaves,omitempty"`

	Plan   string                 `json:"plan,omitempty"`   // tells it from another
	Counts map[alarms.AlarmID]int `json:"counts,omitempty"` // of alarms that the plan does not name any more
}

// Snapshot returns the whole state, to be given to Restore.
func (e *Engine) Snapshot() ([]byte, error) {
	if e.former != nil {
		return slices.Clone(e.former.saved), nil
	}
	s := snapshot{
		Version: snapshotVersion, Now: e.panel.Now, Started: e.started, Clock: e.panel.Clock, Hearing: e.panel.Timers.Hearing, Link: e.link.linkState,
		Houses: map[alarms.HouseID]houseState{}, Probes: map[alarms.ProbeID]probeState{}, Streams: map[string]streamState{},
		Points: map[string]pointState{}, Nodes: map[alarms.AlarmID]nodeState{}, Alarms: map[alarms.AlarmID]lifecycle.Saved{},
		Trouble: map[alarms.AlarmID]troubleState{}, Exposures: map[alarms.AlarmID]savedExposure{}, Loops: map[alarms.HouseID]loop.Saved{},
		Thermostats: map[string]thermostat.Saved{}, Openings: map[alarms.AlarmID]openingState{}, Ahead: map[alarms.HouseID]map[alarms.PlaceID]*ahead.Saved{}, Airs: map[alarms.HouseID]savedAir{}, Leaves: e.leaves.Save(), Plan: e.print(), Counts: e.panel.Counts,
	}
	for id, t := range e.trouble {
		s.Trouble[id] = t.troubleState
	}
	s.Link.Due, s.Link.SteadyDue = e.link.delay.Due, e.link.steady.Due
	for _, h := range e.houses {
		hs := h.houseState
		hs.ChangeDue = h.calendar.change.Due
		hs.MidnightDue = h.midnight.Due
		s.Houses[h.plan.ID] = hs
		for _, one := range h.parts {
			one.save(&s)
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
		}
		for _, st := range h.streams {
			s.Streams[st.key()] = st.save()
		}
		for _, n := range h.nodes {
			s.Nodes[n.alarm.ID] = n.save()
		}
	}
	for _, a := range e.order {
		if a.State != alarms.Normal || a.Count > 0 || a.Condition != alarms.Within || a.Peak.At != 0 {
			s.Alarms[a.ID] = a.Save()
		}
	}
	return json.Marshal(s)
}

// Restore builds an engine for p in the state that Snapshot took. If that was
// under another plan, each thing goes on as what has its name in p, and the
// first Step after it also returns what the change brought about: what was on
// and is not in p any more has ended, what p judges otherwise is judged again,
// and no hold of before delays what begins now. Until then a snapshot is the
// one that was restored.
func Restore(p alarms.Plan, saved []byte) (*Engine, error) {
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
	e.panel.Clock = s.Clock
	e.start(s.Now)
	e.panel.Timers.Hearing = s.Hearing
	for id, n := range s.Counts {
		e.panel.Counts[id] = n
	}
	e.link.linkState = s.Link
	e.link.Due, e.link.SteadyDue = 0, 0
	e.panel.Timers.Set(e.link.delay, s.Link.Due)
	e.panel.Timers.Set(e.link.steady, s.Link.SteadyDue)
	for id, t := range e.trouble {
		t.troubleState = s.Trouble[id]
	}
	for _, h := range e.houses {
		for _, st := range h.streams {
			st.probe.makeFaults(e, s)
		}
		for _, one := range h.parts {
			one.recall(s)
		}
	}
	for _, a := range e.order {
		if as, ok := s.Alarms[a.ID]; ok {
			a.Load(as)
		} else {
			a.GoOn()
		}
	}
	for _, h := range e.houses {
		h.loadHouse(s, replanned)
	}
	e.leaves.Load(s.Leaves)
	e.respokenAll(s.Now)
}

// makeFaults makes the late alarms of p that s has something of.
func (p *probe) makeFaults(e *Engine, s *snapshot) {
	for f := range faultCount {
		if _, ok := s.Alarms[p.faultID(f)]; ok {
			p.faultAlarm(e, f)
		}
	}
	if _, ok := s.Alarms[p.calibrationID()]; ok {
		p.calibrationLog(e)
	}
}

func (h *house) loadHouse(s *snapshot, replanned bool) {
	if hs, ok := s.Houses[h.plan.ID]; ok {
		h.loadDays(hs, replanned)
	}
	for _, st := range h.streams {
		if ss, ok := s.Streams[st.key()]; ok {
			h.e.loadStream(st, ss)
		}
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
	}
	for _, one := range h.parts {
		one.load(s, replanned)
	}
	if !replanned {
		h.loadSilences(s.Nodes)
	} else {
		dark := h.reviseStreams(s)
		h.loadSilences(s.Nodes)
		h.reviseSilences(dark, s.Now)
	}
	for _, p := range h.places {
		p.look()
	}
	h.loadLosses()
}

// loadDays takes the state of a house. Under another plan the days, and with
// them the limits, are those of the new one at once: what start found holds.
func (h *house) loadDays(s houseState, replanned bool) {
	if replanned {
		s = s.replanned(h)
	} else {
		h.e.panel.Timers.Set(h.calendar.change, s.ChangeDue)
		t := h.settled
		if c := h.calendar.settled; s.SeasonBefore == s.Season && (c.Due == 0 || c.Due == s.SettledDue) {
			t = c // day or night has changed
		}
		h.e.panel.Timers.Set(t, s.SettledDue)
		h.e.panel.Timers.Set(h.midnight, s.MidnightDue)
	}
	s.MidnightDue, s.ChangeDue = 0, 0
	h.houseState = s
	h.takeLimits()
}

// replanned leaves of s what a plan that is not its own can go on with.
func (s houseState) replanned(h *house) houseState {
	if !slices.Contains(alarms.Seasons, s.Season) {
		s.Season = h.plan.Season
	}
	s.Daypart, s.Before, s.SeasonBefore, s.Settling, s.SettledDue = h.Daypart, h.Daypart, s.Season, false, 0
	selected := map[alarms.SelectorID]string{}
	for i := range h.plan.Selectors {
		one := &h.plan.Selectors[i]
		if at := s.Selected[one.ID]; slices.ContainsFunc(one.Positions, func(p alarms.Position) bool { return p.Name == at }) {
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
