package alarms

import (
	"fmt"
	"strings"
	"time"
)

// OpeningReason is what stands open, or did.
type OpeningReason struct {
	ID   OpeningID   `json:"id"`
	Kind OpeningKind `json:"kind"`
	Open bool        `json:"open"`
	// Was is since when it had been open, where it is shut now.
	Was     time.Time `json:"was,omitzero"`
	By      time.Time `json:"by,omitzero"`       // when it should have been shut, where it should be shut now
	Outside *float64  `json:"outside,omitempty"` // °C
}

func (o *opening) why(due instant) Reason {
	x := &OpeningReason{ID: o.plan.ID, Kind: o.plan.Kind, Open: o.Open, Outside: known(o.house.outsideNow())}
	r := Reason{Since: o.engine.wall(o.Since), Opening: x, Verdict: "left-open", Value: known(o.place.temperature())}
	if !o.Open {
		x.Was = o.engine.wall(o.Was)
	}
	if o.late(due) {
		x.By = o.by(due)
	}
	if o.alarm.Condition == Inner || o.cools() != Within {
		low := o.low()
		r.Verdict, r.Limit = "cooling", &low
		if rate, ok := o.rate(); ok {
			r.Rate = &rate
		}
	}
	return r
}

// withThe puts the article before a name that has none.
func withThe(name string) string { return "the " + strings.TrimPrefix(name, "the ") }

// called is what o is called in a sentence: "the door of Long House".
func (o *opening) called() string { return withThe(o.plan.Name) + " of " + o.house.plan.Name }

func (e *Engine) openingSentence(a *alarm, t Transition, ended bool) string {
	o, w, r := a.opening, e.plan.Words, t.Reason
	x, name := r.Opening, capital(o.called())
	since := w.Clock(r.Since, t.Due)
	switch {
	case !x.Open:
		return fmt.Sprintf("%s was shut at %s; it had been open since %s.", name, since, w.Clock(x.Was, t.Due))
	case ended:
		return fmt.Sprintf("%s is still open, which is no matter now%s.", name, o.noMatter(r, w))
	case r.Verdict == "cooling":
		s := fmt.Sprintf("%s has been open since %s", name, since)
		if r.Rate != nil && *r.Rate < 0 {
			s += fmt.Sprintf(", and %s cools by %s an hour", withThe(o.place.plan.Name), w.Distance(Temperature, -*r.Rate))
		}
		if r.Value != nil {
			s += ": " + w.bounded(Temperature, *r.Value, r.Limit)
		}
		return s + o.outside(r, w) + "."
	}
	s := fmt.Sprintf("%s is still open%s, open since %s", name, o.evening(x, t, w), since)
	if r.Value != nil {
		s += fmt.Sprintf(": %s at %s", w.Value(Temperature, *r.Value), withThe(o.place.plan.Name))
	}
	return s + o.outside(r, w) + "."
}

// outside says how cold it is there, to follow a sentence.
func (o *opening) outside(r Reason, w Words) string {
	if r.Opening.Outside == nil {
		return ""
	}
	return fmt.Sprintf(", %s outside", w.Value(Temperature, *r.Opening.Outside))
}

// evening says by when it should have been shut: " at sunset (20:41)", or after it.
func (o *opening) evening(x *OpeningReason, t Transition, w Words) string {
	if x.By.IsZero() {
		return ""
	}
	at, word := w.Clock(x.By, t.Due), "after"
	if t.Due.Sub(x.By) < time.Minute {
		word = "at"
	}
	switch {
	case o.plan.ShutBy > 0:
		return " " + word + " " + at
	case o.house.plan.Day.Fixed:
		return fmt.Sprintf(" %s the end of the day (%s)", word, at)
	}
	return fmt.Sprintf(" %s sunset (%s)", word, at)
}

