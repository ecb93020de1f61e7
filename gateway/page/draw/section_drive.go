package draw

import (
	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
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

	block *block
}

const (
	driveSize = 20.0
	driveLine = 14.0 // of its words
)

// longestAct is about the longest of what a drive does.
const longestAct tongue.Text = "probably runs"

// drives asks for room for the words of the drives.
func (s *sketch) drives() {
	for _, d := range s.house.Drives {
		spot, ok := s.form.Drives[d.ID]
		if !ok {
			continue
		}
		shape, guessed := DriveShape(d)
		drawn := &driveDrawn{Anchor: words.Anchor("drawn", string(s.house.ID), string(d.ID)), Kind: d.Kind,
			Shutter: d.Kind == alarms.IntakeShutter, Heat: d.Kind == alarms.Heater && shape == string(alarms.DriveRunning),
			Shape: shape, Guessed: guessed, Failing: d.Failing, Name: shortName(d.Name, longestName), Does: s.actOf(d.Does)}
		spot.Height = max(spot.Height, 0)
		drawn.block = &block{spot: spot, room: driveSize/2 + 1, w: max(widthOf(drawn.Name, textSmall), widthOf(s.words.Say(longestAct), textSmall)), h: 2 * driveLine,
			port: driveLine, write: func(b *block) { s.writeDrive(drawn, b) }}
		s.view.Drives = append(s.view.Drives, drawn)
		s.blocks = append(s.blocks, drawn.block)
	}
}

// DriveShape is how a drive is drawn: as it is seen to be, or as it is guessed.
func DriveShape(d alarms.DrivePicture) (shape string, guessed bool) {
	if !d.Evidenced && d.Inferred != nil {
		return string(d.Guess), true
	}
	return string(d.State), false
}

// writeDrive sets the mark of a drive, and its words into their room.
func (s *sketch) writeDrive(d *driveDrawn, b *block) {
	d.X, d.Y = round1(b.at.X-driveSize/2), round1(b.at.Y-driveSize/2)
	d.Align, d.TextX, d.Leader = b.align(), round1(b.x), s.leader(b)
	d.NameLong, d.DoesLong = fitted(d.Name, textSmall, b.w), fitted(d.Does, textSmall, b.w)
	d.NameY, d.DoesY = round1(b.y+driveLine-3.5), round1(b.y+2*driveLine-3.5)
}

// actOf shortens what a drive does to what fits beside it.
func (s *sketch) actOf(does string) string {
	w := s.words
	if widthOf(does, textSmall) <= widthOf(w.Say(longestAct), textSmall) {
		return does
	}
	switch does {
	case w.Say("probably stands still"):
		return w.Say("may be still")
	case w.Say("probably heats"):
		return w.Say("may heat")
	}
	return shortName(does, longestName)
}
