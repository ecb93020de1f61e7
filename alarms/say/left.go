package say

import (
	"slices"

	"telltale/alarms"
)

// left says how long there is until the next limit that a has to do with: where a drive
// that it rests on has failed, by what the house does without it, else by what is expected.
// It is "" where nothing is known of it.
func (s *speaker) left(a *alarms.AlarmPicture, pic *alarms.Picture) string {
	if !a.State.Active() {
		return ""
	}
	for i := range pic.Houses {
		if h := &pic.Houses[i]; h.ID == a.House {
			for k := range h.Places {
				if p := &h.Places[k]; p.Outlook != nil && (a.Place == "" || a.Place == p.ID) {
					if said := s.leftAt(a, h, p, pic); said != "" {
						return said
					}
				}
			}
		}
	}
	return ""
}

func (s *speaker) leftAt(a *alarms.AlarmPicture, h *alarms.HousePicture, p *alarms.PlacePicture, pic *alarms.Picture) string {
	for i := range p.Outlook.Drives {
		f := &p.Outlook.Drives[i]
		if f.Known && failed(h, f) && (a.Quantity == alarms.Temperature && a.Of.Side == f.Side || a.Of.Verdict != nil && a.Of.Verdict.Drive == f.Drive) {
			return s.say("With the %s as it is: %s.", s.drive(s.house(h.ID), f.Drive).Name, s.handed(f, pic.At))
		}
	}
	if !p.Outlook.Stands(pic.At) || a.Quantity != alarms.Temperature {
		return ""
	}
	for i := range p.Outlook.Limits {
		if l := &p.Outlook.Limits[i]; l.Side == a.Of.Side && !l.Passed(p) && l.Likelihood() >= alarms.WorthSaying {
			return expectations{s.Locale}.crossing(l, p.Outlook.At, pic.At)
		}
	}
	return ""
}

// failed reports whether all drives that f is about stand and ought not to.
func failed(h *alarms.HousePicture, f *alarms.DriveFailure) bool {
	for i := range h.Drives {
		d := &h.Drives[i]
		if (d.ID == f.Drive || slices.Contains(f.With, d.ID)) && !(d.Failing && d.State == alarms.DriveStanding) {
			return false
		}
	}
	return true
}
