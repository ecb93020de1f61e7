package page

import (
	"telltale/alarms"
)

// driveDrawn is a drive at its place, drawn as it now is.
type driveDrawn struct {
	Anchor     string
	Kind       alarms.DriveKind
	Shutter    bool
	Heat       bool // it gives heat now
	Shape      string
	Guessed    bool
	Failing    bool
	Name, Does string
	NameLong   float64 // the name is set so long
	DoesLong   float64
	X, Y       float64 // top left corner of its mark
	TextX      float64
	NameY      float64
	DoesY      float64
	Align      string
	Leader     string

	at point
}

const (
	driveSize  = 24.0
	longestAct = "probably runs"
)

// drives places the marks of the drives and asks for room for their words.
func (s *sketch) drives() {
	s.view.Drives = make([]driveDrawn, 0, len(s.house.Drives))
	for _, d := range s.house.Drives {
		spot, ok := s.form.Drives[d.ID]
		if !ok {
			continue
		}
		at := s.clear(s.plot.at(spot))
		seen := driveOf(s.house.ID, d)
		s.view.Drives = append(s.view.Drives, driveDrawn{Anchor: anchor("drawn", string(s.house.ID), string(d.ID)), Kind: d.Kind,
			Shutter: d.Kind == alarms.IntakeShutter, Heat: d.Kind == alarms.Heater && seen.Shape == string(alarms.DriveRunning),
			Shape: seen.Shape, Guessed: seen.Guessed, Failing: d.Failing, Name: shortName(d.Name), Does: actOf(d.Does),
			X: round1(at.X - driveSize/2), Y: round1(at.Y - driveSize/2), at: at})
		s.solid(square(at, driveSize/2))
		drawn, block := &s.view.Drives[len(s.view.Drives)-1], &toPlace{at: at, zone: s.zoneAt(spot), near: 1.6}
		if spot.Across <= 0 || spot.Across >= s.form.Width {
			block.zone = zoneOutside // it sits in the wall
		}
		block.size = []size{{max(wide(drawn.Name, textSmall), wide(longestAct, textSmall)) + 2, 30}}
		s.blocks = append(s.blocks, block)
		s.finish = append(s.finish, func() { drawn.set(block) })
	}
}

// clear moves a mark down until it stands on no other.
func (s *sketch) clear(at point) point {
	at.Y = min(max(at.Y, driveSize/2+2), s.plot.y0-driveSize/2)
	for tries := 0; tries < 12; tries++ {
		free := true
		for _, o := range s.canvas.solid {
			if square(at, driveSize/2).meets(o, 1) {
				at.Y, free = o.Y+o.H+driveSize/2+2, false
			}
		}
		if free {
			break
		}
	}
	return at
}

// set puts the words where their room was found.
func (d *driveDrawn) set(b *toPlace) {
	d.Align, d.TextX = "start", round1(b.box.X+1)
	if b.box.middle().X < b.at.X-b.box.W/3 {
		d.Align, d.TextX = "end", round1(b.box.X+b.box.W-1)
	}
	room := b.box.W - 2
	d.NameLong, d.DoesLong = fitted(d.Name, textSmall, room), fitted(d.Does, textSmall, room)
	d.NameY, d.DoesY = round1(b.box.Y+11.5), round1(b.box.Y+25.5)
	if b.box.far(b.at) > driveSize/2+10 {
		d.Leader = leader(b.at, b.box)
	}
}

// actOf shortens what a drive does to what fits beside it.
func actOf(does string) string {
	if wide(does, textSmall) <= wide(longestAct, textSmall) {
		return does
	}
	switch does {
	case "probably stands still":
		return "may be still"
	case "probably heats":
		return "may heat"
	}
	return shortName(does)
}
