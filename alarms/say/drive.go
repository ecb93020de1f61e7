package say

import (
	"math"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/infer"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// driveVerbs are the words for what a drive does, and for what is done to it.
type driveVerbs struct {
	switched, toSwitch, runs, whether, hasRun, stands, toRun, started tongue.Text
	start, stop, stopped, switchedOn, keptOn, switchedOff             tongue.Text
	mayRun, mayStand                                                  tongue.Text // what is inferred is only probable
}

var fanVerbs = driveVerbs{"switched", "start and stop|seen to", "runs", "runs|whether it", "has been running", "stands still", "run|it is to", "started|it has not",
	"start|it did not", "stop|it did not", "stopped|too early", "switched it on", "it running", "switched it off",
	"probably runs", "probably stands still"}

var verbsOf = map[alarms.DriveKind]driveVerbs{
	alarms.IntakeShutter: {"opened and shut", "open and shut|seen to", "is open", "is open|whether it", "has been open", "is shut", "be open|it is to", "opened|it has not",
		"open|it did not", "shut|it did not", "shut|too early", "opened it", "it open", "shut it",
		"probably is open", "probably is shut"},
	alarms.GrowLight: {"switched", "switch on and off|seen to", "is on", "is on|whether it", "has been on", "is off", "be on|it is to", "come on|it has not",
		"come on|it did not", "go out|it did not", "went out|too early", "switched it on", "it on", "switched it off",
		"probably is on", "probably is off"},
	alarms.Heater: {"switched", "start and stop|seen to", "heats", "heats|whether it", "has been heating", "is off", "heat|it is to", "started|it has not",
		"start|it did not", "stop|it did not", "stopped|too early", "switched it on", "it heating", "switched it off",
		"probably heats", "probably is off"},
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
			return d.say("to follow the %s", d.list(walk.Each(d.OpensBy, d.driveName)))
		}
		return d.say("to follow the thermostat")
	case control.Run:
		return d.say("to %s all the time", d.say(v.toRun))
	case control.ByTurns:
		return d.say("to %s by turns, %s on and %s off", d.say(v.toRun), d.Span(d.Want.OnFor), d.Span(d.Want.OffFor))
	case control.ByHours:
		return d.say("to %s by its timer, %s", d.say(v.toRun), d.hoursNow())
	case control.Rest:
		return d.say("to stay off: its switch is off")
	case control.Barred:
		switch {
		case d.Covers.On:
			return d.say("not to %s: its vent is covered", d.say(v.toRun))
		case !inVent(d.Kind):
			return d.say("to rest in this season")
		}
		return d.say("not to %s in this season", d.say(v.toRun))
	}
	return d.say("nothing")
}

// hoursNow says at which hours of the day it is to run in this season.
func (d drawn) hoursNow() string {
	var all []string
	for _, r := range d.drive(d.h, d.ID).Runs {
		if r.Season == d.season {
			for _, h := range r.Hours {
				all = append(all, d.say("%s to %s", d.ofDay(h.From), d.ofDay(h.To)))
			}
		}
	}
	return d.list(all)
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
		return d.say("%s to %s", d.Value(ev.Quantity, low.Value), d.Value(ev.Quantity, high.Value))
	case low.Set:
		return d.say("at least %s", d.Value(ev.Quantity, low.Value))
	case high.Set:
		return d.say("at most %s", d.Value(ev.Quantity, high.Value))
	case d.Proof.Usual > 0:
		return d.say("about %s", d.Value(ev.Quantity, d.Proof.Usual))
	}
	return ""
}

// sentence says what speaks for the drive or against it.
func (d drawn) sentence() string { return capital(d.says()) }

func (d drawn) says() string {
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
		return d.say("The %s is to %s all the time; %s.", d.Name, d.say(v.toRun), state)
	case control.ByHours:
		right := ""
		if d.RightToday > 0 {
			right = d.say(" It %s as it should, %s today.", d.say(v.switched), d.times(d.RightToday))
		}
		return d.say("The %s is %s; %s.%s", d.Name, d.Wish, state, right)
	case control.ByTurns, control.Barred, control.Rest:
		return d.say("The %s is %s; %s.", d.Name, d.Wish, state)
	}
	return d.say("Nothing is asked of the %s; %s.", d.Name, state)
}

// unseen is the sentence of a drive that no probe shows.
func (d drawn) unseen() string {
	if d.Proof.Wish == control.Barred || d.Proof.Wish == control.Rest {
		return d.say("The %s is %s; no probe shows whether it does.", d.Name, d.Wish)
	}
	if d.Belief != nil {
		return d.say("%s; no probe shows it.", capital(d.believed(*d.Belief)))
	}
	return d.say("No probe shows whether the %s %s. Look at it now and then.", d.Name, d.say(verbs(d.Kind).whether))
}

