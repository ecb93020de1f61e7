package alarms

import (
	"fmt"
	"slices"

	"telltale/alarms/control"
)

// mechanism is a thermostat of a house and its drives at work, or the drives
// that none drives. It holds what happens against the dial.
type mechanism struct {
	engine  *Engine
	house   *house
	plan    *Control // nil: drives that no thermostat drives
	place   *place   // whose temperature the thermostat feels; nil with plan
	drives  []*Drive
	judge   *control.Judge
	timer   *timer
	follows *timer         // end of the time in which a shutter may follow its fan
	sense   *control.Sense // infers whether the exhaust fan runs; nil: evidence shows it
	guess   int            // the drive it infers
	found   map[foundKey]*finding
	order   []*finding // in the order in which they were first found
	log     []*alarm   // by drive: carries its switchings

	reserved int  // of the timers of its verdicts
	adopted  bool // a state of another plan: alarms are to follow it
}

// foundKey names a verdict: of a drive, or with drive -1 of a stage.
type foundKey struct {
	kind  control.FindingKind
	drive int
	stage int
}

// finding is a verdict that was found at least once.
type finding struct {
	key   foundKey
	alarm *alarm
	last  control.Finding
}

// evidenceOf says which reading of a stream is evidence of what.
type evidenceOf struct {
	m     *mechanism
	drive int
	index int
}

func (e *Engine) buildMechanisms(h *house) {
	taken := map[DriveID]bool{}
	for i := range h.plan.Controls {
		c := &h.plan.Controls[i]
		var drives []*Drive
		for _, id := range h.plan.driven(c) {
			if !taken[id] {
				taken[id] = true
				drives = append(drives, h.plan.drive(id))
			}
		}
		h.mechanisms = append(h.mechanisms, e.buildMechanism(h, c, drives))
	}
	var loose []*Drive
	for i := range h.plan.Drives {
		if d := &h.plan.Drives[i]; !taken[d.ID] {
			loose = append(loose, d)
		}
	}
	if len(loose) > 0 {
		h.mechanisms = append(h.mechanisms, e.buildMechanism(h, nil, loose))
	}
}

// driven lists the drives of c's stages and those that must run with them.
func (h *House) driven(c *Control) []DriveID {
	var ids []DriveID
	for _, s := range c.Stages {
		for _, id := range s.Drives {
			ids = append(ids, id)
			if d := h.drive(id); d != nil {
				ids = append(ids, d.With...)
			}
		}
	}
	return ids
}

func (h *House) drive(id DriveID) *Drive {
	for i := range h.Drives {
		if h.Drives[i].ID == id {
			return &h.Drives[i]
		}
	}
	return nil
}

func (e *Engine) buildMechanism(h *house, c *Control, drives []*Drive) *mechanism {
	m := &mechanism{engine: e, house: h, plan: c, drives: drives, found: map[foundKey]*finding{}}
	if c != nil {
		m.place = h.place(c.Place)
	}
	var err error
	spec := m.spec()
	if m.judge, err = control.NewJudge(spec); err != nil {
		panic(fmt.Sprintf("control %s: the plan was checked, yet %v", m.key(), err))
	}
	m.timer = e.timers.build(func(due instant) { e.tell(m, m.judge.Advance(control.Moment(due)), due) })
	m.follows = e.timers.build(func(due instant) { m.respeak(due) })
	m.reserved = e.timers.reserve(alarmTimerCount * findingKinds * (len(drives) + len(spec.Stages)))
	m.buildSense()
	for i, d := range drives {
		m.log = append(m.log, e.newAlarm(&alarm{
			id: h.id(PlaceID(d.ID), "switching"), rule: RuleSwitching, house: h, works: m, priority: always(Low),
			why: func(Move, instant) Reason { return Reason{Drive: d.ID, Switched: switchedOf(m.log[i].switched)} },
		}))
		for k, ev := range d.Evidence {
			if st := e.streams[streamKey{ev.Probe, ev.Quantity}]; st != nil {
				st.evidence = append(st.evidence, evidenceOf{m, i, k})
			}
		}
	}
	return m
}

// buildSense infers where nothing shows whether the exhaust fan runs.
func (m *mechanism) buildSense() {
	for i, d := range m.drives {
		if m.place != nil && d.Kind == ExhaustFan && len(d.Evidence) == 0 {
			s := control.New(control.Options{Latitude: m.house.plan.Latitude})
			m.sense, m.guess = &s, i
			return
		}
	}
}

