package ground

import (
	"math"
	"time"

	"telltale/alarms/air"
)

// Wetness is what the outlet's humidity says about water in the pipe.
type Wetness uint8

// Wetness of a pipe.
const (
	Drained   Wetness = iota // not saturated, or not for long
	Condenses                // saturated for long, as the house's moist air must be at this temperature
	Standing                 // saturated for long, and damper than the house's air can have made it: water lies in the pipe
	Wet                      // saturated for long, and the house's humidity is not known
)

var wetnessNames = [...]string{"drained", "condenses", "water in the pipe", "saturated"}

func (w Wetness) String() string { return name(wetnessNames[:], int(w)) }

const (
	saturated   = 98.5             // %, from which an outlet counts as saturated: probes are no better
	unsaturated = 96.0             // %, at or below which it no longer does
	wetFor      = 12 * time.Hour   // of saturation before it is said; common practice, no source
	dryFor      = time.Hour        // of less before it is over
	wetGap      = 45 * time.Minute // a longer pause in the readings begins again
	picksUp     = 1.05             // vapour in the outlet by that in the house, from which water must have joined
)

// Water watches an outlet that stays at 100 % for long.
type Water struct {
	Since   time.Time `json:"since,omitzero"` // of the first saturated reading
	Dry     time.Time `json:"dry,omitzero"`   // of the first reading that was not, since the last that was
	Last    time.Time `json:"last,omitzero"`
	Known   int       `json:"known"` // saturated readings with the house's humidity known
	Joined  int       `json:"joined"`
	Verdict Wetness   `json:"verdict"`
}

// Step takes the air at the outlet and in the house, with air moving in the
// pipe. Readings out of order and without the outlet's humidity are left out.
func (w *Water) Step(at time.Time, outlet, house Air, pressure float64) Wetness {
	if math.IsNaN(outlet.Humidity) || math.IsNaN(outlet.Temperature) || !w.Last.IsZero() && !at.After(w.Last) {
		return w.Verdict
	}
	if at.Sub(w.Last) > wetGap {
		*w = Water{}
	}
	w.Last = at
	switch {
	case outlet.Humidity >= saturated || !w.Since.IsZero() && outlet.Humidity > unsaturated:
		w.wet(at, outlet, house, pressure)
	case w.Since.IsZero():
	case w.Dry.IsZero():
		w.Dry = at
	case at.Sub(w.Dry) >= dryFor:
		*w = Water{Last: at}
	}
	return w.Verdict
}

func (w *Water) wet(at time.Time, outlet, house Air, pressure float64) {
	if w.Since.IsZero() {
		w.Since = at
	}
	w.Dry = time.Time{}
	if in := house.ratio(pressure); !math.IsNaN(in) {
		w.Known++
		if air.HumidityRatio(outlet.Temperature, saturated, pressure) > picksUp*in {
			w.Joined++
		}
	}
	if at.Sub(w.Since) < wetFor {
		return
	}
	switch {
	case w.Known == 0:
		w.Verdict = Wet
	case 2*w.Joined > w.Known:
		w.Verdict = Standing
	default:
		w.Verdict = Condenses
	}
}
