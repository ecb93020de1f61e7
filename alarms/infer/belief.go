package infer

import (
	"time"

	"telltale/alarms/control"
)

// least and most bound every likelihood. On a recorded house the likelihoods
// next to them were right in 94 and 85 of 100 readings; those from 0.4 to 0.8,
// mostly of times of change, were right about every second time.
const (
	least = 0.12
	most  = 0.88
)

// Belief is how likely it is that the drive runs. Without the temperature outside
// it says nothing: by the temperature inside alone it was right little more often
// than by chance on recorded houses, and saw fans run where there are none.
type Belief struct {
	Running float64 // least to most; 0.5: nothing is known
	Outside bool    // the outside temperature was used
	Settled bool    // two days of readings were heard: noon and level are learned
}

// Shown is what b is worth: it says that a drive runs or stands where it is as
// sure as a change that is told of, and nothing in between.
func (b Belief) Shown() control.Shown {
	switch {
	case !b.Outside:
	case b.Running >= surer:
		return control.Running
	case b.Running <= 1-surer:
		return control.Standing
	}
	return control.Unknown
}

// ChangeKind says what a change is.
type ChangeKind uint8

// Kinds of change.
const (
	NoChange ChangeKind = iota
	Start
	Stop
	Lost // it cannot be told any more: nothing is known of outside
)

// Change is a start or stop that was inferred.
type Change struct {
	Kind    ChangeKind
	At      time.Time // when it is thought to have happened
	Noticed time.Time // when the reading came that showed it
	Sharp   bool      // seen in a break of the course, and may correct the time of the last change; else the likelihood went over bit by bit, and At may be off by half an hour
}
