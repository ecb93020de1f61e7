package ground

import (
	"math"
	"time"
)

// Holds is how long a power counts on when no newer one comes; what lies
// beyond is unwatched time, not energy.
const Holds = 15 * time.Minute

// Energy adds power to energy over a period, usually a day. The zero Energy
// has heard nothing. Warmth is what a thermometer shows (sensible heat); what
// vapour carries (latent heat) warms nothing until it condenses, and is counted
// apart.
type Energy struct {
	Heat    float64       `json:"heat"`              // kWh of warmth brought in
	Cold    float64       `json:"cold"`              // kWh of warmth taken out, counted positive
	Wet     float64       `json:"wet,omitempty"`     // kWh that vapour brought in
	Dried   float64       `json:"dried,omitempty"`   // kWh that vapour took out, counted positive
	Fan     float64       `json:"fan"`               // kWh drawn by the fan, where known
	Run     time.Duration `json:"run"`               // time with air moving
	Watched time.Duration `json:"watched"`           // time over which the warmth was known
	Last    time.Time     `json:"last,omitzero"`     // of the last power
	Watts   float64       `json:"watts,omitempty"`   // the last warmth
	Vapour  float64       `json:"vapour,omitempty"`  // W that vapour carried then, where known
	Blind   bool          `json:"blind,omitempty"`   // the last warmth was not known
	Drawn   float64       `json:"drawn,omitempty"`   // W the fan drew then
	Running bool          `json:"running,omitempty"` // whether air moved then
}

// Step takes the warmth delivered from at on and what vapour carries, both in W,
// and what the fan draws, in W (either 0 where unknown). Before it, the last
// power counts up to at, but no longer than Holds. A power of a time before the
// last one is left out; of a warmth that is no number only the running counts.
func (e *Energy) Step(at time.Time, warmth, vapour, fan float64, running bool) {
	if !e.Last.IsZero() && at.Before(e.Last) {
		return
	}
	e.count(at)
	blind := unknown(warmth)
	if blind && !running {
		*e = e.sums()
		return
	}
	if blind || !running {
		warmth, vapour = 0, 0
	}
	if unknown(vapour) {
		vapour = 0
	}
	if math.IsNaN(fan) || fan < 0 {
		fan = 0
	}
	e.Last, e.Watts, e.Vapour, e.Blind, e.Drawn, e.Running = at, warmth, vapour, blind, fan, running
}

func unknown(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }

// sums are the totals of e alone.
func (e *Energy) sums() Energy {
	return Energy{Heat: e.Heat, Cold: e.Cold, Wet: e.Wet, Dried: e.Dried, Fan: e.Fan, Run: e.Run, Watched: e.Watched}
}

// Close counts up to at, returns the totals of the period that ends there and
// begins the next one with the same power.
func (e *Energy) Close(at time.Time) Energy {
	e.count(at)
	closed := *e
	*e = Energy{Last: e.Last, Watts: e.Watts, Vapour: e.Vapour, Blind: e.Blind, Drawn: e.Drawn, Running: e.Running}
	return closed
}

// count adds the last power up to at. What was lost beyond Holds stays lost.
func (e *Energy) count(at time.Time) {
	if e.Last.IsZero() || !at.After(e.Last) {
		return
	}
	held := min(at.Sub(e.Last), Holds)
	kWh := func(watts float64) float64 { return watts * held.Hours() / 1000 }
	e.Heat += kWh(max(e.Watts, 0))
	e.Cold += kWh(max(-e.Watts, 0))
	e.Wet += kWh(max(e.Vapour, 0))
	e.Dried += kWh(max(-e.Vapour, 0))
	e.Fan += kWh(e.Drawn)
	if !e.Blind {
		e.Watched += held
	}
	if e.Running {
		e.Run += held
	}
	e.Last = at
	if held == Holds { // the power is too old to count on
		*e = e.sums()
	}
}
