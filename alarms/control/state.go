package control

import (
	"fmt"
	"slices"
)

// State is all that a Judge knows, for a snapshot. It is plain data; JSON keeps
// it exactly.
type State struct {
	Now      Moment       `json:"now"`
	Began    Moment       `json:"began"`
	Temp     series       `json:"temp"`           // of the first bulb
	More     []series     `json:"more,omitempty"` // of the others
	Outside  series       `json:"outside"`
	Cold     Call         `json:"cold,omitempty"` // outside is frosty
	Arranged Arrangement  `json:"arranged"`
	Stages   []stageState `json:"stages"`
	Drives   []driveState `json:"drives"`
}

func newState(s Spec) State {
	st := State{Stages: make([]stageState, len(s.Stages)), Drives: make([]driveState, len(s.Drives))}
	bulbs := 0
	for _, one := range s.Stages {
		bulbs = max(bulbs, one.Bulb)
	}
	if bulbs > 0 {
		st.More = make([]series, bulbs)
	}
	for i := range st.Stages {
		st.Stages[i].On.Dial, st.Stages[i].Off.Dial = s.Stages[i].On, s.Stages[i].Off
	}
	for d := range st.Drives {
		st.Drives[d].Evidence = make([]said, len(s.Drives[d].Evidence))
		st.Drives[d].Source = -1
	}
	return st
}

// WithBulbs returns s with its bulbs in another order: at each place that which was
// at from, -1 for one of which nothing is known.
func (s State) WithBulbs(from []int) State {
	was := append([]series{s.Temp}, s.More...)
	s.Temp, s.More = series{}, nil
	for i, k := range from {
		var one series
		if k >= 0 && k < len(was) {
			one = was[k]
		}
		if i == 0 {
			s.Temp = one
		} else {
			s.More = append(s.More, one)
		}
	}
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
func (j *Judge) Save() State { return j.state.clone() }

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
	if len(s.Stages) != len(j.spec.Stages) || len(s.Drives) != len(j.spec.Drives) {
		return fmt.Errorf("saved of %d stages and %d drives, there are %d and %d", len(s.Stages), len(s.Drives), len(j.spec.Stages), len(j.spec.Drives))
	}
	for d := range s.Drives {
		if got, want := len(s.Drives[d].Evidence), len(j.spec.Drives[d].Evidence); got != want {
			return fmt.Errorf("drive %d: saved with %d evidences, it has %d", d, got, want)
		}
	}
	a := s.Arranged
	if a.Acts != nil && len(a.Acts) != len(s.Stages) || a.Wants != nil && len(a.Wants) != len(s.Drives) {
		return fmt.Errorf("saved with an arrangement of %d stages and %d drives, there are %d and %d", len(a.Acts), len(a.Wants), len(s.Stages), len(s.Drives))
	}
	if s.Temp.N < 0 || s.Temp.N > recent || s.Outside.N < 0 || s.Outside.N > recent {
		return fmt.Errorf("saved with %d and %d last temperatures, at most %d are kept", s.Temp.N, s.Outside.N, recent)
	}
	for d := range s.Drives {
		if n := s.Drives[d].Turns.N; n < 0 || n > turnsKept {
			return fmt.Errorf("drive %d: saved with %d turns, at most %d are kept", d, n, turnsKept)
		}
	}
	more := slices.Clone(j.state.More)
	for i := range min(len(more), len(s.More)) {
		if more[i] = s.More[i]; more[i].N < 0 || more[i].N > recent {
			return fmt.Errorf("saved with %d last readings of a bulb, at most %d are kept", more[i].N, recent)
		}
	}
	j.state = s.clone()
	j.state.More = more
	for i := range j.state.Stages {
		st, spec := &j.state.Stages[i], &j.spec.Stages[i]
		if st.On.Dial != spec.On {
			st.On = drift{Dial: spec.On}
		}
		if st.Off.Dial != spec.Off {
			st.Off = drift{Dial: spec.Off}
		}
	}
	for d := range j.state.Drives {
		if ds := &j.state.Drives[d]; j.drawer[d] < 0 { // a speed was once taken for a draw
			ds.Usual, ds.Draw = usual{}, drawUnknown
			ds.Gates[DrawsMore], ds.Gates[DrawsLess] = gate{}, gate{}
		}
	}
	j.schedule()
	return nil
}