// believed says what the temperatures tell of a drive, always with the likelihood and
// with what it was inferred from.
func (d drawn) believed(b infer.Belief) string {
	does := d.say("it is not known whether the %s runs", d.Name)
	switch b.Shown() {
	case control.Running:
		does = d.say("the %s probably runs", d.Name)
	case control.Standing:
		does = d.say("the %s probably stands still", d.Name)
	}
	text := d.say("%s (%.0f %%), inferred from the temperatures inside and outside alone", does, 100*math.Max(b.Running, 1-b.Running))
	switch {
	case !b.Outside:
		return d.say("%s: that cannot be inferred without a probe outside", does)
	case b.Shown() == control.Unknown:
		text = d.say("%s (%.0f %% likely, inferred from the temperatures inside and outside alone)", does, 100*b.Running)
	}
	if !b.Settled {
		text += d.say(", which the watch has known for less than two days")
	}
	return text
}

// doing is the state of a drive in a few words; what is inferred is only probable.
func (d drawn) doing() string {
	v := verbs(d.Kind)
	state, runs, stands := d.State, v.runs, v.stands
	if d.Inferred != nil && !d.Evidenced {
		state, runs, stands = d.Guess, v.mayRun, v.mayStand
	}
	switch state {
	case alarms.DriveRunning:
		return d.say(runs)
	case alarms.DriveStanding:
		return d.say(stands)
	}
	return d.say("not known")
}

// stateClause says what it does now, to follow a semicolon.
func (d drawn) stateClause() string {
	v := verbs(d.Kind)
	switch {
	case d.State == alarms.DriveUnknown:
		return d.say("whether it %s is not known just now", d.say(v.whether))
	case d.State == alarms.DriveRunning && !d.Since.IsZero():
		return d.say("it %s since %s", d.say(v.hasRun), d.Clock(d.Since, d.now))
	case d.State == alarms.DriveRunning:
		return d.say("it %s", d.say(v.runs))
	case d.Proof.Call == control.Called && d.Proof.Wish == control.ByHours:
		return d.say("its timer should have it on, and it has not %s yet", d.say(v.started))
	case d.Proof.Call == control.Called && d.Proof.Wish == control.Follow:
		return d.say("the thermostat asks for it, and it has not %s yet", d.say(v.started))
	}
	return d.say("it %s", d.say(v.stands))
}

func (d drawn) times(n int) string {
	if n == 1 {
		return d.say("once")
	}
	return d.say("%d times", n)
}

// proofClause says when it last did what it should. It begins the sentence.
func (d drawn) proofClause() string {
	v, head := verbs(d.Kind), d.say("The %s", d.Name)
	switch {
	case d.RightToday == 1:
		return d.say("%s %s as it should, once today, at %s", head, d.say(v.switched), d.Value(alarms.Temperature, d.Proof.Today.FirstTemp))
	case d.RightToday > 1:
		return d.say("%s %s as it should, %d times today, first at %s", head, d.say(v.switched), d.RightToday,
			d.Value(alarms.Temperature, d.Proof.Today.FirstTemp))
	case !d.Unproven.IsZero():
		gone := d.Span(d.now.Sub(d.Unproven))
		if d.State == alarms.DriveUnknown || d.Proof.Today.CalledFor+d.Proof.Yesterday.CalledFor > 0 {
			return d.say("%s has not been seen to prove itself for %s", head, gone)
		}
		return d.say("%s has had no occasion to prove itself for %s", head, gone)
	case d.LastByHand.After(d.LastProof):
		return d.say("%s was last tested by hand at %s", head, d.Clock(d.LastByHand, d.now))
	case !d.LastProof.IsZero():
		return d.say("%s last %s as it should at %s", head, d.say(v.switched), d.Clock(d.LastProof, d.now))
	}
	return d.say("%s has not yet been seen to %s as it should", head, d.say(v.toSwitch))
}

// testHint says how to prove it by hand, where that is due.
func (d drawn) testHint() string {
	if d.Unproven.IsZero() || !d.Driven {
		return ""
	}
	until := d.say("until it starts")
	if d.Kind == alarms.IntakeShutter {
		until = d.say("until the fan starts and the shutter opens")
	} else if strings.HasSuffix(string(d.Kind), "fan") {
		until = d.say("until the fan starts")
	}
	way := d.say("below")
	if d.Heats {
		way = d.say("above")
	}
	return d.say(" To test it by hand: turn the dial %s the present temperature %s, then back.", way, until)
}
