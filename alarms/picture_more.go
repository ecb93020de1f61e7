package alarms

import "time"

// LoopPicture is a ground loop. Values that are not known are nil.
type LoopPicture struct {
	Known      bool          `json:"known"`                    // whether its fan runs
	Running    bool          `json:"running"`                  // the fan runs
	House      *float64      `json:"house,omitempty"`          // of the air that enters, °C
	Watts      *float64      `json:"watts,omitempty"`          // warmth brought in by the pipes that are seen, negative for cold
	Moisture   *float64      `json:"moisture_watts,omitempty"` // brought in by vapour, which warms nothing until it condenses
	FanWatts   *float64      `json:"fan_watts,omitempty"`
	PerFanWatt *float64      `json:"per_fan_watt,omitempty"` // heat or cold now for each W that the fan draws
	Today      LoopEnergy    `json:"today"`                  // of the house's day so far
	Yesterday  LoopEnergy    `json:"yesterday"`
	Total      LoopEnergy    `json:"total"` // since the watch counts
	Want       string        `json:"want"`  // of the house: nothing, warmth or cooling
	Better     *float64      `json:"better_depth_m,omitempty"`
	Depths     string        `json:"depths"` // which depth is the better one now, as a sentence
	Sums       string        `json:"sums"`   // what today and yesterday brought, as sentences
	Sentence   string        `json:"sentence"`
	Pipes      []PipePicture `json:"pipes"`

	Best int          `json:"-"` // number of the better pipe, from 1; 0: none
	Up   bool         `json:"-"` // by hand: air is drawn up
	Flow float64      `json:"-"` // by hand: through all pipes, m³/s; 0: as the plan has it
	Ways []WayPicture `json:"-"` // what it brought in each way in which air passed; nil: there is one
}

// PipePicture is one pipe. Values that are not known are nil.
type PipePicture struct {
	Outlet        PlaceID    `json:"outlet"`
	Name          string     `json:"name"` // of the outlet
	Depth         float64    `json:"depth_m"`
	Moving        bool       `json:"moving"` // air is drawn through it
	Temperature   *float64   `json:"temperature,omitempty"`
	Humidity      *float64   `json:"humidity,omitempty"`
	Ground        *float64   `json:"ground,omitempty"`         // that the ground should have there
	Effectiveness *float64   `json:"effectiveness,omitempty"`  // now, against the ground
	Learned       *float64   `json:"learned,omitempty"`        // effectiveness of the plan, or learned
	Watts         *float64   `json:"watts,omitempty"`          // warmth
	Moisture      *float64   `json:"moisture_watts,omitempty"` // carried by vapour, where both humidities are known
	Basis         string     `json:"basis,omitempty"`          // from which humidities
	Flow          string     `json:"flow"`                     // unsure, moving or not moving
	Water         string     `json:"water"`                    // drained, condenses, water in the pipe or saturated
	Drift         *float64   `json:"drift,omitempty"`          // K against the season
	Today         LoopEnergy `json:"today"`
	Yesterday     LoopEnergy `json:"yesterday"`
	Total         LoopEnergy `json:"total"`
	Sentence      string     `json:"sentence"` // what it does now

	Damper bool     `json:"-"` // something shows whether it is open
	Shut   bool     `json:"-"` // by hand
	Leaves *float64 `json:"-"` // temperature at which air leaves or would leave it, °C
}

// WayPicture is what a loop brought while air passed in one way.
type WayPicture struct {
	Flow float64 // m³/s
	Up   bool
	LoopEnergy
}

// OpeningPicture is a door, a window or a lid.
type OpeningPicture struct {
	ID    OpeningID   `json:"id"`
	Name  string      `json:"name"`
	Kind  OpeningKind `json:"kind"`
	State string      `json:"state"`          // open, shut or not known
	Since time.Time   `json:"since,omitzero"` // of State, as far as was seen
	Harms bool        `json:"harms"`          // it should be shut now

	Sentence string `json:"sentence"`
	Open     bool   `json:"-"` // as it was last known
}

// States of an opening.
const (
	StateOpen    = "open"
	StateShut    = "shut"
	StateUnknown = "not known"
)
