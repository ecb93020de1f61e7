package say

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/infer"
	"telltale/alarms/walk"
)

// driveVerbs are the words for what a drive does, and for what is done to it.
type driveVerbs struct {
	switched, toSwitch, runs, hasRun, stands, toRun, started string
	start, stop, stopped, switchedOn, keptOn, switchedOff    string
}

var fanVerbs = driveVerbs{"switched", "start and stop", "runs", "has been running", "stands still", "run", "started",
	"start", "stop", "stopped", "switched it on", "it running", "switched it off"}

var verbsOf = map[alarms.DriveKind]driveVerbs{
	alarms.IntakeShutter: {"opened and shut", "open and shut", "is open", "has been open", "is shut", "be open", "opened",
		"open", "shut", "shut", "opened it", "it open", "shut it"},
	alarms.GrowLight: {"switched", "switch on and off", "is on", "has been on", "is off", "be on", "come on",
		"come on", "go out", "went out", "switched it on", "it on", "switched it off"},
	alarms.Heater: {"switched", "start and stop", "heats", "has been heating", "is off", "heat", "started",
		"start", "stop", "stopped", "switched it on", "it heating", "switched it off"},
}

func verbs(k alarms.DriveKind) driveVerbs {
	if v, ok := verbsOf[k]; ok {
		return v
	}
	return fanVerbs
}

// drawn is a drive of a picture.
type drawn struct {
	controls
	*alarms.DrivePicture
	season alarms.Season
	now    time.Time
}

// wish says what is wanted of it.
func (d drawn) wish() string {
	v := verbs(d.Kind)
	switch d.Proof.Wish {
	case control.Follow:
		if len(d.OpensBy) > 0 {
			return "to follow the " + alarms.List(walk.Each(d.OpensBy, d.driveName))
		}
		return "to follow the thermostat"
	case control.Run:
		return "to " + v.toRun + " all the time"
	case control.ByTurns:
		return fmt.Sprintf("to %s by turns, %s on and %s off", v.toRun, d.Span(d.Want.OnFor), d.Span(d.Want.OffFor))
	case control.ByHours:
		return "to " + v.toRun + " by its timer, " + d.hoursNow()
	case control.Rest:
		return "to stay off: its switch is off"
	case control.Barred:
		switch {
		case d.Covers.On:
			return "not to " + v.toRun + ": its vent is covered"
		case !inVent(d.Kind):
			return "to rest in this season"
		}
		return "not to " + v.toRun + " in this season"
	}
	return "nothing"
}

// hoursNow says at which hours of the day it is to run in this season.
func (d drawn) hoursNow() string {
	var all []string
	for _, r := range d.drive(d.h, d.ID).Runs {
		if r.Season == d.season {
			for _, h := range r.Hours {
				all = append(all, d.ofDay(h.From)+" to "+d.ofDay(h.To))
			}
		}
	}
	return alarms.List(all)
}

// usualDraw says what it draws while it runs, by the plan or as learned.
func (d drawn) usualDraw() string {
	all := d.drive(d.h, d.ID).Evidence
	i := slices.IndexFunc(all, func(ev alarms.Evidence) bool { return ev.Quantity == alarms.Current || ev.Quantity == alarms.Power })
	if i < 0 {
		return ""
	}
	ev := &all[i]
	switch low, high := ev.UsualLow, ev.UsualHigh; {
	case low.Set && high.Set:
		return d.Value(ev.Quantity, low.Value) + " to " + d.Value(ev.Quantity, high.Value)
	case low.Set:
		return "at least " + d.Value(ev.Quantity, low.Value)
	case high.Set:
		return "at most " + d.Value(ev.Quantity, high.Value)
	case d.Proof.Usual > 0:
		return "about " + d.Value(ev.Quantity, d.Proof.Usual)
	}
	return ""
}

// sentence says what speaks for the drive or against it.
func (d drawn) sentence() string {
	if d.Verdict != nil {
		return capital(d.subject(d.Verdict)) + " " + d.predicate(d.Verdict, ofNow)
	}
	if !d.Evidenced {
		return d.unseen()
	}
	state, v := d.stateClause(), verbs(d.Kind)
	switch d.Proof.Wish {
	case control.Follow:
		return d.proofClause() + "; " + state + "." + d.testHint()
	case control.Run:
		return fmt.Sprintf("The %s is to %s all the time; %s.", d.Name, v.toRun, state)
	case control.ByHours:
		right := ""
		if d.RightToday > 0 {
			right = fmt.Sprintf(" It %s as it should, %s today.", v.switched, times(d.RightToday))
		}
		return fmt.Sprintf("The %s is %s; %s.%s", d.Name, d.Wish, state, right)
	case control.ByTurns, control.Barred, control.Rest:
		return fmt.Sprintf("The %s is %s; %s.", d.Name, d.Wish, state)
	}
	return fmt.Sprintf("Nothing is asked of the %s; %s.", d.Name, state)
}

