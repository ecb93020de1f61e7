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
	Temp     series       `json:"temp"`
	Outside  series       `json:"outside"`
	Cold     Call         `json:"cold,omitempty"` // outside is frosty
	Arranged Arrangement  `json:"arranged"`
	Stages   []stageState `json:"stages"`
	Drives   []driveState `json:"drives"`
}

func newState(s Spec) State {
	st := State{Stages: make([]stageState, len(s.Stages)), Drives: make([]driveState, len(s.Drives))}
	for i := range st.Stages {
		st.Stages[i].On.Dial, st.Stages[i].Off.Dial = s.Stages[i].On, s.Stages[i].Off
	}
	for d := range st.Drives {
		st.Drives[d].Evidence = make([]said, len(s.Drives[d].Evidence))
		st.Drives[d].Source = -1
	}
	return st
}

// Save returns a copy of all that is known.
func (j *Judge) Save() State { return j.state.clone() }

func (s State) clone() State {
	s.Arranged = Arrangement{slices.Clone(s.Arranged.Acts), slices.Clone(s.Arranged.Wants)}
	s.Stages, s.Drives = slices.Clone(s.Stages), slices.Clone(s.Drives)
	for i := range s.Stages {
		st := &s.Stages[i]
		st.On.Temps, st.Off.Temps = slices.Clone(st.On.Temps), slices.Clone(st.Off.Temps)
	}
	for d := range s.Drives {
		ds := &s.Drives[d]
		ds.Evidence, ds.Starts, ds.Usual.Samples = slices.Clone(ds.Evidence), slices.Clone(ds.Starts), slices.Clone(ds.Usual.Samples)
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
	j.state = s.clone()
	for i := range j.state.Stages {
		st, spec := &j.state.Stages[i], &j.spec.Stages[i]
		if st.On.Dial != spec.On {
			st.On = drift{Dial: spec.On}
		}
		if st.Off.Dial != spec.Off {
			st.Off = drift{Dial: spec.Off}
		}
	}
	j.schedule()
	return nil
}
