package scenario

import (
	"slices"

	"telltale/alarms"
)

// controlLine reads one line about the mechanical control of a house.
func (p *parser) controlLine(c *cursor) bool {
	h := p.house
	switch {
	case c.take("control"):
		h.Controls = append(h.Controls, readControl(c))
	case c.take("drive"):
		h.Drives = append(h.Drives, readDrive(c))
	case c.take("selector"):
		h.Selectors = append(h.Selectors, readSelector(c))
	case c.take("opening"):
		h.Openings = append(h.Openings, readOpening(c))
	default:
		return false
	}
	p.place = nil
	return true
}

// readOpening reads `front "front door" door, at bench, by door-1, shut by 19:30, falls 5`.
func readOpening(c *cursor) alarms.HandOpening {
	o := alarms.HandOpening{ID: alarms.OpeningID(c.name("an opening"))}
	o.Name = c.quotedName()
	if o.Kind = alarms.OpeningKind(c.name("a kind of opening")); c.err == nil && !slices.Contains(alarms.OpeningKinds, o.Kind) {
		c.fail("want a kind of opening, one of %q, got %q", alarms.OpeningKinds, o.Kind)
	}
	for c.take(",") {
		switch {
		case c.take("at"):
			o.Place = alarms.PlaceID(c.name("a place"))
		case c.take("by"):
			o.Probe = alarms.ProbeID(c.name("a probe"))
			o.Inverted = c.take("inverted")
		case c.take("shut", "by", "sunset"):
		case c.take("shut", "by", "never"):
			o.ShutBy = -1
		case c.take("shut", "by"):
			o.ShutBy = c.timeOfDay()
		case c.take("falls"):
			o.Falls = c.number("how fast it may cool")
		case c.take("priority"):
			o.Priority = named[alarms.Priority](c, "a priority")
		default:
			c.fail("want at, by, shut by, falls or priority, got %s", c.got())
		}
	}
	return o
}

// namesOf takes "exhaust and shutter".
func namesOf[T ~string](c *cursor, what string) []T {
	var out []T
	for more := true; more && c.err == nil; more = c.take("and") {
		out = append(out, T(c.name(what)))
	}
	return out
}

// readControl reads `thermostat "by the door", at bench: hot cooling from 29.5, drives exhaust`.
func readControl(c *cursor) alarms.Control {
	ctl := alarms.Control{ID: alarms.ControlID(c.name("a control"))}
	ctl.Name = c.quotedName()
	c.need(",", "at")
	ctl.Place = alarms.PlaceID(c.name("a place"))
	c.need(":")
	for more := true; more && c.err == nil; more = c.take(";") {
		ctl.Stages = append(ctl.Stages, readStage(c))
	}
	return ctl
}

func readStage(c *cursor) alarms.Stage {
	var s alarms.Stage
	if !c.is("cooling", "heating", "drying", "moistening") {
		s.Name = c.name("a stage, cooling, heating, drying or moistening")
	}
	i := slices.IndexFunc(alarms.Modes, func(m alarms.Mode) bool { return c.take(m.String()) })
	if i < 0 {
		c.fail("want cooling, heating, drying or moistening, got %s", c.got())
		i = 0
	}
	s.Mode = alarms.Modes[i]
	c.need("from")
	s.SetPoint = c.number("the set point")
	if c.take("and", "by", "night") {
		s.SetPointNight = alarms.At(c.number("the set point by night"))
	}
	for c.take(",") {
		switch {
		case c.take("differential"):
			s.Differential = c.number("the differential")
		case c.take("tolerance"):
			s.Tolerance = c.number("the tolerance")
		case c.take("drives"):
			s.Drives = namesOf[alarms.DriveID](c, "a drive")
		case c.take("in"):
			s.Seasons = namesOf[alarms.Season](c, "a season")
		default:
			c.fail("want differential, tolerance, drives or in, got %s", c.got())
		}
	}
	return s
}

// readDrive reads `exhaust "exhaust fan" exhaust-fan, with shutter: clamp-1 current above 0.2`.
func readDrive(c *cursor) alarms.Drive {
	d := alarms.Drive{ID: alarms.DriveID(c.name("a drive"))}
	d.Name = c.quotedName()
	d.Kind = readDriveKind(c)
	for c.take(",") {
		driveItem(c, &d)
	}
	if c.take(":") {
		for more := true; more && c.err == nil; more = c.take(";") {
			d.Evidence = append(d.Evidence, readEvidence(c))
		}
	}
	return d
}

func readDriveKind(c *cursor) alarms.DriveKind {
	got := alarms.DriveKind(c.name("a kind of drive"))
	for _, k := range alarms.DriveKinds {
		if k == got {
			return k
		}
	}
	c.fail("want a kind of drive, one of %q, got %q", alarms.DriveKinds, got)
	return ""
}

