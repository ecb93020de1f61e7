package scenario

import (
	"bytes"
	"fmt"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/walk"
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

// printControls writes the mechanical control of a house.
func printControls(b *bytes.Buffer, h *alarms.House) {
	for _, c := range h.Controls {
		fmt.Fprintf(b, "    control %s, at %s: %s\n", withName(c.ID, c.Name), word(string(c.Place)), joined(c.Stages, stageWords))
	}
	for _, d := range h.Drives {
		line := driveItems(&d).after(withName(d.ID, d.Name)+" "+string(d.Kind), ", ")
		if len(d.Evidence) > 0 {
			line += ": " + joined(d.Evidence, evidenceWords)
		}
		fmt.Fprintf(b, "    drive %s\n", line)
	}
	for _, s := range h.Selectors {
		fmt.Fprintf(b, "    selector %s: %s\n", selectorItems(&s).after(withName(s.ID, s.Name), ", "), joined(s.Positions, positionWords))
	}
	for _, o := range h.Openings {
		fmt.Fprintf(b, "    opening %s\n", openingItems(&o).after(withName(o.ID, o.Name)+" "+string(o.Kind), ", "))
	}
}

// readOpening reads `front "front door" door, at bench, by door-1, shut by 19:30, falls 5`.
func readOpening(c *cursor) alarms.HandOpening {
	o := alarms.HandOpening{ID: alarms.OpeningID(c.name("an opening"))}
	o.Name = c.quotedName()
	o.Kind = oneOf(c, "kind of opening", alarms.OpeningKinds)
	openingItems(&o).more(c)
	return o
}

func openingItems(o *alarms.HandOpening) items {
	by := text("by", "a probe", &o.Probe)
	return items{text("at", "a place", &o.Place),
		{by.words, func(c *cursor) { by.read(c); o.Inverted = c.take("inverted") }, func() string {
			if o.Inverted {
				return by.said() + " inverted"
			}
			return by.said()
		}},
		{"shut by", func(c *cursor) { o.ShutBy = shutBy(c) }, func() string {
			if o.ShutBy < 0 {
				return "shut by never"
			}
			return said("shut by", o.ShutBy > 0, func() string { return timeOfDay(o.ShutBy) })
		}},
		number("falls", &o.Falls), priority("priority", &o.Priority)}
}

// readControl reads `thermostat "by the door", at bench: hot cooling from 29.5, drives exhaust`.
func readControl(c *cursor) alarms.Control {
	ctl := alarms.Control{ID: alarms.ControlID(c.name("a control"))}
	ctl.Name = c.quotedName()
	c.need(",", "at")
	ctl.Place = alarms.PlaceID(c.name("a place"))
	c.need(":")
	ctl.Stages = parts(c, readStage)
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
	stageItems(&s).more(c)
	return s
}

func stageItems(s *alarms.Stage) items {
	return items{number("differential", &s.Differential), number("tolerance", &s.Tolerance),
		names("drives", "a drive", &s.Drives), names("in", "a season", &s.Seasons)}
}

func stageWords(s *alarms.Stage) string {
	head := fmt.Sprintf("%s from %s", s.Mode, figure(s.SetPoint))
	if s.SetPointNight.Set {
		head += " and by night " + figure(s.SetPointNight.Value)
	}
	if s.Name != "" {
		head = word(s.Name) + " " + head
	}
	return stageItems(s).after(head, ", ")
}

// readDrive reads `exhaust "exhaust fan" exhaust-fan, with shutter: clamp-1 current above 0.2`.
func readDrive(c *cursor) alarms.Drive {
	d := alarms.Drive{ID: alarms.DriveID(c.name("a drive"))}
	d.Name = c.quotedName()
	d.Kind = oneOf(c, "kind of drive", alarms.DriveKinds)
	driveItems(&d).more(c)
	if c.take(":") {
		d.Evidence = parts(c, readEvidence)
	}
	return d
}

func driveItems(d *alarms.Drive) items {
	head := items{duration("start", &d.Start, ""), duration("stop", &d.Stop, ""), duration("effect", &d.Effect, "none"),
		names("with", "a drive", &d.With), names("never with", "a drive", &d.Never)}
	return append(append(head, runItems(d)...), duration("timer tolerance", &d.TimerTolerance, "none"),
		names("barred in", "a season", &d.Barred), count("starts", &d.MaxStarts), text("circuit", "a circuit", &d.Circuit),
		priority("priority", &d.Priority))
}

// runItems are the seasons in which a drive runs, and how. They are written in
// the order of the drive's.
func runItems(d *alarms.Drive) items {
	in := func(words string, how func(c *cursor) alarms.Run) item {
		return item{words, func(c *cursor) {
			r := how(c)
			for _, r.Season = range namesOf[alarms.Season](c, "a season") {
				d.Runs = append(d.Runs, r)
			}
		}, func() string { return "" }}
	}
	all := items{
		in("on in", func(*cursor) alarms.Run { return alarms.Run{On: true} }),
		in("off in", func(*cursor) alarms.Run { return alarms.Run{} }),
		in("timer", func(c *cursor) alarms.Run { return alarms.Run{On: true, Hours: readHours(c)} }),
		in("by turns", func(c *cursor) alarms.Run {
			r := alarms.Run{On: true, OnFor: c.duration("the time on")}
			c.need("on", "and")
			r.OffFor = c.duration("the time off")
			c.need("off", "in")
			return r
		}),
	}
	all[0].said = func() string {
		runs := walk.Each(d.Runs, func(r alarms.Run) string { return runWords(r) + " in " + word(string(r.Season)) })
		return strings.Join(runs, ", ")
	}
	return all
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

func runWords(r alarms.Run) string {
	switch {
	case len(r.Hours) > 0:
		all := walk.Each(r.Hours, func(h alarms.Hours) string { return timeOfDay(h.From) + " to " + timeOfDay(h.To) })
		return "timer " + strings.Join(all, " and ")
	case r.OnFor != 0 || r.OffFor != 0:
		return fmt.Sprintf("by turns %s on and %s off", length(r.OnFor), length(r.OffFor))
	case r.On:
		return "on"
	}
	return "off"
}

func readEvidence(c *cursor) alarms.Evidence {
	e := alarms.Evidence{Probe: alarms.ProbeID(c.name("a probe"))}
	e.Quantity = quantity(c)
	if it := evidenceItems(&e); it.begin(c) {
		it.list(c)
	}
	return e
}

func evidenceItems(e *alarms.Evidence) items {
	return items{limit("above", &e.Above), limit("usual-low", &e.UsualLow), limit("usual-high", &e.UsualHigh),
		flag("inverted", &e.Inverted, true)}
}

func evidenceWords(e *alarms.Evidence) string {
	return evidenceItems(e).after(word(string(e.Probe))+" "+string(e.Quantity), " ")
}

// readSelector reads `box "box at the door", starts summer: summer follow exhaust; winter off exhaust`.
func readSelector(c *cursor) alarms.Selector {
	s := alarms.Selector{ID: alarms.SelectorID(c.name("a selector"))}
	s.Name = c.quotedName()
	selectorItems(&s).more(c)
	c.need(":")
	s.Positions = parts(c, readPosition)
	return s
}

func selectorItems(s *alarms.Selector) items {
	return items{text("starts", "a position", &s.At), text("told by", "a probe", &s.Probe)}
}

func readPosition(c *cursor) alarms.Position {
	p := alarms.Position{Name: c.name("a position")}
	if it := positionItems(&p); it.begin(c) {
		it.list(c)
	}
	return p
}

func positionItems(p *alarms.Position) items {
	return items{names("follow", "a drive", &p.Follow), names("on", "a drive", &p.On), names("off", "a drive", &p.Off),
		names("covered", "a drive", &p.Covered), names("shut", "a pipe", &p.Shut), number("flow", &p.Flow),
		flag("up", &p.Direction, alarms.Up), flag("down", &p.Direction, alarms.Down), flag("closed", &p.Closed, true),
		names("in", "a season", &p.Seasons)}
}

func positionWords(p *alarms.Position) string { return positionItems(p).after(word(p.Name), " ") }
