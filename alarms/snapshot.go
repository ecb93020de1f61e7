package alarms

import (
	"encoding/json"
	"fmt"
)

// snapshotVersion changes when an older snapshot can no longer be read.
const snapshotVersion = 1

// snapshot is the whole state of an engine.
type snapshot struct {
	Version int                      `json:"version"`
	Now     instant                  `json:"now"`
	Started bool                     `json:"started"`
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
}

// Snapshot returns the whole state, to be given to Restore.
func (e *Engine) Snapshot() ([]byte, error) {
	s := snapshot{
		Version: snapshotVersion, Now: e.now, Started: e.started, Link: e.link.linkState,
		Houses: map[HouseID]houseState{}, Probes: map[ProbeID]probeState{}, Streams: map[string]streamState{},
		Points: map[string]pointState{}, Nodes: map[AlarmID]nodeState{}, Alarms: map[AlarmID]savedAlarm{},
		Trouble: map[AlarmID]troubleState{}, Exposures: map[AlarmID]savedExposure{}, Loops: map[HouseID]savedLoop{},
		Mechanisms: map[string]savedMechanism{},
	}
	for id, t := range e.trouble {
		s.Trouble[id] = t.troubleState
	}
	s.Link.Due = e.link.delay.due
	for _, h := range e.houses {
		hs := h.houseState
		hs.ChangeDue, hs.SettledDue, hs.HeldDue = h.change.due, h.settled.due, h.held.due
		hs.MidnightDue = h.midnight.due
		for _, m := range h.mechanisms {
			s.Mechanisms[m.key()] = m.save()
		}
		s.Houses[h.plan.ID] = hs
		if h.loop != nil {
			s.Loops[h.plan.ID] = e.saveLoop(h.loop)
		}
		for _, p := range h.places {
			for _, pr := range p.probes {
				s.Probes[pr.plan.ID] = pr.probeState
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
			s.Nodes[n.alarm.id] = n.nodeState
		}
	}
	for _, a := range e.order {
		if a.State != Normal || a.Count > 0 || a.Condition != Within {
			s.Alarms[a.id] = a.save()
		}
	}
	return json.Marshal(s)
}

// Restore builds an engine for p in the state that Snapshot took. What the
// plan no longer names is dropped; what is new in it starts normal.
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
	e.load(&s)
	return e, nil
}

func (e *Engine) load(s *snapshot) {
	e.start(s.Now)
	e.link.linkState = s.Link
	e.link.Due = 0
	e.timers.set(e.link.delay, s.Link.Due)
	for id, t := range e.trouble {
		t.troubleState = s.Trouble[id]
	}
	for _, h := range e.houses {
		for _, st := range h.streams {
			e.makeFaults(st.probe, s)
		}
		for _, m := range h.mechanisms {
			m.makeFound(s.Mechanisms[m.key()])
		}
	}
	for _, a := range e.order {
		if as, ok := s.Alarms[a.id]; ok {
			e.loadAlarm(a, as)
		}
	}
	for _, h := range e.houses {
		e.loadHouse(h, s)
	}
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

func (e *Engine) loadHouse(h *house, s *snapshot) {
	if hs, ok := s.Houses[h.plan.ID]; ok {
		h.houseState = hs
		e.timers.set(h.change, hs.ChangeDue)
		e.timers.set(h.settled, hs.SettledDue)
		e.timers.set(h.held, hs.HeldDue)
		if hs.MidnightDue != 0 { // else the plan had no mechanism yet
			e.timers.set(h.midnight, hs.MidnightDue)
		}
		h.MidnightDue = 0
		h.ChangeDue, h.SettledDue, h.HeldDue = 0, 0, 0
	}
	if ls, ok := s.Loops[h.plan.ID]; ok && h.loop != nil {
		e.loadLoop(h.loop, ls)
	}
	for _, st := range h.streams {
		if ss, ok := s.Streams[st.key()]; ok {
			e.loadStream(st, ss)
		}
	}
	for _, m := range h.mechanisms {
		m.load(s.Mechanisms[m.key()])
	}
	for _, n := range h.nodes {
		n.nodeState = s.Nodes[n.alarm.id]
	}
	for _, p := range h.places {
		for _, pr := range p.probes {
			pr.probeState = s.Probes[pr.plan.ID]
		}
		for _, pt := range p.points {
			if ps, ok := s.Points[pt.key()]; ok {
				pt.load(ps)
			}
		}
		for _, x := range p.exposures {
			if xs, ok := s.Exposures[x.alarm.id]; ok {
				e.loadExposure(x, xs)
			}
		}
	}
	e.takeLimits(h)
	for _, p := range h.places {
		p.Dark = p.darkNow()
	}
	h.findWaiting()
}

func (st *stream) key() string { return string(st.probe.plan.ID) + "/" + string(st.plan.Quantity) }

func (pt *point) key() string {
	return string(pt.place.house.id(pt.place.plan.ID, string(pt.quantity)))
}