// driveItem reads one of the things said of a drive.
func driveItem(c *cursor, d *alarms.Drive) {
	switch {
	case c.take("start"):
		d.Start = c.duration("the start")
	case c.take("stop"):
		d.Stop = c.duration("the stop")
	case c.take("effect"):
		d.Effect = c.durationOr("the effect", "none")
	case c.take("with"):
		d.With = namesOf[alarms.DriveID](c, "a drive")
	case c.take("never", "with"):
		d.Never = namesOf[alarms.DriveID](c, "a drive")
	case c.take("barred", "in"):
		d.Barred = namesOf[alarms.Season](c, "a season")
	case c.take("starts"):
		d.MaxStarts = c.count("the starts in an hour")
	case c.take("priority"):
		d.Priority = named[alarms.Priority](c, "a priority")
	case c.take("circuit"):
		d.Circuit = alarms.CircuitID(c.name("a circuit"))
	case c.take("on", "in"):
		addRuns(c, d, alarms.Run{On: true})
	case c.take("off", "in"):
		addRuns(c, d, alarms.Run{})
	case c.take("timer", "tolerance"):
		d.TimerTolerance = c.durationOr("the timer", "none")
	case c.take("timer"):
		addRuns(c, d, alarms.Run{On: true, Hours: readHours(c)})
	case c.take("by", "turns"):
		r := alarms.Run{On: true, OnFor: c.duration("the time on")}
		c.need("on", "and")
		r.OffFor = c.duration("the time off")
		c.need("off", "in")
		addRuns(c, d, r)
	default:
		c.fail("want start, stop, effect, with, never with, barred in, on in, off in, by turns, timer, timer tolerance, starts, circuit or priority, got %s", c.got())
	}
}

// readHours takes "05:30 to 09:00 and 16:00 to 20:30 in", up to the seasons.
func readHours(c *cursor) (all []alarms.Hours) {
	for more := true; more && c.err == nil; more = c.take("and") {
		h := alarms.Hours{From: c.timeOfDay()}
		c.need("to")
		h.To = c.timeOfDay()
		all = append(all, h)
	}
	c.need("in")
	return all
}

// addRuns takes the seasons in which a drive runs as r says.
func addRuns(c *cursor, d *alarms.Drive, r alarms.Run) {
	for _, r.Season = range namesOf[alarms.Season](c, "a season") {
		d.Runs = append(d.Runs, r)
	}
}

func readEvidence(c *cursor) alarms.Evidence {
	e := alarms.Evidence{Probe: alarms.ProbeID(c.name("a probe"))}
	e.Quantity = alarms.Quantity(c.name("a quantity"))
	if c.err == nil && !e.Quantity.Known() {
		c.fail("want one of the quantities %v, got %q", alarms.Quantities, e.Quantity)
	}
	for more := c.is("above", "usual-low", "usual-high", "inverted"); more && c.err == nil; more = c.take(",") {
		switch {
		case c.take("above"):
			e.Above = alarms.At(c.number("above"))
		case c.take("usual-low"):
			e.UsualLow = alarms.At(c.number("usual-low"))
		case c.take("usual-high"):
			e.UsualHigh = alarms.At(c.number("usual-high"))
		case c.take("inverted"):
			e.Inverted = true
		default:
			c.fail("want above, usual-low, usual-high or inverted, got %s", c.got())
		}
	}
	return e
}

// readSelector reads `box "box at the door", starts summer: summer follow exhaust; winter off exhaust`.
func readSelector(c *cursor) alarms.Selector {
	s := alarms.Selector{ID: alarms.SelectorID(c.name("a selector"))}
	s.Name = c.quotedName()
	for c.take(",") {
		switch {
		case c.take("starts"):
			s.At = c.name("a position")
		case c.take("told", "by"):
			s.Probe = alarms.ProbeID(c.name("a probe"))
		default:
			c.fail("want starts or told by, got %s", c.got())
		}
	}
	c.need(":")
	for more := true; more && c.err == nil; more = c.take(";") {
		s.Positions = append(s.Positions, readPosition(c))
	}
	return s
}

func readPosition(c *cursor) alarms.Position {
	p := alarms.Position{Name: c.name("a position")}
	for more := c.is("follow", "on", "off", "covered", "shut", "flow", "up", "down", "closed", "in"); more && c.err == nil; more = c.take(",") {
		switch {
		case c.take("follow"):
			p.Follow = namesOf[alarms.DriveID](c, "a drive")
		case c.take("on"):
			p.On = namesOf[alarms.DriveID](c, "a drive")
		case c.take("off"):
			p.Off = namesOf[alarms.DriveID](c, "a drive")
		case c.take("covered"):
			p.Covered = namesOf[alarms.DriveID](c, "a drive")
		case c.take("shut"):
			p.Shut = namesOf[alarms.PlaceID](c, "a pipe")
		case c.take("flow"):
			p.Flow = c.number("the flow")
		case c.take("up"):
			p.Direction = alarms.Up
		case c.take("down"):
			p.Direction = alarms.Down
		case c.take("closed"):
			p.Closed = true
		case c.take("in"):
			p.Seasons = namesOf[alarms.Season](c, "a season")
		default:
			c.fail("want follow, on, off, covered, shut, flow, up, down, closed or in, got %s", c.got())
		}
	}
	return p
}
