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
	if m.plan == nil {
		return string(m.house.plan.ID)
	}
	return string(m.house.plan.ID) + "/" + string(m.plan.ID)
}

// signature names stages and drives as far as a saved state rests on them.
func (m *mechanism) signature() (stages, drives []string) {
	if m.plan != nil {
		for _, s := range m.plan.Stages {
			stages = append(stages, s.Mode.String()+" "+s.Name)
		}
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

func (m *mechanism) save() savedMechanism {
	s := savedMechanism{State: m.judge.Save(), Sense: m.sense, FollowsDue: m.follows.due, Adopted: m.adopted}
	s.Stages, s.Drives = m.signature()
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

// makeFound makes the alarms of the verdicts that s has something of.
func (m *mechanism) makeFound(s savedMechanism) {
	stages := 0
	if m.plan != nil {
		stages = len(m.plan.Stages)
	}
	for _, f := range s.Found {
		last := f.Last
		last.Drive, last.Other = m.indexOf(f.Drive), m.indexOf(f.Other)
		if f.Drive != "" && last.Drive < 0 || f.Drive == "" && (last.Stage < 0 || last.Stage >= stages) {
			continue
		}
		if last.Stage >= stages {
			last.Stage = -1
		}
		m.finding(last).last = last
	}
}

// load takes a saved state. Of another plan it takes what is still there: the
// drives that are shown as before, if the stages are the same.
func (m *mechanism) load(s savedMechanism) {
	stages, drives := m.signature()
	if slices.Equal(stages, s.Stages) && m.judge.Load(m.adopt(s, drives)) == nil {
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

// adopt puts the saved drives where the plan has them now.
func (m *mechanism) adopt(s savedMechanism, drives []string) control.State {
	if slices.Equal(drives, s.Drives) || len(s.Drives) != len(s.State.Drives) {
		return s.State
	}
	state := m.judge.Save()
	fresh := state.Drives
	state = s.State
	state.Arranged = control.Arrangement{}
	state.Drives = fresh
	for i, d := range drives {
		if k := slices.Index(s.Drives, d); k >= 0 {
			state.Drives[i] = s.State.Drives[k]
		}
	}
	return state
}

// rearrange lets a plan that wants something else of its drives have it.
func (m *mechanism) rearrange() {
	want, has := m.arrangement(), m.judge.Save().Arranged
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