func (h *house) place(id PlaceID) *place {
	for _, p := range h.places {
		if p.plan.ID == id {
			return p
		}
	}
	return nil
}

// spec puts the plan into the judge's plain numbers.
func (m *mechanism) spec() control.Spec {
	var s control.Spec
	if m.plan != nil {
		for _, st := range m.plan.Stages {
			s.Stages = append(s.Stages, m.stageSpec(&st))
		}
	}
	for _, d := range m.drives {
		s.Drives = append(s.Drives, m.driveSpec(d))
	}
	return s
}

func (m *mechanism) stageSpec(st *Stage) control.StageSpec {
	s := control.StageSpec{Mode: control.Cooling, On: st.SetPoint, Off: st.SetPoint - st.Differential, Tolerance: st.Tolerance}
	if st.Mode == Heating {
		s.Mode, s.Off = control.Heating, st.SetPoint+st.Differential
	}
	s.Drives = m.indices(st.Drives)
	return s
}

// indices finds drives among those of m; others are left out.
func (m *mechanism) indices(ids []DriveID) []int {
	var all []int
	for _, id := range ids {
		for i, d := range m.drives {
			if d.ID == id {
				all = append(all, i)
			}
		}
	}
	return all
}

var driveKinds = map[DriveKind]control.DriveKind{
	ExhaustFan: control.ExhaustFan, IntakeShutter: control.IntakeShutter, LoopFan: control.LoopFan,
	Heater: control.Heater, CirculatingFan: control.CirculatingFan,
}

var evidenceKinds = map[Quantity]control.What{
	Contact: control.Contact, Current: control.Current, Power: control.Power, Speed: control.Power, Temperature: control.Duct,
}

func (m *mechanism) driveSpec(d *Drive) control.DriveSpec {
	s := control.DriveSpec{
		Kind: driveKinds[d.Kind], Start: d.Start, Stop: d.Stop, Effect: d.Effect, MaxStarts: d.MaxStarts,
		With: m.indices(d.With), Without: m.indices(d.Never),
	}
	for _, ev := range d.Evidence {
		what := evidenceKinds[ev.Quantity]
		if d.Kind == IntakeShutter && what == control.Contact {
			what = control.EndSwitch
		}
		s.Evidence = append(s.Evidence, control.EvidenceSpec{
			What: what, Above: ev.Above.Value, Inverted: ev.Inverted, UsualLow: ev.UsualLow.Value, UsualHigh: ev.UsualHigh.Value,
		})
	}
	return s
}

// arrangement is what season and selectors want of m's drives now.
func (m *mechanism) arrangement() control.Arrangement {
	var a control.Arrangement
	if m.plan != nil {
		for _, st := range m.plan.Stages {
			a.Acts = append(a.Acts, len(st.Seasons) == 0 || slices.Contains(st.Seasons, m.house.Season))
		}
	}
	for _, d := range m.drives {
		a.Wants = append(a.Wants, m.want(d))
	}
	return a
}

// want is what is wanted of d: the season's bar first, then the selectors,
// then the season's running, then the thermostat.
func (m *mechanism) want(d *Drive) control.Want {
	if slices.Contains(d.Barred, m.house.Season) {
		return control.Want{Wish: control.Barred}
	}
	for i := range m.house.plan.Selectors {
		if pos := m.house.position(i); pos != nil {
			switch {
			case slices.Contains(pos.Off, d.ID):
				return control.Want{Wish: control.Rest}
			case slices.Contains(pos.On, d.ID):
				return control.Want{Wish: control.Run}
			case slices.Contains(pos.Follow, d.ID):
				return control.Want{Wish: control.Follow}
			}
		}
	}
	for _, r := range d.Runs {
		if r.Season != m.house.Season {
			continue
		}
		switch {
		case r.OnFor > 0:
			return control.Want{Wish: control.ByTurns, OnFor: r.OnFor, OffFor: r.OffFor}
		case r.On:
			return control.Want{Wish: control.Run}
		}
		return control.Want{Wish: control.Free}
	}
	if m.plan == nil {
		return control.Want{Wish: control.Free}
	}
	return control.Want{Wish: control.Follow}
}
