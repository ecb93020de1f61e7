package say

import (
	"fmt"
	"time"

	"telltale/alarms"
)

// careful is what a guess of the time in hand is no leave for.
const careful = " A guess for plants, not for people or animals; see to it at once if "

// drawHand puts in words what comes of a place if a drive fails, and what its house is
// like; o is no one else's.
func (s *speaker) drawHand(h *alarms.House, o *alarms.OutlookPicture, now time.Time) {
	if o == nil {
		return
	}
	o.Drives = each(o.Drives, func(d *alarms.DriveFailure) { d.Sentence = s.hand(h, d, now) })
	o.Figure = each(o.Figure, func(f *alarms.FigurePicture) { f.Sentence = s.figure(f) })
}

// hand says how long there is until a limit if a drive fails now.
func (s *speaker) hand(h *alarms.House, d *alarms.DriveFailure, now time.Time) string {
	name := s.drive(h, d.Drive).Name
	fails, them, guess := "the "+name+" fails", "it", careful+"it fails."
	if len(d.With) > 0 {
		all := []string{"the " + name}
		for _, id := range d.With {
			all = append(all, "the "+s.drive(h, id).Name)
		}
		fails, them = alarms.List(all)+" fail together", "they"
		guess = " What comes if only one of them fails is not known." + careful + "one fails."
	}
	if !d.Known {
		return fmt.Sprintf("What comes if %s is not known yet: %s must first have been seen running and standing often enough, %s.", fails, them, when(d.Side))
	}
	link := ": "
	if d.Holds {
		link = ", "
	}
	return "If " + fails + " now" + link + s.handed(d, now) + "." + guess
}

// handed is what is known to come of a failure.
func (s *speaker) handed(d *alarms.DriveFailure, now time.Time) string {
	limit := s.Value(alarms.Temperature, d.Limit)
	if d.Holds {
		sooner := ""
		if d.Soon > 0 {
			sooner = ", though one time in ten " + s.in(d.Side, d.Soon, now)
		}
		return fmt.Sprintf("%s is likely not reached %s%s", limit, until(d.Side), sooner)
	}
	between := " (" + s.in(d.Side, d.Soon, now) + " to " + s.in(d.Side, d.Late, now) + ")"
	if d.Late == 0 {
		between = " (" + s.in(d.Side, d.Soon, now) + " at the soonest; it may not come)"
	}
	if d.Side == alarms.LowSide {
		return fmt.Sprintf("below %s at about %s%s", limit, s.in(d.Side, d.Middle, now), between)
	}
	return fmt.Sprintf("%s to %s%s", s.in(d.Side, d.Middle, now), limit, between)
}

// in says a time ahead: how long it is where it gets hot, which goes quickly, when it is
// where it gets cold, which goes on all night.
func (s *speaker) in(of alarms.Side, d time.Duration, now time.Time) string {
	if of == alarms.LowSide {
		return s.Clock(now.Add(d).Round(5*time.Minute), now)
	}
	return s.Span(max(rough(d), time.Minute))
}

func when(of alarms.Side) string {
	if of == alarms.LowSide {
		return "by night"
	}
	return "in the sun"
}

func until(of alarms.Side) string {
	if of == alarms.LowSide {
		return "by sunrise"
	}
	return "within 4 h"
}

// figure says what a house was found to be like.
func (s *speaker) figure(f *alarms.FigurePicture) string {
	kelvin := func(v float64) string { return s.Distance(alarms.Temperature, v) }
	span := fmt.Sprintf(" (%s to %s)", kelvin(f.From), kelvin(f.To))
	switch f.Name {
	case alarms.FigureWarming:
		return fmt.Sprintf("In full sun, with nothing running, it warms by %s an hour at first%s.", kelvin(f.Value), span)
	case alarms.FigureLoss:
		by := func(v float64) string { return s.Distance(alarms.Temperature, 10*v) }
		return fmt.Sprintf("In the dark, %s warmer than outside, it cools by %s an hour at first (%s to %s).", s.Distance(alarms.Temperature, 10), by(f.Value), by(f.From), by(f.To))
	case alarms.FigureExchange:
		return fmt.Sprintf("The exhaust fan carries off as much warmth as %s air changes an hour would (%s to %s); what leaks without it cannot be told from what goes through the cover.",
			s.number(f.Value, 0), s.number(f.From, 0), s.number(f.To, 0))
	case alarms.FigureLoop:
		return fmt.Sprintf("The ground loop warms it by %s an hour at first when it is as cold as when the loop last ran%s.", kelvin(f.Value), span)
	case alarms.FigureHeating:
		return fmt.Sprintf("The heater warms it by %s an hour at first%s.", kelvin(f.Value), span)
	}
	return ""
}