// unseen is the sentence of a drive that no probe shows.
func (d drawn) unseen() string {
	if d.Proof.Wish == control.Barred || d.Proof.Wish == control.Rest {
		return fmt.Sprintf("The %s is %s; no probe shows whether it does.", d.Name, d.Wish)
	}
	if d.Belief != nil {
		return capital(believed(*d.Belief, d.Name)) + "; no probe shows it."
	}
	return fmt.Sprintf("No probe shows whether the %s %s. Look at it now and then.", d.Name, verbs(d.Kind).runs)
}

// believed says what the temperatures tell of a drive, always with the likelihood and
// with what it was inferred from.
func believed(b infer.Belief, drive string) string {
	const from = "the temperatures inside and outside alone"
	does := "it is not known whether the " + drive + " runs"
	switch b.Shown() {
	case control.Running:
		does = "the " + drive + " probably runs"
	case control.Standing:
		does = "the " + drive + " probably stands still"
	}
	text := fmt.Sprintf("%s (%.0f %%), inferred from %s", does, 100*math.Max(b.Running, 1-b.Running), from)
	switch {
	case !b.Outside:
		return does + ": that cannot be inferred without a probe outside"
	case b.Shown() == control.Unknown:
		text = fmt.Sprintf("%s (%.0f %% likely, inferred from %s)", does, 100*b.Running, from)
	}
	if !b.Settled {
		text += ", which the watch has known for less than two days"
	}
	return text
}

// doing is the state of p in a few words; what is inferred is only probable.
func doing(p *alarms.DrivePicture) string {
	v, probably := verbs(p.Kind), ""
	state := p.State
	if p.Inferred != nil && !p.Evidenced {
		state, probably = p.Guess, "probably "
	}
	switch state {
	case alarms.DriveRunning:
		return probably + v.runs
	case alarms.DriveStanding:
		return probably + v.stands
	}
	return "not known"
}

// stateClause says what it does now, to follow a semicolon.
func (d drawn) stateClause() string {
	v := verbs(d.Kind)
	switch {
	case d.State == alarms.DriveUnknown:
		return "whether it " + v.runs + " is not known just now"
	case d.State == alarms.DriveRunning && !d.Since.IsZero():
		return "it " + v.hasRun + " since " + d.Clock(d.Since, d.now)
	case d.State == alarms.DriveRunning:
		return "it " + v.runs
	case d.Proof.Call == control.Called && d.Proof.Wish == control.ByHours:
		return "its timer should have it on, and it has not " + v.started + " yet"
	case d.Proof.Call == control.Called && d.Proof.Wish == control.Follow:
		return "the thermostat asks for it, and it has not " + v.started + " yet"
	}
	return "it " + v.stands
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

// proofClause says when it last did what it should. It begins the sentence.
func (d drawn) proofClause() string {
	v, head := verbs(d.Kind), "The "+d.Name
	switch {
	case d.RightToday == 1:
		return fmt.Sprintf("%s %s as it should, once today, at %s", head, v.switched, d.Value(alarms.Temperature, d.Proof.Today.FirstTemp))
	case d.RightToday > 1:
		return fmt.Sprintf("%s %s as it should, %d times today, first at %s", head, v.switched, d.RightToday,
			d.Value(alarms.Temperature, d.Proof.Today.FirstTemp))
	case !d.Unproven.IsZero():
		gone := d.Span(d.now.Sub(d.Unproven))
		if d.State == alarms.DriveUnknown || d.Proof.Today.CalledFor+d.Proof.Yesterday.CalledFor > 0 {
			return fmt.Sprintf("%s has not been seen to prove itself for %s", head, gone)
		}
		return fmt.Sprintf("%s has had no occasion to prove itself for %s", head, gone)
	case d.LastByHand.After(d.LastProof):
		return fmt.Sprintf("%s was last tested by hand at %s", head, d.Clock(d.LastByHand, d.now))
	case !d.LastProof.IsZero():
		return fmt.Sprintf("%s last %s as it should at %s", head, v.switched, d.Clock(d.LastProof, d.now))
	}
	return head + " has not yet been seen to " + v.toSwitch + " as it should"
}

// testHint says how to prove it by hand, where that is due.
func (d drawn) testHint() string {
	if d.Unproven.IsZero() || !d.Driven {
		return ""
	}
	until := "until it starts"
	if d.Kind == alarms.IntakeShutter {
		until = "until the fan starts and the shutter opens"
	} else if strings.HasSuffix(string(d.Kind), "fan") {
		until = "until the fan starts"
	}
	way := "below"
	if d.Heats {
		way = "above"
	}
	return fmt.Sprintf(" To test it by hand: turn the dial %s the present temperature %s, then back.", way, until)
}
