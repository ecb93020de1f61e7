package service

import (
	"telltale/alarms"
)

// Form is what a house looks like in section, seen along its length. Lengths
// are in metres: across is counted from the left wall, height from the ground,
// downwards below zero. A house without one is shown as a list.
type Form struct {
	House  alarms.HouseID
	Plain  bool // nobody has said what it looks like: this is how a small one may
	LeanTo bool // one high wall; else a roof with the ridge in the middle
	Right  bool // the high wall stands on the right
	Width  float64
	Length float64 // 0: not given
	Eaves  float64
	Ridge  float64 // top of the roof
	Bench  []Bench
	Places map[alarms.PlaceID]Position // those that have one
	Drives map[alarms.DriveID]Position
}

// Bench is a bench or a bed from one point across to another.
type Bench struct{ From, To, Height float64 }

// Position is a point in the section.
type Position struct{ Across, Height float64 }
