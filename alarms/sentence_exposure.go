package alarms

import (
	"fmt"
	"math"
	"time"
)

// ExposureReason is what an exposure had come to, as data.
type ExposureReason struct {
	ID               ExposureID    `json:"id"`
	Says             string        `json:"says"`                        // what it does
	Time             time.Duration `json:"time_ns,omitzero"`            // beyond the limit so far
	Limit            time.Duration `json:"limit_ns,omitzero"`           // that does harm
	DegreeHours      float64       `json:"degree_hours,omitzero"`       // so far, K h
	LimitDegreeHours float64       `json:"limit_degree_hours,omitzero"` // that do harm, K h
	Window           time.Duration `json:"window_ns,omitzero"`          // within the last so long
	Gap              time.Duration `json:"gap_ns,omitzero"`             // in one spell, which this ends
	Days             int           `json:"days,omitzero"`               // on each of so many running
	Nights           int           `json:"nights,omitzero"`             // in each of so many running
	Running          int           `json:"running,omitzero"`            // days or nights running before this one
	Unknown          time.Duration `json:"unknown_ns,omitzero"`         // for which nothing was known
	Morning          bool          `json:"morning,omitzero"`            // told by the forenoon only, and its end not at all
	Also             []string      `json:"also,omitempty"`              // what else the same night does, told with this
	With             ExposureID    `json:"with,omitempty"`              // what this is told with
	Source           string        `json:"source,omitempty"`            // of the rule
}

// told returns what x has come to at a moment.
func (x *exposed) told(due instant) ExposureReason {
	m, p := x.meter.Ahead(int64(due)), x.plan
	r := ExposureReason{ID: p.ID, Says: p.Says, Time: m.Exposed(), Limit: p.Time, DegreeHours: m.Dose(),
		LimitDegreeHours: p.DegreeHours, Window: p.Window, Gap: p.Gap, Days: p.Days, Nights: p.Nights,
		Running: m.Run, Unknown: m.Unseen(), Source: p.Source, Morning: p.Morning, Also: x.also, With: x.with}
	if x.telling { // what was reached may be over by now
		r.Time, r.DegreeHours = max(r.Time, r.Limit), max(r.DegreeHours, r.LimitDegreeHours)
	}
	return r
}

func (x *exposed) why(due instant) Reason {
	told := x.told(due)
	l, _, _ := x.plan.bound()
	r := Reason{Limit: &l.Value, Exposure: &told}
	var buf [8]voice
	vs, _ := x.heard(due, buf[:0])
	v := x.worst(vs)
	if x.word.lost {
		r.Lost = x.word.losses(x.muteAt(due))
	}
	if v == nil {
		return r
	}
	if x.missed(vs) {
		_, v = x.word.wait(vs, 0)
		r.Probe = v.of[0].probe.plan.ID
	}
	if v.doubt != "" {
		r.Fault, r.Probe = v.doubt, v.of[0].probe.plan.ID
	}
	value := v.now
	r.Value = &value
	return r
}

func (e *Engine) exposureSentence(a *alarm, t Transition, ended bool) string {
	x, w := a.exposed, e.plan.Words
	r := t.Reason.Exposure
	by, raised := e.instead(t.Reason, t)
	switch over := w.over(x.plan); {
	case r == nil:
		return a.title() + "."
	case ended && x.plan.Window > 0:
		return fmt.Sprintf("%s: at %s it was %s %s; it took %s to do harm.%s", a.where(), w.Clock(t.Due, t.Due), w.soFar(r), over+by, w.harmful(r), raised)
	case ended && x.plan.Gap > 0:
		return fmt.Sprintf("%s: the spell %s is over%s. The next one counts from the start.%s", a.where(), w.beyond(x.plan), by, raised)
	case ended:
		return fmt.Sprintf("%s: a %s has passed without %s %s%s.%s", a.where(), x.plan.period(), w.harmful(r), w.beyond(x.plan), by, raised)
	case !x.meter.Reached && !x.telling: // time went by, and nobody knows better
		return a.title() + "." + e.exposureWord(t)
	case x.plan.Days+x.plan.Nights > 0:
		return fmt.Sprintf("%s: %s %s: %s.", a.where(), w.harmful(r), over, r.does()) + e.exposureWord(t)
	default:
		return fmt.Sprintf("%s: %s %s: %s.", a.where(), w.soFar(r), over, r.does()) + e.exposureWord(t)
	}
}

// does says what it does, and what else the same night does.
func (r *ExposureReason) does() string {
	if len(r.Also) == 0 {
		return r.Says
	}
	return r.Says + ", and " + list(r.Also)
}

