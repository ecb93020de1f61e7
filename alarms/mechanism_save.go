package alarms

import (
	"slices"
	"strings"

	"telltale/alarms/control"
)

// savedMechanism is a mechanism in a snapshot.
type savedMechanism struct {
	Stages []string       `json:"stages,omitempty"` // as signature names them
	Drives []string       `json:"drives,omitempty"`
	Bulbs  []string       `json:"bulbs,omitempty"`
	State  control.State  `json:"state"`
	Sense  *control.Sense `json:"sense,omitempty"`
	Found  []savedFinding `json:"found,omitempty"`

	FollowsDue instant `json:"follows_due,omitempty"`
	Adopted    bool    `json:"adopted,omitempty"`
}

// savedFinding is the last of a verdict. Its drives are named, since another
// plan may count them otherwise.
type savedFinding struct {
	Drive DriveID         `json:"drive,omitempty"`
	Other DriveID         `json:"other,omitempty"`
	Last  control.Finding `json:"last"`
}

func (m *mechanism) key() string {
	if len(m.controls) == 0 {
		return string(m.house.plan.ID)
	}
	return string(m.house.plan.ID) + "/" + string(m.controls[0].ID)
}

// savedIn finds what was saved of m: under the name of the first of its thermostats
// that had any. Early snapshots do not name the thermostat of a stage.
func (m *mechanism) savedIn(all map[string]savedMechanism) savedMechanism {
	for _, c := range m.controls {
		s, ok := all[string(m.house.plan.ID)+"/"+string(c.ID)]
		if !ok {
			continue
		}
		if s.Bulbs == nil {
			s.Stages = slices.Clone(s.Stages)
			for i, name := range s.Stages {
				s.Stages[i] = string(c.ID) + " " + name
			}
		}
		return s
	}
	return all[m.key()]
}

// signature names stages and drives as far as a saved state rests on them.
func (m *mechanism) signature() (stages, drives []string) {
	for _, s := range m.dials {
		name := string(s.control.ID) + " " + s.Mode.String() + " " + s.Name
		if s.night {
			name += ", by night"
		}
		stages = append(stages, name)
	}
	for _, d := range m.drives {
		words := []string{string(d.ID), string(d.Kind)}
		for _, ev := range d.Evidence {
			words = append(words, string(ev.Probe)+"/"+string(ev.Quantity))
		}
		drives = append(drives, strings.Join(words, " "))
	}
	return stages, drives
}

// bulbNames names what the dials of m feel.
func (m *mechanism) bulbNames() (all []string) {
	for _, b := range m.bulbs {
		all = append(all, string(b.place.plan.ID)+"/"+string(b.quantity))
	}
	return all
}

// places returns where each of now was before, -1 for nowhere.
func places(now, before []string) (from []int) {
	for _, name := range now {
		from = append(from, slices.Index(before, name))
	}
	return from
}

func (m *mechanism) save() savedMechanism {
	s := savedMechanism{State: m.judge.Save(), Sense: m.sense, FollowsDue: m.follows.due, Adopted: m.adopted}
	s.Stages, s.Drives = m.signature()
	s.Bulbs = m.bulbNames()
	for _, v := range m.order {
		s.Found = append(s.Found, savedFinding{m.driveAt(v.last.Drive), m.driveAt(v.last.Other), v.last})
	}
	return s
}

func (m *mechanism) driveAt(i int) DriveID {
	if i < 0 {
		return ""
	}
	return m.drives[i].ID
}

func (m *mechanism) indexOf(id DriveID) int {
	return slices.IndexFunc(m.drives, func(d *Drive) bool { return d.ID == id })
}

// makeFound makes the alarms of the verdicts that s has something of, and that
// are of something the plan still has: a drive, or a stage in its place.
func (m *mechanism) makeFound(s savedMechanism) {
	stages, _ := m.signature()
	for _, f := range s.Found {
		last := f.Last
		last.Drive, last.Other = m.indexOf(f.Drive), m.indexOf(f.Other)
		if i := last.Stage; i >= 0 && i < len(s.Stages) {
			last.Stage = slices.Index(stages, s.Stages[i])
		} else {
			last.Stage = -1
		}
		if i := last.OtherStage; i >= 0 && i < len(s.Stages) {
			last.OtherStage = slices.Index(stages, s.Stages[i])
		}
		if f.Drive != "" && last.Drive < 0 || keyOf(last).drive < 0 && last.Stage < 0 {
			continue
		}
		m.finding(last).last = last
	}
}

// load takes a saved state. Of another plan it takes what is still there: the
// stages of the same name, and the drives that are shown as before.
func (m *mechanism) load(s savedMechanism) {
	if m.judge.Load(m.adopt(s)) == nil {
		if s.Sense != nil && m.sense != nil {
			*m.sense = *s.Sense
		}
		m.adopted = s.Adopted
		m.engine.timers.set(m.follows, s.FollowsDue)
	}
	m.rearrange()
	m.agree()
	next, _ := m.judge.Next()
	m.engine.timers.set(m.timer, instant(next))
}

// adopt puts the saved stages and drives where the plan has them now.
func (m *mechanism) adopt(s savedMechanism) control.State {
	stages, drives := m.signature()
	if bulbs := m.bulbNames(); s.Bulbs != nil && !slices.Equal(bulbs, s.Bulbs) {
		s.State = s.State.WithBulbs(places(bulbs, s.Bulbs))
	}
	if len(s.Drives) != len(s.State.Drives) || len(s.Stages) != len(s.State.Stages) {
		return s.State
	}
	if slices.Equal(stages, s.Stages) && slices.Equal(drives, s.Drives) {
		return s.State
	}
	fresh, state := m.judge.Save(), s.State
	state.Arranged = control.Arrangement{}
	state.Stages, state.Drives = fresh.Stages, fresh.Drives
	for i, name := range stages {
		if k := slices.Index(s.Stages, name); k >= 0 {
			state.Stages[i] = s.State.Stages[k]
		}
	}
	for i, name := range drives {
		if k := slices.Index(s.Drives, name); k >= 0 && m.drivenAsBefore(m.drives[i], stages, s.Stages) {
			state.Drives[i] = s.State.Drives[k]
		}
	}
	state.Restage(places(s.Stages, stages))
	return state
}

// drivenAsBefore reports whether every stage that m has for d was there before.
func (m *mechanism) drivenAsBefore(d *Drive, now, before []string) bool {
	for i, name := range now {
		if slices.Contains(m.dials[i].Drives, d.ID) && !slices.Contains(before, name) {
			return false
		}
	}
	return true
}

// rearrange lets a plan that wants something else of its drives have it.
func (m *mechanism) rearrange() {
	want, has := m.arrangement(m.engine.now), m.judge.Save().Arranged
	if slices.Equal(want.Acts, has.Acts) && slices.Equal(want.Wants, has.Wants) {
		return
	}
	for _, f := range m.judge.Arrange(control.Moment(m.engine.now), want).Findings {
		m.finding(f).last = f
		m.adopted = true
	}
}

// agree ends the verdicts that the judge does not hold any more. Their alarms
// follow with the next thing that m hears.
func (m *mechanism) agree() {
	holds := map[foundKey]bool{}
	for _, f := range m.judge.Holding() {
		holds[keyOf(f)] = true
	}
	for _, v := range m.order {
		if v.last.On && !holds[v.key] {
			v.last.On, v.last.Due = false, control.Moment(m.engine.now)
			m.adopted = true
		}
	}
}
