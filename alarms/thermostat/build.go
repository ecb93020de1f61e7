package thermostat

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// Build makes the thermostats of h.
func Build(h House, panel *lifecycle.Panel) (all []*Thermostat) {
	plan := h.Plan()
	taken := map[alarms.DriveID]bool{}
	for i := range plan.Controls {
		c := &plan.Controls[i]
		if slices.ContainsFunc(all, func(m *Thermostat) bool { return slices.Contains(m.controls, c) }) {
			continue
		}
		controls, ids := together(plan, c)
		var drives []*alarms.Drive
		for _, id := range ids {
			if d := plan.Drive(id); d != nil {
				taken[id], drives = true, append(drives, d)
			}
		}
		all = append(all, build(h, panel, controls, drives))
	}
	var loose []*alarms.Drive
	for i := range plan.Drives {
		if d := &plan.Drives[i]; !taken[d.ID] {
			loose = append(loose, d)
		}
	}
	if len(loose) > 0 {
		all = append(all, build(h, panel, nil, loose))
	}
	return all
}

func build(h House, panel *lifecycle.Panel, controls []*alarms.Control, drives []*alarms.Drive) *Thermostat {
	m := &Thermostat{house: h, panel: panel, controls: controls, drives: drives, found: map[foundKey]*finding{}}
	for _, c := range controls {
		m.setDials(c)
	}
	for _, b := range m.bulbs {
		if b.quantity == alarms.Temperature && m.place == nil {
			m.place = b.place
		}
	}
	spec := m.spec()
	m.judge = control.NewJudge(spec)
	m.timer = panel.Timers.Build(func(due timing.Instant) { m.tell(m.judge.Advance(due), due) })
	m.follows = panel.Timers.Build(m.Respeak)
	m.reserved = panel.Timers.Reserve(lifecycle.TimerCount * findingKinds * (len(drives) + len(spec.Stages)))
	m.buildSense()
	for i, d := range drives {
		log := &driveLog{m: m, drive: i}
		log.alarm = h.Alarm(lifecycle.Alarm{
			ID: m.id(string(d.ID), "switching"), Kind: alarms.RuleSwitching, Priority: lifecycle.Always(alarms.Low),
			Because: func(alarms.Move, timing.Instant) alarms.Reason {
				return alarms.Reason{Drive: d.ID, Switched: log.newest()}
			},
		}, log)
		m.log = append(m.log, log)
		for k, ev := range d.Evidence {
			h.Show(ev.Probe, ev.Quantity, Evidence{m, i, k})
		}
	}
	return m
}

// together lists c and the thermostats that have to do with its drives, and all
// their drives: those of their stages and those that one of these must or must not
// run with, first c's own.
func together(h *alarms.House, c *alarms.Control) (controls []*alarms.Control, drives []alarms.DriveID) {
	controls = []*alarms.Control{c}
	add := func(id alarms.DriveID) {
		if !slices.Contains(drives, id) {
			drives = append(drives, id)
		}
	}
	for next, seen := 0, 0; next < len(controls) || seen < len(drives); {
		if next < len(controls) {
			for _, s := range controls[next].Stages {
				for _, id := range s.Drives {
					add(id)
					if d := h.Drive(id); d != nil {
						for _, with := range d.With {
							add(with)
						}
					}
				}
			}
			next++
			continue
		}
		bound(h, drives[seen], add)
		for i := range h.Controls {
			if o := &h.Controls[i]; !slices.Contains(controls, o) && switches(o, drives[seen]) {
				controls = append(controls, o)
			}
		}
		seen++
	}
	return controls, drives
}

// bound tells of the drives that id must or must not run with, or they with it.
func bound(h *alarms.House, id alarms.DriveID, tell func(alarms.DriveID)) {
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
func switches(c *alarms.Control, id alarms.DriveID) bool {
	return slices.ContainsFunc(c.Stages, func(s alarms.Stage) bool { return slices.Contains(s.Drives, id) })
}
