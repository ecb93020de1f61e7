package say

import (
	"time"

	"telltale/alarms"
)

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
	name, when := s.drive(h, d.Drive).Name, s.when(d.Side)
	if len(d.With) > 0 {
		return s.together(h, d, now)
	}
	if !d.Known {
		return s.say("What comes if the %s fails is not known yet: it must first have been seen running and standing often enough, %s.", name, when)
	}
	return s.say("If the %s fails now%s%s. A guess for plants, not for people or animals; see to it at once if it fails.", name, s.link(d), s.handed(d, now))
}

// together is hand where several fail at once.
func (s *speaker) together(h *alarms.House, d *alarms.DriveFailure, now time.Time) string {
	all := []string{s.say("the %s|drive", s.drive(h, d.Drive).Name)}
	for _, id := range d.With {
		all = append(all, s.say("the %s|drive", s.drive(h, id).Name))
	}
	names := s.list(all)
	if !d.Known {
		return s.say("What comes if %s fail together is not known yet: they must first have been seen running and standing often enough, %s.", names, s.when(d.Side))
	}
	return s.say("If %s fail together now%s%s. What comes if only one of them fails is not known. A guess for plants, not for people or animals; see to it at once if one fails.",
		names, s.link(d), s.handed(d, now))
}

// link is put before what comes of a failure.
func (s *speaker) link(d *alarms.DriveFailure) string {
	if d.Holds {
		return s.say(", |if it fails")
	}
	return ": "
}

// handed is what is known to come of a failure.
func (s *speaker) handed(d *alarms.DriveFailure, now time.Time) string {
	limit := s.Value(alarms.Temperature, d.Limit)
	if d.Holds {
		sooner := ""
		if d.Soon > 0 {
			sooner = s.say(", though one time in ten %s", s.in(d.Side, d.Soon, now))
		}
		return s.say("%s is likely not reached %s%s", limit, s.until(d.Side), sooner)
	}
	between := s.say(" (%s to %s)", s.in(d.Side, d.Soon, now), s.in(d.Side, d.Late, now))
	if d.Late == 0 {
		between = s.say(" (%s at the soonest; it may not come)", s.in(d.Side, d.Soon, now))
	}
	if d.Side == alarms.LowSide {
		return s.say("below %s at about %s%s", limit, s.in(d.Side, d.Middle, now), between)
	}
	return s.say("%s to %s%s", s.in(d.Side, d.Middle, now), limit, between)
}

// in says a time ahead: how long it is where it gets hot, which goes quickly, when it is
// where it gets cold, which goes on all night.
func (s *speaker) in(of alarms.Side, d time.Duration, now time.Time) string {
	if of == alarms.LowSide {
		return s.Clock(now.Add(d).Round(5*time.Minute), now)
	}
	return s.Span(max(rough(d), time.Minute))
}

func (s *speaker) when(of alarms.Side) string {
	if of == alarms.LowSide {
		return s.say("by night")
	}
	return s.say("in the sun")
}

func (s *speaker) until(of alarms.Side) string {
	if of == alarms.LowSide {
		return s.say("by sunrise")
	}
	return s.say("within 4 h")
}

// figure says what a house was found to be like.
func (s *speaker) figure(f *alarms.FigurePicture) string {
	kelvin := func(v float64) string { return s.Distance(alarms.Temperature, v) }
	span := s.say(" (%s to %s)", kelvin(f.From), kelvin(f.To))
	switch f.Name {
	case alarms.FigureWarming:
		return s.say("In full sun, with nothing running, it warms by %s an hour at first%s.", kelvin(f.Value), span)
	case alarms.FigureLoss:
		by := func(v float64) string { return s.Distance(alarms.Temperature, 10*v) }
		return s.say("In the dark, %s warmer than outside, it cools by %s an hour at first (%s to %s).", s.Distance(alarms.Temperature, 10), by(f.Value), by(f.From), by(f.To))
	case alarms.FigureExchange:
		return s.say("The exhaust fan carries off as much warmth as %s air changes an hour would (%s to %s); what leaks without it cannot be told from what goes through the cover.",
			s.number(f.Value, 0), s.number(f.From, 0), s.number(f.To, 0))
	case alarms.FigureLoop:
		return s.say("The ground loop warms it by %s an hour at first when it is as cold as when the loop last ran%s.", kelvin(f.Value), span)
	case alarms.FigureHeating:
		return s.say("The heater warms it by %s an hour at first%s.", kelvin(f.Value), span)
	}
	return ""
}
