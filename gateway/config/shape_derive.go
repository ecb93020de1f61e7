package config

import (
	"math"
	"slices"
	"strings"

	"telltale/alarms"
)

// settle gives everything its spot: the one of the file, else one that follows
// from what the thing is. A place of which nothing follows gets none.
func (s *shapeSite) settle(h *houseSite, given map[*table]bool) Form {
	f := s.form
	f.House = h.house.ID
	f.Places, f.Drives = map[alarms.PlaceID]Spot{}, map[alarms.DriveID]Spot{}
	if h.loop != nil {
		for _, p := range h.loop.pipes {
			f.Pipes = append(f.Pipes, Buried{p.pipe.Outlet, p.pipe.Depth})
		}
	}
	alike := map[alarms.DriveKind]int{}
	for _, d := range h.drives {
		spot := f.driveSpot(d.drive.Kind, alike[d.drive.Kind])
		alike[d.drive.Kind]++
		if given[d.at.t] {
			spot = d.at.spot
		}
		f.Drives[d.drive.ID] = spot
	}
	for _, p := range h.places {
		spot, ok := f.placeSpot(p.place.ID)
		if !ok {
			spot, ok = f.bulbSpot(h, p.place.ID)
		}
		if given[p.at.t] {
			spot, ok = p.at.spot, true
		}
		if ok {
			f.Places[p.place.ID] = spot
		}
	}
	return f
}

// Roof is the height of the roof at a point across.
func (f Form) Roof(across float64) float64 {
	x := min(max(across, 0), f.Width)
	switch {
	case f.LeanTo && f.Right:
		return f.Eaves + (f.Ridge-f.Eaves)*x/f.Width
	case f.LeanTo:
		return f.Ridge - (f.Ridge-f.Eaves)*x/f.Width
	default:
		return f.Ridge - (f.Ridge-f.Eaves)*math.Abs(2*x/f.Width-1)
	}
}

// from is a distance counted from the high wall, or from the left one.
func (f Form) from(d float64) float64 {
	if f.LeanTo && f.Right {
		return f.Width - d
	}
	return d
}

// driveSpot is where a drive of this kind commonly sits: the exhaust where the
// warm air gathers, the shutter low, the loop fan over its pipes' mouth. The
// n-th of its kind stands beside the others.
func (f Form) driveSpot(kind alarms.DriveKind, n int) Spot {
	aside := 0.45 * float64(n)
	peak := f.Width / 2
	if f.LeanTo {
		peak = f.from(0)
	}
	switch kind {
	case alarms.ExhaustFan:
		return Spot{peak, max(0.3, f.Ridge-0.1*f.Ridge-aside)}
	case alarms.IntakeShutter:
		return Spot{f.from(0), min(0.4+aside, f.Eaves)}
	case alarms.LoopFan:
		return Spot{f.from(f.Width * 0.15), 0.2 + aside}
	case alarms.Heater:
		return Spot{f.from(f.Width * 0.6), 0.25 + aside}
	default:
		return Spot{f.from(f.Width * 0.45), max(0.3, f.Roof(f.from(f.Width*0.45))*0.7-aside)}
	}
}

// placeSpot is where a place of this name commonly is.
func (f Form) placeSpot(id alarms.PlaceID) (Spot, bool) {
	if i := slices.IndexFunc(f.Pipes, func(p Buried) bool { return p.Outlet == id }); i >= 0 {
		return Spot{f.from(f.Width * 0.6), -f.Pipes[i].Depth}, true
	}
	for _, word := range strings.Split(string(id), "-") {
		switch word {
		case "outside":
			return Spot{f.from(f.Width + 0.15*f.Width), f.Eaves * 0.8}, true
		case "ridge", "peak":
			x := f.Width / 2
			if f.LeanTo {
				x = f.from(f.Width * 0.15)
			}
			return Spot{x, f.Roof(x) * 0.88}, true
		case "intake":
			return Spot{f.from(f.Width * 0.08), 0.4}, true
		case "bench", "staging":
			return f.onBench(), true
		case "bed", "floor":
			return Spot{f.from(f.Width * 0.45), 0.1}, true
		}
	}
	return Spot{}, false
}

// bulbSpot is where a place is that a thermostat feels: among the plants.
func (f Form) bulbSpot(h *houseSite, id alarms.PlaceID) (Spot, bool) {
	for _, c := range h.controls {
		if alarms.PlaceID(c.place.V) == id {
			return f.onBench(), true
		}
	}
	return Spot{}, false
}

// onBench is just above the first bench, or at the height of one.
func (f Form) onBench() Spot {
	if len(f.Bench) == 0 {
		x := f.from(f.Width * 0.55)
		return Spot{x, min(1.1, f.Roof(x)*0.6)}
	}
	b := f.Bench[0]
	x := (b.From + b.To) / 2
	return Spot{x, min(b.Height+0.2, f.Roof(x))}
}
