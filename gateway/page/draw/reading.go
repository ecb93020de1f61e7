package draw

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/words"
)

// Reading is one value of a place as the page shows it.
type Reading struct {
	Anchor   string
	Name     string // of the quantity
	Value    string
	Unit     string
	Standing words.Standing
	Trend    string
	Live     bool
	At       words.Ago
	Old      string // why the value is not of now
	Strip    *strip
}

// ReadingsOf writes and draws all of a house, by their anchors.
func ReadingsOf(w words.Words, h alarms.HousePicture, now time.Time) map[string]Reading {
	all := map[string]Reading{}
	for _, pl := range h.Places {
		for _, pt := range pl.Points {
			r := ReadingOf(w, h.ID, pl, pt, now)
			all[r.Anchor] = r
		}
	}
	return all
}

// ReadingOf writes and draws p.
func ReadingOf(w words.Words, house alarms.HouseID, pl alarms.PlacePicture, p alarms.PointPicture, now time.Time) Reading {
	st := w.Stand(p)
	if !words.AnyLimit(p.Limits) && slices.ContainsFunc(pl.Exposures, func(x alarms.ExposurePicture) bool { return x.Quantity == p.Quantity }) {
		st.Words += w.Say("; hours beyond a limit are counted")
	}
	v := Reading{
		Anchor: words.Anchor("point", string(house), string(pl.ID), string(p.Quantity)),
		Name:   w.Core.Word(p.Quantity), Standing: st, Live: p.HasValue && p.Live, At: w.Ago(p.At, now),
	}
	if p.HasValue {
		v.Value, v.Unit = w.Parts(p.Quantity, p.Value)
		if p.Shows != "" { // "closed" of a contact is easily taken for its shutter
			v.Value = w.SaysIt(p.Shows)
		}
	}
	if p.HasValue && !p.Live {
		v.Old = w.Say("last known %s, %s", w.Clock(p.At, now), w.Age(p.At, now))
		if p.Retained {
			v.Old = w.Say("a stored value, received %s; when it was measured is not known", w.Clock(p.At, now))
		}
	}
	if v.Live && p.Rate != nil {
		v.Trend = w.Trend(p.Quantity, *p.Rate)
	}
	v.Strip = stripOf(p, st, pl.Name+", "+v.Name+": "+st.Words)
	return v
}
