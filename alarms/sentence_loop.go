package alarms

import (
	"fmt"
	"math"
	"time"

	"telltale/alarms/ground"
)

// LoopWhat says what a LoopReason is about.
type LoopWhat string

// What is said of a ground loop.
const (
	NoFlow    LoopWhat = "no-flow"   // the outlet follows the house
	WetPipe   LoopWhat = "wet-pipe"  // water in the pipe
	Declining LoopWhat = "declining" // drifts from the season
	LoopDepth LoopWhat = "depth"     // another depth is the better one
	LoopSums  LoopWhat = "day"       // what a day brought
)

// LoopReason is what a ground loop does, as data: of one pipe, of a day, or
// which depth is now the better one.
type LoopReason struct {
	What   LoopWhat `json:"what"`
	Depth  float64  `json:"depth_m,omitzero"`    // of the pipe, m
	Outlet *float64 `json:"outlet,omitempty"`    // temperature there, °C
	House  *float64 `json:"house,omitempty"`     // of the air that enters, °C
	Ground *float64 `json:"ground,omitempty"`    // that the ground should have there, °C
	Stands bool     `json:"stands,omitzero"`     // the fan stands, or the damper is shut
	Water  string   `json:"water,omitempty"`     // what its humidity says about water
	Drift  float64  `json:"drift,omitzero"`      // K against the season, negative colder
	Days   int      `json:"drift_days,omitzero"` // over which it drifted
	Want   string   `json:"want,omitempty"`      // what the house wants, with the better depth
	Gain   float64  `json:"gain,omitzero"`       // K by which the better depth helps
	Day    *LoopDay `json:"day,omitempty"`
}

// LoopDay is what a loop brought in a day of the house.
type LoopDay struct {
	LoopEnergy
	Pipes []PipeDay `json:"pipes"`
}

// PipeDay is what one pipe brought in a day.
type PipeDay struct {
	Depth float64 `json:"depth_m"`
	LoopEnergy
}

func known(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}

// whyPipe says what is known of a's pipe.
func (e *Engine) whyPipe(a *alarm, due instant) Reason {
	p := a.pipe
	s, i := e.look(p.loop), p.index()
	r := LoopReason{What: a.loopWhat(), Depth: p.plan.Depth, House: known(s.pipes[i].enters.Temperature), Outlet: known(s.pipes[i].outlet.Temperature),
		Ground: known(p.groundAt(due)), Stands: s.pipes[i].known && !s.pipes[i].moving}
	if p.Water.Verdict != ground.Drained {
		r.Water = p.Water.Verdict.String()
	}
	if t, ok := p.Decline.Trend(); ok {
		r.Drift, r.Days = math.Round(t.Over*100)/100, t.Days
	}
	out := Reason{Value: r.Outlet, Loop: &r}
	switch a {
	case p.noFlow:
		out.Since = p.Follow.Since
	case p.wet:
		out.Since, out.Value = p.Water.Since, known(s.pipes[i].outlet.Humidity)
	}
	return out
}

func (p *pipe) index() int {
	for i, one := range p.loop.pipes {
		if one == p {
			return i
		}
	}
	return 0
}

// whyDay tells of the day that has just ended.
func (l *loop) whyDay() Reason {
	day := LoopDay{LoopEnergy: l.Last}
	for _, p := range l.pipes {
		day.Pipes = append(day.Pipes, PipeDay{p.plan.Depth, p.Last})
	}
	return Reason{Since: l.house.wall.at(l.DayFrom), Loop: &LoopReason{What: LoopSums, Day: &day}}
}

// whyDepth tells of the better depth now.
func (l *loop) whyDepth(s sight, due instant) Reason {
	p := l.pipes[l.Best-1]
	leaves := p.leaving(s.house.Temperature, s.pipes[l.Best-1], due)
	return Reason{Place: p.plan.Outlet, Loop: &LoopReason{What: LoopDepth, Depth: p.plan.Depth, Outlet: known(leaves), House: known(s.house.Temperature),
		Ground: known(p.groundAt(due)), Want: l.Want.String(), Gain: math.Round(math.Abs(leaves-s.house.Temperature)*100) / 100}}
}

// loopWhat is what an alarm of a pipe is about; "" for the log of the loop.
func (a *alarm) loopWhat() LoopWhat {
	switch p := a.pipe; {
	case p == nil:
		return ""
	case a == p.noFlow:
		return NoFlow
	case a == p.wet:
		return WetPipe
	}
	return Declining
}

func (a *alarm) loopTitle() string {
	if a.pipe == nil {
		return "ground loop"
	}
	return a.loopWhat().Words()
}

// Words says w in a few plain words.
func (w LoopWhat) Words() string {
	switch w {
	case NoFlow:
		return "no air from the ground"
	case WetPipe:
		return "water in the pipe"
	case Declining:
		return "the air from the pipe drifts from the season"
	case LoopDepth:
		return "another depth is the better one"
	}
	return "what the ground loop brought"
}

func checkLoop(a *alarm) string {
	switch a.loopWhat() {
	case NoFlow:
		return "the damper of that pipe, the loop fan, and whether the pipe is blocked or has come apart"
	case WetPipe:
		return "the drain or sump of that pipe; water that stands in it stops the air and rots"
	case Declining:
		return "the loop fan and its filter, then the pipe; if both are sound the ground there may be used up, so let it rest"
	}
	return ""
}

// depth writes a depth: "1.5 m", with °F "4.9 ft".
func (w Words) depth(m float64) string {
	if w.inFahrenheit() {
		return number(m/0.3048, 1) + " ft"
	}
	return number(m, 1) + " m"
}

