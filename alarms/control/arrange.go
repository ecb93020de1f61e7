package control

import "time"

// Wish is what season, selector switches and people want of a drive.
type Wish uint8

// Wishes.
const (
	Free    Wish = iota // nothing: it may run or stand
	Follow              // follow the stages that drive it, or the fan it opens for
	Run                 // run always
	ByTurns             // run and stand by turns, by a cycle timer
	Rest                // stand: a selector switched it off
	Barred              // never run: the vents are covered for winter
	ByHours             // run at hours of the day, by a timer of its own
)

// Want is a wish, with how long it runs and stands when by turns, and when it runs
// when by hours.
type Want struct {
	Wish          Wish
	OnFor, OffFor time.Duration
	Hours         Hours `json:"Hours,omitzero"`
}

// goesOn reports whether w is what a timer wanted before, later in its day.
func (w Want) goesOn(before Want) bool {
	return w.Wish == ByHours && before.Wish == ByHours && w.Hours.Ahead == before.Hours.Ahead
}

// Arrangement is what depends on the season and on the selector switches. Its
// slices are as long as those of the Spec; a nil Acts means that every stage
// acts, a nil Wants that every drive follows.
type Arrangement struct {
	Acts  []bool // per stage
	Wants []Want // per drive
}

func (j *Judge) acts(stage int) bool {
	a := j.state.Arranged.Acts
	return a == nil || a[stage]
}

func (j *Judge) want(drive int) Want {
	if j.state.Arranged.Wants == nil {
		return Want{Wish: Follow}
	}
	return j.state.Arranged.Wants[drive]
}

// Arrange tells what is wanted from at on. Slices of another length than the
// Spec's are an error of the caller and are ignored whole.
func (j *Judge) Arrange(at Moment, a Arrangement) Told {
	now := j.begin(at)
	if a.Acts != nil && len(a.Acts) != len(j.spec.Stages) || a.Wants != nil && len(a.Wants) != len(j.spec.Drives) {
		return j.told()
	}
	for d := range j.state.Drives {
		j.account(now, d)
	}
	before := j.state.Arranged
	acted := make([]bool, len(j.spec.Stages))
	for i := range acted {
		acted[i] = j.acts(i)
	}
	j.state.Arranged = Arrangement{append([]bool(nil), a.Acts...), append([]Want(nil), a.Wants...)}
	for d := range j.state.Drives {
		was := Want{Wish: Follow}
		if before.Wants != nil {
			was = before.Wants[d]
		}
		if want := j.want(d); was != want && !want.goesOn(was) {
			j.rearm(d)
			j.state.Drives[d].Open.Leapt = true
		}
	}
	for i := range acted {
		j.turned(now, i, acted[i])
	}
	j.recall(now)
	return j.told()
}

// turned notes since when a stage of one part of the day acts. What it would have
// asked before it acted alone it has asked from then on.
func (j *Judge) turned(now Moment, stage int, acted bool) {
	other := j.twin[stage]
	if other < 0 || !j.acts(stage) {
		return
	}
	st := &j.state.Stages[stage]
	if !acted {
		st.Acts = now
	}
	if !j.acts(other) && st.Calls && st.Passed < st.Acts {
		st.Passed, st.PassedTemp = now, j.felt(j.spec.Stages[stage].Bulb).Value
	}
}

// out reports whether a stage is of the other part of the day.
func (j *Judge) out(stage int) bool { return j.twin[stage] >= 0 && !j.acts(stage) }

// rearm lets every grace of a drive begin anew.
func (j *Judge) rearm(d int) {
	ds := &j.state.Drives[d]
	ds.Open.Spoilt = true // what ends it may not be the dial
	for k := range ds.Gates {
		if g := &ds.Gates[k]; !g.On && FindingKind(k) != NoEffect {
			g.disarm()
		}
	}
	ds.Turns = turns{}
}