// exposureWord says whose word an exposure rests on, where that matters.
func (e *Engine) exposureWord(t Transition) string {
	r := t.Reason
	p := e.probes[r.Probe]
	switch {
	case len(r.Lost) == 0 || r.Fault != "":
		return e.doubtSentence(r)
	case p == nil || r.Value == nil:
		return fmt.Sprintf(" It rests on the word of probe %s. It stays on until that is heard again, or another probe has been believed there for half an hour.", e.losses(r, t))
	}
	return fmt.Sprintf(" It rests on the word of probe %s. Probe %s says %s; if it goes on to say that all is well, that counts after %s.",
		e.losses(r, t), p.plan.Name, e.plan.Words.Value(r.Quantity, *r.Value), Span(p.speaksAfter()))
}

// soFarSentence says what x has come to, for the page.
func (w Words) soFarSentence(x *Exposure, r *ExposureReason) string {
	sofar, harm := w.soFar(r)+" "+w.beyond(x), w.harmful(r)
	switch {
	case x.Days > 0:
		sofar += " today"
	case x.Nights > 0:
		sofar += " since nightfall"
	case x.Window > 0:
		sofar += " in the last " + span(x.Window)
	default:
		sofar += fmt.Sprintf(" in this spell (a break of %s ends it)", Span(x.Gap))
	}
	if r.Running > 0 {
		sofar += fmt.Sprintf(", and too long on %d %s before", r.Running, plural(x.period(), r.Running))
	}
	if n := max(x.Days, x.Nights); n > 1 {
		harm += fmt.Sprintf(" on each of %d %s running", n, plural(x.period(), n))
	}
	return fmt.Sprintf("%s; %s do harm (%s)", sofar, harm, r.Says)
}

func (e *Engine) drawExposure(x *exposed) ExposurePicture {
	told := x.told(e.now)
	return ExposurePicture{Alarm: x.alarm.id, Quantity: x.plan.Quantity, Reached: x.alarm.Condition != Within || x.owed,
		Sentence: e.plan.Words.soFarSentence(x.plan, &told) + ".", ExposureReason: told}
}

func plural(word string, n int) string {
	if n == 1 {
		return word
	}
	return word + "s"
}

// period is what x counts by, "day" or "night".
func (x *Exposure) period() string {
	if x.Nights > 0 {
		return "night"
	}
	return "day"
}

// soFar and harmful write the amount reached and the amount that does harm.
func (w Words) soFar(r *ExposureReason) string {
	if r.LimitDegreeHours > 0 {
		return w.dose(r.DegreeHours)
	}
	return hours(r.Time, r.Limit)
}

func (w Words) harmful(r *ExposureReason) string {
	if r.LimitDegreeHours > 0 {
		return w.dose(r.LimitDegreeHours)
	}
	return hours(r.Limit, r.Limit)
}

// hours writes d in the unit that suits a limit: "3.0 h", "20 min".
func hours(d, limit time.Duration) string {
	if limit < time.Hour {
		return fmt.Sprintf("%d min", int(math.Floor(d.Minutes()+1e-9)))
	}
	return number(d.Hours(), 1) + " h"
}

// dose writes degree-hours; those of °F are 1.8 times as many.
func (w Words) dose(kelvinHours float64) string {
	if w.inFahrenheit() {
		return number(kelvinHours*9/5, 1) + " degree-hours (°F)"
	}
	return number(kelvinHours, 1) + " degree-hours"
}

// beyond says beyond what, to follow an amount of time: "above 35.0 °C by
// day", "of humidity at 85 % or more while the temperature was ...".
func (w Words) beyond(x *Exposure) string {
	l, sign, on := x.bound()
	s, v := "", w.Value(x.Quantity, l.Value)
	if x.Quantity != Temperature {
		s = "of " + x.Quantity.Word() + " "
	}
	switch {
	case on && sign > 0:
		s += "at " + v + " or more"
	case on:
		s += "at " + v + " or less"
	case sign > 0:
		s += "above " + v
	default:
		s += "below " + v
	}
	if x.When != Always && x.Nights == 0 {
		s += " by " + x.When.String()
	}
	return s + w.during(x)
}

func (w Words) during(x *Exposure) string {
	low, high := w.Value(x.While, x.WhileLow.Value), w.Value(x.While, x.WhileHigh.Value)
	switch {
	case x.While == "":
		return ""
	case x.WhileLow.Set && x.WhileHigh.Set:
		return fmt.Sprintf(" with the %s from %s to %s", x.While.Word(), low, high)
	case x.WhileLow.Set:
		return fmt.Sprintf(" with the %s at %s or more", x.While.Word(), low)
	}
	return fmt.Sprintf(" with the %s at %s or less", x.While.Word(), high)
}

// over says beyond what and over what time, to follow an amount of time.
func (w Words) over(x *Exposure) string {
	s := w.beyond(x)
	switch n := max(x.Days, x.Nights); {
	case x.Window > 0:
		return s + " within " + span(x.Window)
	case x.Gap > 0:
		return s + " in one spell"
	case n == 1:
		return s + " in one " + x.period()
	default:
		return fmt.Sprintf("%s on each of %d %ss running", s, n, x.period())
	}
}

// span is Span, but says "1 day" where that is meant.
func span(d time.Duration) string {
	if d == 24*time.Hour {
		return "a day"
	}
	return Span(d)
}
