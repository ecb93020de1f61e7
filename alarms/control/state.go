package control

import (
	"fmt"
	"slices"

	"telltale/alarms/timing"
)

// State is all that a Judge knows, for a snapshot. It is plain data; JSON keeps
// it exactly.
type State struct {
	Now      timing.Instant `json:"now"`
	Began    timing.Instant `json:"began"`
	Temp     series         `json:"temp"`           // of the first bulb
	More     []series       `json:"more,omitempty"` // of the others
	Outside  series         `json:"outside"`
	Cold     Call           `json:"cold,omitempty"` // outside is frosty
	Arranged Arrangement    `json:"arranged"`
	Stages   []stageState   `json:"stages"`
	Drives   []driveState   `json:"drives"`
}

// WithBulbs returns s with its bulbs in another order: at each place that which was
// at from, -1 for one of which nothing is known.
func (s State) WithBulbs(from []int) State {
	was, now := append([]series{s.Temp}, s.More...), make([]series, max(len(from), 1))
	for i, k := range from {
		if k >= 0 && k < len(was) {
			now[i] = was[k]
		}
	}
	s.Temp, s.More = now[0], now[1:]
	return s
}

// Restage lets what is known of the drives' calls be of other stages: each of that at
// to, -1 for gone. A run that was called by one that is gone is looked at no more.
func (s *State) Restage(to []int) {
	stage := func(c *call) bool {
		if c.Stage < 0 {
			return true
		}
		was := c.Stage
		c.Stage = -1
		if was < len(to) {
			c.Stage = to[was]
		}
		return c.Stage >= 0
	}
	for d := range s.Drives {
		ds := &s.Drives[d]
		stage(&ds.Missed)
		stage(&ds.Guessed.Call)
		if !stage(&ds.Open.Call) {
			ds.Open.Checked = true
		}
	}
}

// Save returns a copy of all that is known.
func (j *Judge) Save() State {
	a := &j.around
	s := State{Now: a.now, Began: j.began, Temp: a.bulbs[0], More: a.bulbs[1:], Outside: a.outside, Cold: a.cold, Arranged: j.arranged,
		Stages: make([]stageState, len(j.stages)), Drives: make([]driveState, len(j.drives))}
	for i, st := range j.stages {
		s.Stages[i] = st.stageState
	}
	for i, d := range j.drives {
		s.Drives[i] = d.driveState
	}
	return s.clone()
}

func (s State) clone() State {
	s.Arranged = Arrangement{slices.Clone(s.Arranged.Acts), slices.Clone(s.Arranged.Wants)}
	s.More = slices.Clone(s.More)
	s.Stages, s.Drives = slices.Clone(s.Stages), slices.Clone(s.Drives)
	for i := range s.Stages {
		st := &s.Stages[i]
		st.On.Temps, st.Off.Temps = slices.Clone(st.On.Temps), slices.Clone(st.Off.Temps)
		st.On.Latest, st.Off.Latest = slices.Clone(st.On.Latest), slices.Clone(st.Off.Latest)
	}
	for d := range s.Drives {
		ds := &s.Drives[d]
		ds.Evidence, ds.Starts, ds.Usual.Samples = slices.Clone(ds.Evidence), slices.Clone(ds.Starts), slices.Clone(ds.Usual.Samples)
		ds.Usual.Others = slices.Clone(ds.Usual.Others)
	}
	return s
}

// Load goes on from what was saved. What it saved of another dial is
// forgotten; the error says that it was saved of other stages, drives or
// evidence altogether, and then nothing is loaded.
func (j *Judge) Load(s State) error {
	if len(s.Stages) != len(j.stages) || len(s.Drives) != len(j.drives) {
		return fmt.Errorf("saved of %d stages and %d drives, there are %d and %d", len(s.Stages), len(s.Drives), len(j.stages), len(j.drives))
	}
	for d := range s.Drives {
		if got, want := len(s.Drives[d].Evidence), len(j.drives[d].Evidence); got != want {
			return fmt.Errorf("drive %d: saved with %d evidences, it has %d", d, got, want)
		}
	}
	if s.Arranged.Acts != nil && len(s.Arranged.Acts) != len(s.Stages) || s.Arranged.Wants != nil && len(s.Arranged.Wants) != len(s.Drives) {
		return fmt.Errorf("saved with an arrangement of %d stages and %d drives, there are %d and %d", len(s.Arranged.Acts), len(s.Arranged.Wants), len(s.Stages), len(s.Drives))
	}
	if s.Temp.N < 0 || s.Temp.N > recent || s.Outside.N < 0 || s.Outside.N > recent {
		return fmt.Errorf("saved with %d and %d last temperatures, at most %d are kept", s.Temp.N, s.Outside.N, recent)
	}
	for d := range s.Drives {
		if n := s.Drives[d].Turns.N; n < 0 || n > turnsKept {
			return fmt.Errorf("drive %d: saved with %d turns, at most %d are kept", d, n, turnsKept)
		}
	}
	for _, one := range s.More {
		if one.N < 0 || one.N > recent {
			return fmt.Errorf("saved with %d last readings of a bulb, at most %d are kept", one.N, recent)
		}
	}
	s = s.clone()
	a := &j.around
	a.now, a.bulbs[0], a.outside, a.cold, j.began = s.Now, s.Temp, s.Outside, s.Cold, s.Began
	copy(a.bulbs[1:], s.More)
	for i, st := range j.stages {
		st.stageState = s.Stages[i]
		if st.On.Dial != st.spec.On {
			st.On = drift{Dial: st.spec.On}
		}
		if st.Off.Dial != st.spec.Off {
			st.Off = drift{Dial: st.spec.Off}
		}
	}
	for i, d := range j.drives {
		d.driveState = s.Drives[i]
		if d.drawn.index < 0 { // a speed was once taken for a draw
			d.Usual, d.Draw = usual{}, drawUnknown
			d.Gates[DrawsMore], d.Gates[DrawsLess] = gate{}, gate{}
		}
	}
	j.arrange(s.Arranged)
	j.schedule()
	return nil
}