func (w Words) maybe(v *float64) string {
	if v == nil {
		return "not known"
	}
	return w.Value(Temperature, *v)
}

func (e *Engine) loopSentence(a *alarm, t Transition, ended bool) string {
	w, p := e.plan.Words, a.pipe
	if p == nil || t.Reason.Loop == nil {
		return a.title() + "."
	}
	r := *t.Reason.Loop
	pipe := "the pipe at " + w.depth(r.Depth)
	switch {
	case a == p.noFlow && ended && r.Stands:
		return fmt.Sprintf("%s: no air was drawn through %s any more at %s, so nothing could be said of it.", a.where(), pipe, w.Clock(t.Due, t.Due))
	case a == p.noFlow && ended:
		return fmt.Sprintf("%s: %s brings air from the ground again%s; it leaves at %s.", a.where(), pipe, after(t.Reason), w.maybe(r.Outlet))
	case a == p.noFlow:
		return fmt.Sprintf("%s: the air from %s follows the house, not the ground: it leaves at %s, the house is at %s, the ground there at %s.",
			a.where(), pipe, w.maybe(r.Outlet), w.maybe(r.House), w.maybe(r.Ground))
	case a == p.wet && ended:
		return fmt.Sprintf("%s: the air from %s no longer says that water stands in it%s.", a.where(), pipe, after(t.Reason))
	case a == p.wet:
		return fmt.Sprintf("%s: %s", a.where(), w.wetSentence(pipe, t))
	case ended:
		return fmt.Sprintf("%s: %s keeps to the season again%s.", a.where(), pipe, after(t.Reason))
	}
	return fmt.Sprintf("%s: %s", a.where(), w.driftSentence(pipe, r))
}

func (w Words) wetSentence(pipe string, t Transition) string {
	since := ""
	if !t.Reason.Since.IsZero() {
		since = " since " + w.Clock(t.Reason.Since, t.Due)
	}
	if t.Reason.Loop.Water == ground.Standing.String() {
		return fmt.Sprintf("the air from %s has been saturated%s, and holds more water than the air of the house can have brought: water stands in the pipe.",
			pipe, since)
	}
	return fmt.Sprintf("the air from %s has been saturated%s: water may stand in the pipe.", pipe, since)
}

func (w Words) driftSentence(pipe string, r LoopReason) string {
	word := "warmer"
	if r.Drift < 0 {
		word = "colder"
	}
	return fmt.Sprintf("the air from %s has become %s %s in %d days than season and house let expect.", pipe,
		w.Distance(Temperature, math.Abs(r.Drift)), word, r.Days)
}

// loopNote is a line of the log: a day, or a change of the better depth.
func (e *Engine) loopNote(a *alarm, t Transition) string {
	w, r := e.plan.Words, t.Reason.Loop
	switch {
	case r == nil:
		return a.title() + "."
	case r.Day == nil:
		return fmt.Sprintf("%s: for %s the pipe at %s became the better one at %s: its air left at %s, the house was at %s.", a.where(),
			r.Want, w.depth(r.Depth), w.Clock(t.Due, t.Due), w.maybe(r.Outlet), w.maybe(r.House))
	}
	d, day := r.Day, t.Due.Add(-time.Nanosecond).In(a.house.plan.Day.Zone)
	s := fmt.Sprintf("%s: on %s the ground loop brought %s", a.where(), day.Format("2 January"), d.Brought())
	if len(d.Pipes) > 1 {
		var each []string
		for _, p := range d.Pipes {
			each = append(each, fmt.Sprintf("%s at %s", p.Brought(), w.depth(p.Depth)))
		}
		s += ": " + list(each)
	}
	return s + "." + d.Moisture() + " " + fanSentence(d.LoopEnergy)
}

// Brought says what a loop or pipe brought, to follow "brought".
func (l LoopEnergy) Brought() string {
	heat, cold, seen := kWh(l.Heat)+" of heat", kWh(l.Cold)+" of cold", ""
	if l.Watched < l.Run {
		seen = ", as far as it was seen"
	}
	switch {
	case l.Watched == 0 && l.Heat+l.Cold < 0.005:
		return "an amount that is not known"
	case l.Heat+l.Cold < 0.005:
		return "nothing" + seen
	case l.Cold < 0.005:
		return heat + seen
	case l.Heat < 0.005:
		return cold + seen
	}
	return heat + " and " + cold + seen
}

// Moisture says what vapour carried, as a sentence after a blank; "" for nothing
// that is known.
func (l LoopEnergy) Moisture() string {
	in, out := kWh(l.Wet)+" came as moisture, which warms nothing", kWh(l.Dried)+" left as moisture"
	switch {
	case l.Wet+l.Dried < 0.005:
		return ""
	case l.Dried < 0.005:
		return " Besides, " + in + "."
	case l.Wet < 0.005:
		return " Besides, " + out + "."
	}
	return " Besides, " + in + ", and " + out + "."
}

func kWh(v float64) string {
	if v < 1 {
		return number(v, 2) + " kWh"
	}
	return number(v, 1) + " kWh"
}

// fanSentence says how long the fan ran, and for how much.
func fanSentence(l LoopEnergy) string {
	s := "The loop fan ran for " + Span(l.Run)
	if each, ok := l.EachFanKWh(); ok {
		s += fmt.Sprintf(" and drew %s, so each kWh brought %s", kWh(l.Fan), number(each, 1))
	}
	return s + "."
}
