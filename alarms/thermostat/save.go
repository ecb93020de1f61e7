package thermostat

import (
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/infer"
	"telltale/alarms/timing"
	"telltale/alarms/walk"
)

// Saved is a Thermostat in a snapshot.
type Saved struct {
	Stages []string       `json:"stages,omitempty"` // as signature names them
	Drives []string       `json:"drives,omitempty"`
	Bulbs  []string       `json:"bulbs,omitempty"`
	State  control.State  `json:"state"`
	Sense  *infer.Sense   `json:"sense,omitempty"`
	Found  []savedFinding `json:"found,omitempty"`

	FollowsDue timing.Instant `json:"follows_due,omitempty"`
	Adopted    bool           `json:"adopted,omitempty"`
}

// savedFinding is the last of a verdict. Its drives are named, since another
// plan may count them otherwise.
type savedFinding struct {
	Drive alarms.DriveID  `json:"drive,omitempty"`
	Other alarms.DriveID  `json:"other,omitempty"`
	Last  control.Finding `json:"last"`
}

// Key names m in a snapshot.
func (m *Thermostat) Key() string {
	if len(m.controls) == 0 {
		return string(m.house.Plan().ID)
	}
	return string(m.house.Plan().ID) + "/" + string(m.controls[0].ID)
}

// SavedIn finds what was saved of m: under the name of the first of its thermostats
// that had any. Early snapshots do not name the thermostat of a stage.
func (m *Thermostat) SavedIn(all map[string]Saved) Saved {
	for _, c := range m.controls {
		s, ok := all[string(m.house.Plan().ID)+"/"+string(c.ID)]
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
	return all[m.Key()]
}

// signature names stages and drives as far as a saved state rests on them.
func (m *Thermostat) signature() (stages, drives []string) {
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
func (m *Thermostat) bulbNames() []string {
	return walk.Each(m.bulbs, func(b bulb) string { return string(b.place.Plan().ID) + "/" + string(b.quantity) })
}

// places returns where each of now was before, -1 for nowhere.
func places(now, before []string) []int {
	return walk.Each(now, func(name string) int { return slices.Index(before, name) })
}

// Save returns what Load goes on from.
func (m *Thermostat) Save() Saved {
	s := Saved{State: m.judge.Save(), Sense: m.sense, FollowsDue: m.follows.Due, Adopted: m.adopted}
	s.Stages, s.Drives = m.signature()
	s.Bulbs = m.bulbNames()
	for _, v := range m.order {
		s.Found = append(s.Found, savedFinding{driveAt(m.drives, v.last.Drive), driveAt(m.drives, v.last.Other), v.last})
	}
	return s
}

func driveAt(drives []*alarms.Drive, i int) alarms.DriveID {
	if i < 0 {
		return ""
	}
	return drives[i].ID
}

func (m *Thermostat) indexOf(id alarms.DriveID) int {
	return slices.IndexFunc(m.drives, func(d *alarms.Drive) bool { return d.ID == id })
}

// Recall makes the alarms of the verdicts that s has something of, and that
// are of something the plan still has: a drive, or a stage in its place.
func (m *Thermostat) Recall(s Saved) {
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

// Load takes a saved state. Of another plan it takes what is still there: the
// stages of the same name, and the drives that are shown as before.
func (m *Thermostat) Load(s Saved) {
	if m.judge.Load(m.adopt(s)) == nil {
		if s.Sense != nil && m.sense != nil {
			*m.sense = *s.Sense
		}
		m.adopted = s.Adopted
		m.panel.Timers.Set(m.follows, s.FollowsDue)
	}
	m.rearrange()
	m.agree()
	next, _ := m.judge.Next()
	m.panel.Timers.Set(m.timer, timing.Instant(next))
}

// adopt puts the saved stages and drives where the plan has them now.
func (m *Thermostat) adopt(s Saved) control.State {
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
func (m *Thermostat) drivenAsBefore(d *alarms.Drive, now, before []string) bool {
	for i, name := range now {
		if slices.Contains(m.dials[i].Drives, d.ID) && !slices.Contains(before, name) {
			return false
		}
	}
	return true
}

// rearrange lets a plan that wants something else of its drives have it.
func (m *Thermostat) rearrange() {
	want, has := m.arrangement(m.panel.Now), m.judge.Save().Arranged
	if slices.Equal(want.Acts, has.Acts) && slices.Equal(want.Wants, has.Wants) {
		return
	}
	for _, f := range m.judge.Arrange(m.panel.Now, want).Findings {
		m.finding(f).last = f
		m.adopted = true
	}
}

// agree ends the verdicts that the judge does not hold any more. Their alarms
// follow with the next thing that m hears.
func (m *Thermostat) agree() {
	holds := map[foundKey]bool{}
	for _, f := range m.judge.Holding() {
		holds[keyOf(f)] = true
	}
	for _, v := range m.order {
		if v.last.On && !holds[v.key] {
			v.last.On, v.last.Due = false, m.panel.Now
			m.adopted = true
		}
	}
}

// Replan brings what is on to a new plan.
func (m *Thermostat) Replan(due timing.Instant) {
	m.Respeak(due)
	m.adopted = false
}
