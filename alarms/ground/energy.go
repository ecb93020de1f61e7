package ground

import (
	"math"
	"time"
)

// Holds is how long a power counts on when no newer one comes; what lies
// beyond is unwatched time, not energy.
const Holds = 15 * time.Minute

// Energy adds power to energy over a period, usually a day. The zero Energy
// has heard nothing.
type Energy struct {
	Heat    float64       `json:"heat"`              // kWh brought in
	Cold    float64       `json:"cold"`              // kWh taken out, counted positive
	Fan     float64       `json:"fan"`               // kWh drawn by the fan, where known
	Run     time.Duration `json:"run"`               // time with air moving
	Watched time.Duration `json:"watched"`           // time over which power was known
	Last    time.Time     `json:"last,omitzero"`     // of the last power
	Watts   float64       `json:"watts,omitempty"`   // the last power
	Drawn   float64       `json:"drawn,omitempty"`   // W the fan drew then
	Running bool          `json:"running,omitempty"` // whether air moved then
}

// Step takes the power delivered from at on, in W, and what the fan draws, in
// W (0 where unknown). Before it, the last power counts up to at, but no longer
// than Holds. A power of a time before the last one is left out; one that is
// no number ends what is known.
func (e *Energy) Step(at time.Time, watts, fan float64, running bool) {
	if !e.Last.IsZero() && at.Before(e.Last) {
		return
	}
	e.count(at)
	if math.IsNaN(watts) || math.IsInf(watts, 0) {
		*e = Energy{Heat: e.Heat, Cold: e.Cold, Fan: e.Fan, Run: e.Run, Watched: e.Watched}
		return
	}
	if !running {
		watts = 0
	}
	if math.IsNaN(fan) || fan < 0 {
		fan = 0
	}
	e.Last, e.Watts, e.Drawn, e.Running = at, watts, fan, running
}

// Close counts up to at, returns the totals of the period that ends there and
// begins the next one with the same power.
func (e *Energy) Close(at time.Time) Energy {
	e.count(at)
	closed := *e
	*e = Energy{Last: e.Last, Watts: e.Watts, Drawn: e.Drawn, Running: e.Running}
	return closed
}

// count adds the last power up to at. What was lost beyond Holds stays lost.
func (e *Energy) count(at time.Time) {
	if e.Last.IsZero() || !at.After(e.Last) {
		return
	}
	held := at.Sub(e.Last)
	if held > Holds {
		held = Holds
	}
	kWh := e.Watts * held.Hours() / 1000
	e.Heat += math.Max(kWh, 0)
	e.Cold += math.Max(-kWh, 0)
	e.Fan += e.Drawn * held.Hours() / 1000
	e.Watched += held
	if e.Running {
		e.Run += held
	}
	e.Last = at
	if held == Holds { // the power is too old to count on
		e.Last, e.Watts, e.Drawn, e.Running = time.Time{}, 0, 0, false
	}
}
