package alarms

import (
	"fmt"
	"slices"
	"time"

	"telltale/alarms/control"
)

// mechanism is thermostats of a house that share drives, or of which the drives
// must or must not run together, with these drives at work; or the drives that no
// thermostat has to do with. It holds what happens against the dials.
type mechanism struct {
	engine   *Engine
	house    *house
	controls []*Control
	place    *place // whose temperature the first of them feels; nil: none does
	dials    []dial // the judge's stages
	bulbs    []bulb // what the dials feel
	drives   []*Drive
	judge    *control.Judge
	timer    *timer
	follows  *timer         // end of the time in which a shutter may follow its fan
	sense    *control.Sense // infers whether the exhaust fan runs; nil: evidence shows it
	guess    int            // the drive it infers
	found    map[foundKey]*finding
	order    []*finding // in the order in which they were first found
	log      []*alarm   // by drive: carries its switchings

	reserved int  // of the timers of its verdicts
	adopted  bool // a state of another plan: alarms are to follow it
	restated bool // to be looked at who speaks for whom
}

// dial is a stage of a thermostat by day or, where it has a set point of its own
// then, by night.
type dial struct {
	*Stage
	control *Control
	nth     int // of the control's dials
	bulb    int
	night   bool
}

// bulb is what a dial feels.
type bulb struct {
	place    *place
	quantity Quantity
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

// at returns what the wall clock shows at a moment of the judge.
func (m *mechanism) at(t control.Moment) time.Time { return m.engine.wall(instant(t)) }

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
		if slices.ContainsFunc(h.mechanisms, func(m *mechanism) bool { return slices.Contains(m.controls, c) }) {
			continue
		}
		controls, ids := h.plan.together(c)
		var drives []*Drive
		for _, id := range ids {
			if d := h.plan.drive(id); d != nil {
				taken[id], drives = true, append(drives, d)
			}
		}
		h.mechanisms = append(h.mechanisms, e.buildMechanism(h, controls, drives))
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

// together lists c and the thermostats that have to do with its drives, and all
// their drives: those of their stages and those that one of these must or must not
// run with, first c's own.
func (h *House) together(c *Control) (controls []*Control, drives []DriveID) {
	controls = []*Control{c}
	add := func(id DriveID) {
		if !slices.Contains(drives, id) {
			drives = append(drives, id)
		}
	}
	for next, seen := 0, 0; next < len(controls) || seen < len(drives); {
		if next < len(controls) {
			for _, s := range controls[next].Stages {
				for _, id := range s.Drives {
					add(id)
					if d := h.drive(id); d != nil {
						for _, with := range d.With {
							add(with)
						}
					}
				}
			}
			next++
			continue
		}
		h.bound(drives[seen], add)
		for i := range h.Controls {
			if o := &h.Controls[i]; !slices.Contains(controls, o) && o.switches(drives[seen]) {
				controls = append(controls, o)
			}
		}
		seen++
	}
	return controls, drives
}

// bound tells of the drives that id must or must not run with, or they with it.
func (h *House) bound(id DriveID, tell func(DriveID)) {
	for i := range h.Drives {
		d := &h.Drives[i]
		switch {
		case d.ID == id:
			for _, other := range slices.Concat(d.With, d.Never) {
				tell(other)
			}
		case slices.Contains(d.With, id), slices.Contains(d.Never, id):
			tell(d.ID)
		}
	}
}

// switches reports whether a stage of c drives id.
func (c *Control) switches(id DriveID) bool {
	return slices.ContainsFunc(c.Stages, func(s Stage) bool { return slices.Contains(s.Drives, id) })
}

func (h *House) drive(id DriveID) *Drive {
	for i := range h.Drives {
		if h.Drives[i].ID == id {
			return &h.Drives[i]
		}
	}
	return nil
}

func (e *Engine) buildMechanism(h *house, controls []*Control, drives []*Drive) *mechanism {
	m := &mechanism{engine: e, house: h, controls: controls, drives: drives, found: map[foundKey]*finding{}}
	for _, c := range controls {
		m.setDials(c)
	}
	for _, b := range m.bulbs {
		if b.quantity == Temperature && m.place == nil {
			m.place = b.place
		}
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
			why: func(Move, instant) Reason { return Reason{Drive: d.ID, Switched: m.switchedOf(m.log[i].switched)} },
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
	for _, d := range m.dials {
		s.Stages = append(s.Stages, m.stageSpec(d))
	}
	s.Turns = m.turns()
	for _, d := range m.drives {
		s.Drives = append(s.Drives, m.driveSpec(d))
	}
	return s
}

// setDials adds the dials of c's stages, those of the night last, and their bulbs.
func (m *mechanism) setDials(c *Control) {
	nth := 0
	for _, night := range []bool{false, true} {
		for i := range c.Stages {
			s := &c.Stages[i]
			if night && !s.SetPointNight.Set {
				continue
			}
			b := bulb{m.house.place(c.Place), s.Mode.Quantity()}
			at := slices.Index(m.bulbs, b)
			if at < 0 {
				at, m.bulbs = len(m.bulbs), append(m.bulbs, b)
			}
			m.dials = append(m.dials, dial{s, c, nth, at, night})
			nth++
		}
	}
}

// value is what is measured where b hangs, NaN for not known.
func (b bulb) value() float64 { return b.place.mean(b.quantity) }

// turns are the pairs of dials that take turns.
func (m *mechanism) turns() (pairs [][2]int) {
	for n, night := range m.dials {
		for d, day := range m.dials[:n] {
			if day.Stage == night.Stage {
				pairs = append(pairs, [2]int{d, n})
			}
		}
	}
	return pairs
}

func (m *mechanism) stageSpec(st dial) control.StageSpec {
	on := st.At(st.night)
	s := control.StageSpec{Mode: dialModes[st.Mode], On: on, Off: on - st.Differential, Tolerance: st.Tolerance, Bulb: st.bulb}
	if !s.Mode.Above() {
		s.Off = on + st.Differential
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

var dialModes = map[Mode]control.Mode{Cooling: control.Cooling, Heating: control.Heating, Drying: control.Drying, Moistening: control.Moistening}

var driveKinds = map[DriveKind]control.DriveKind{
	ExhaustFan: control.ExhaustFan, IntakeShutter: control.IntakeShutter, LoopFan: control.LoopFan,
	Heater: control.Heater, CirculatingFan: control.CirculatingFan, GrowLight: control.GrowLight, Misting: control.Misting,
}

var evidenceKinds = map[Quantity]control.What{
	Contact: control.Contact, Current: control.Current, Power: control.Power, Speed: control.Moving, Opening: control.Moving, Temperature: control.Duct,
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
		every := time.Duration(0)
		if st := m.engine.streams[streamKey{ev.Probe, ev.Quantity}]; st != nil {
			every = st.probe.plan.Every
		}
		s.Evidence = append(s.Evidence, control.EvidenceSpec{
			What: what, Every: every, Above: ev.Above.Value, Inverted: ev.Inverted, UsualLow: ev.UsualLow.Value, UsualHigh: ev.UsualHigh.Value,
		})
	}
	return s
}

// arrangement is what season, selectors and hours want of m's drives.
func (m *mechanism) arrangement(now instant) control.Arrangement {
	var a control.Arrangement
	day, night := true, false
	if m.house.hasNights() {
		day, night = m.house.about(now)
	}
	for _, st := range m.dials {
		acts := len(st.Seasons) == 0 || slices.Contains(st.Seasons, m.house.Season) || m.house.opened(st.Stage)
		if st.SetPointNight.Set && (st.night && !night || !st.night && !day) {
			acts = false
		}
		a.Acts = append(a.Acts, acts)
	}
	for _, d := range m.drives {
		a.Wants = append(a.Wants, m.want(d, now))
	}
	return a
}

// want is what is wanted of d: the cover on its vent first, where that is known,
// else the season's bar, then the selectors, then the season's running, then the
// thermostat.
func (m *mechanism) want(d *Drive, now instant) control.Want {
	if known, on := m.house.coverOf(d.ID); on || !known && slices.Contains(d.Barred, m.house.Season) {
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
		case len(r.Hours) > 0:
			return m.byHours(d, r.Hours, now)
		case r.OnFor > 0:
			return control.Want{Wish: control.ByTurns, OnFor: r.OnFor, OffFor: r.OffFor}
		case r.On:
			return control.Want{Wish: control.Run}
		}
		return control.Want{Wish: control.Barred}
	}
	if !m.driven(d) {
		return control.Want{Wish: control.Free}
	}
	return control.Want{Wish: control.Follow}
}

// driven reports whether a stage drives d, or a drive that it must run with.
func (m *mechanism) driven(d *Drive) bool {
	return slices.ContainsFunc(m.dials, func(st dial) bool {
		return slices.Contains(st.Drives, d.ID) || slices.ContainsFunc(st.Drives, func(id DriveID) bool {
			other := m.house.plan.drive(id)
			return other != nil && slices.Contains(other.With, d.ID)
		})
	})
}
