package config

import (
	"math"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/gateway/page/service"
)

// plain is the form of a house of which the file says none: one of the usual small
// ones, with a roof to both sides.
func plain() *shapeSite {
	return &shapeSite{Form: service.Form{Plain: true, Width: 3, Eaves: 1.8, Ridge: 2.6}}
}

// settle gives everything its spot: the one of the file, else one that follows
// from what the thing is. A place of which nothing follows gets none; in a plain house,
// of which nobody can have said it, the first of them hang side by side.
func (s *shapeSite) settle(h *houseSite, given map[*table]bool) service.Form {
	f := &s.Form
	f.House = h.house.ID
	f.Places, f.Drives = map[alarms.PlaceID]service.Position{}, map[alarms.DriveID]service.Position{}
	if h.loop != nil {
		for _, p := range h.loop.pipes {
			s.pipes = append(s.pipes, buried{p.pipe.Outlet, p.pipe.Depth})
		}
	}
	alike := map[alarms.DriveKind]int{}
	for _, d := range h.drives {
		spot := s.driveSpot(d.drive.Kind, alike[d.drive.Kind])
		alike[d.drive.Kind]++
		if given[d.at.t] {
			spot = d.at.spot
		}
		f.Drives[d.drive.ID] = spot
	}
	unknown := 0
	for _, p := range h.places {
		spot, ok := s.placeSpot(p.place.ID)
		if !ok {
			spot, ok = s.bulbSpot(h, p.place.ID)
		}
		if given[p.at.t] {
			spot, ok = p.at.spot, true
		}
		if !ok && f.Plain && unknown < mostSideBySide {
			spot, ok = at(s.Width*(0.3+0.4*float64(unknown%2)), 1.3-0.15*float64(unknown)), true
			unknown++
		}
		if ok {
			f.Places[p.place.ID] = spot
		}
	}
	return s.Form
}

// mostSideBySide is how many places of a plain house are drawn whose names say nothing.
const mostSideBySide = 6

// roof is the height of the roof at a point across.
func (s *shapeSite) roof(across float64) float64 {
	x := min(max(across, 0), s.Width)
	switch {
	case s.LeanTo && s.Right:
		return s.Eaves + (s.Ridge-s.Eaves)*x/s.Width
	case s.LeanTo:
		return s.Ridge - (s.Ridge-s.Eaves)*x/s.Width
	default:
		return s.Ridge - (s.Ridge-s.Eaves)*math.Abs(2*x/s.Width-1)
	}
}

// from is a distance counted from the high wall, or from the left one.
func (s *shapeSite) from(d float64) float64 {
	if s.LeanTo && s.Right {
		return s.Width - d
	}
	return d
}

// driveSpot is where a drive of this kind commonly sits: the exhaust where the
// warm air gathers, the shutter low, the loop fan over its pipes' mouth. The
// n-th of its kind stands beside the others.
func (s *shapeSite) driveSpot(kind alarms.DriveKind, n int) service.Position {
	aside := 0.45 * float64(n)
	peak := s.Width / 2
	if s.LeanTo {
		peak = s.from(0)
	}
	switch kind {
	case alarms.ExhaustFan:
		return at(peak, max(0.3, s.Ridge-0.1*s.Ridge-aside))
	case alarms.IntakeShutter:
		return at(s.from(0), min(0.4+aside, s.Eaves))
	case alarms.LoopFan:
		return at(s.from(s.Width*0.15), 0.2+aside)
	case alarms.Heater:
		return at(s.from(s.Width*0.6), 0.25+aside)
	default:
		return at(s.from(s.Width*0.45), max(0.3, s.roof(s.from(s.Width*0.45))*0.7-aside))
	}
}

// placeSpot is where a place of this name commonly is.
func (s *shapeSite) placeSpot(id alarms.PlaceID) (service.Position, bool) {
	if i := slices.IndexFunc(s.pipes, func(p buried) bool { return p.outlet == id }); i >= 0 {
		return at(s.from(s.Width*0.6), -s.pipes[i].depth), true
	}
	for _, word := range strings.Split(string(id), "-") {
		switch word {
		case "outside":
			return at(s.from(s.Width+0.15*s.Width), s.Eaves*0.8), true
		case "ridge", "peak":
			x := s.Width / 2
			if s.LeanTo {
				x = s.from(s.Width * 0.15)
			}
			return at(x, s.roof(x)*0.88), true
		case "intake":
			return at(s.from(s.Width*0.08), 0.4), true
		case "bench", "staging":
			return s.onBench(), true
		case "bed", "floor":
			return at(s.from(s.Width*0.45), 0.1), true
		}
	}
	return service.Position{}, false
}

// bulbSpot is where a place is that a thermostat feels: among the plants.
func (s *shapeSite) bulbSpot(h *houseSite, id alarms.PlaceID) (service.Position, bool) {
	for _, c := range h.controls {
		if alarms.PlaceID(c.place.V) == id {
			return s.onBench(), true
		}
	}
	return service.Position{}, false
}

// onBench is just above the first bench, or at the height of one.
func (s *shapeSite) onBench() service.Position {
	if len(s.Bench) == 0 {
		x := s.from(s.Width * 0.55)
		return at(x, min(1.1, s.roof(x)*0.6))
	}
	b := s.Bench[0]
	x := (b.From + b.To) / 2
	return at(x, min(b.Height+0.2, s.roof(x)))
}

func at(across, height float64) service.Position {
	return service.Position{Across: across, Height: height}
}