// noMatter says why it does no harm any more, after a colon.
func (o *opening) noMatter(r Reason, w Words) string {
	out := r.Opening.Outside
	switch {
	case o.shows.probe.Out:
		return ": its contact was taken out of service"
	case r.Opening.By.IsZero() && o.plan.ShutBy >= 0:
		return ": it is day"
	case out != nil && *out >= o.low()+openNight:
		return ": it is " + w.Value(Temperature, *out) + " outside"
	case r.Value != nil:
		return fmt.Sprintf(": it is %s at %s", w.Value(Temperature, *r.Value), withThe(o.place.plan.Name))
	}
	return ""
}

// openingSays is what to look at first where a temperature at p is beyond a limit,
// or changes towards one: what is known to be open in the cold, or shut in the heat.
func (h *house) openingSays(p *place, side Side) string {
	for _, o := range h.openings {
		cold := side == LowSide
		if !o.airs(p) || !o.known() || o.Open != cold || o.Closed != 0 {
			continue
		}
		if cold {
			return fmt.Sprintf("%s has been open since %s: shut it. ", withThe(o.plan.Name),
				o.engine.plan.Words.Clock(o.engine.wall(o.Since), o.engine.wall(o.engine.now)))
		}
		return fmt.Sprintf("%s is shut: open it. ", withThe(o.plan.Name))
	}
	return ""
}

// knowsDoors reports whether it is known how all that airs p stands, and something does.
func (h *house) knowsDoors(p *place) bool {
	airs := 0
	for _, o := range h.openings {
		if !o.airs(p) {
			continue
		}
		if !o.known() {
			return false
		}
		airs++
	}
	return airs > 0
}

// airs reports whether o airs p: a lid its own place, what else there is the whole
// house but for what lies under a lid, outside or at the end of a pipe.
func (o *opening) airs(p *place) bool {
	if o.place == p {
		return true
	}
	if o.plan.Kind == KindLid || p == nil || p == o.house.outside || p.air == nil {
		return false
	}
	for _, other := range o.house.openings {
		if other.plan.Kind == KindLid && other.place == p {
			return false
		}
	}
	if l := o.house.loop; l != nil {
		for _, pipe := range l.pipes {
			if pipe.outlet == p {
				return false
			}
		}
	}
	return true
}

// States of an opening.
const (
	StateOpen    = "open"
	StateShut    = "shut"
	StateUnknown = "not known"
)

// OpeningPicture is a door, a window or a lid.
type OpeningPicture struct {
	ID    OpeningID   `json:"id"`
	Name  string      `json:"name"`
	Kind  OpeningKind `json:"kind"`
	State string      `json:"state"`          // open, shut or not known
	Since time.Time   `json:"since,omitzero"` // of State, as far as was seen
	Harms bool        `json:"harms"`          // it should be shut now

	Sentence string `json:"sentence"`
}

// drawOpenings draws what people open and shut by hand in h.
func (e *Engine) drawOpenings(h *house) []OpeningPicture {
	var all []OpeningPicture
	for _, o := range h.openings {
		p := OpeningPicture{ID: o.plan.ID, Name: o.plan.Name, Kind: o.plan.Kind, State: StateUnknown, Harms: o.alarm.Condition != Within}
		w, now := e.plan.Words, e.wall(e.now)
		name := withThe(o.plan.Name)
		was := map[bool]string{true: StateOpen, false: StateShut}[o.Open]
		switch {
		case o.known():
			p.State, p.Since = was, e.wall(o.Since)
			p.Sentence = fmt.Sprintf("%s has been %s since %s.", capital(name), was, w.Clock(p.Since, now))
		case !o.Known:
			p.Sentence = fmt.Sprintf("Whether %s is open is not known: its contact has not been heard yet.", name)
		default:
			p.Since = e.wall(o.shows.Heard)
			p.Sentence = fmt.Sprintf("Whether %s is open is not known: its contact was last heard at %s, and it was %s then.", name, w.Clock(p.Since, now), was)
		}
		all = append(all, p)
	}
	return all
}
