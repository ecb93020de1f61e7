package say

import (
	"cmp"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/tongue"
)

// controls says what the mechanical control of a house does.
type controls struct {
	*speaker
	h *alarms.House
}

func (s *speaker) controls(id alarms.HouseID) controls { return controls{s, s.house(id)} }

// verdict says what a verdict is about, of a drive or a stage.
func (n *telling) verdict(ended bool) string {
	w, v := n.controls(n.o.House), cmp.Or(n.f.Verdict, n.o.Verdict)
	switch {
	case v == nil:
		return n.title(n.o) + "."
	case ended && v.Stands && (v.Kind == control.NoEffect || v.Kind == control.RanAlone):
		return n.say("%s: %s %s, and has now stopped though it should run on%s.", w.h.Name, w.subject(v), w.past(v), w.andFelt(v, ofThen))
	case ended:
		return n.say("%s: %s %s; that is over%s.", w.h.Name, w.subject(v), w.past(v), n.after())
	}
	return w.against(v, ofThen)
}

// against says what v is about, while it holds.
func (w controls) against(v *alarms.Verdict, of tense) string {
	s := w.h.Name + ": " + w.subject(v) + " " + w.predicate(v, of)
	if cause, _ := w.likeliest(v.Observed); cause != "" {
		s += w.say(" Most likely: %s.", cause)
	}
	return s
}

// title names a verdict in a few words.
func (w controls) title(v *alarms.Verdict) string {
	words := w.past(v)
	if v.On {
		words = w.brief(v)
	}
	return w.say("%s: %s %s", w.h.Name, w.subject(v), words)
}

// subject names the drive, or the stage of the thermostat.
func (w controls) subject(v *alarms.Verdict) string {
	if v.Kind == control.TimerOff {
		return w.say("the timer of the %s", w.driveName(v.Drive))
	}
	if v.Drive != "" && v.Kind != control.DriftedOn && v.Kind != control.DriftedOff {
		return w.say("the %s", w.driveName(v.Drive))
	}
	name := w.stage(v.Stage)
	if strings.Contains(name, "thermostat") {
		return w.say("the %s", name)
	}
	return w.say("the thermostat %s", name)
}

func (w controls) driveName(id alarms.DriveID) string { return w.drive(w.h, id).Name }

func (w controls) verbs(id alarms.DriveID) driveVerbs { return verbs(w.drive(w.h, id).Kind) }

// stage is what a stage is called, without its article.
func (w controls) stage(st *alarms.StageName) string {
	if st == nil {
		return ""
	}
	name := w.thermostat(st)
	if st.Stage != "" {
		name += ", " + st.Stage
	}
	if st.Night {
		name += w.say(", by night,")
	}
	return name
}

func (w controls) thermostat(st *alarms.StageName) string {
	return strings.TrimPrefix(w.control(w.h, st.Control), "the ")
}

// tense is whether a sentence is kept, and so tells of then, or tells of now.
type tense bool

const (
	ofThen tense = false
	ofNow  tense = true
)

// askers says which thermostats ask for two drives that run together.
func (w controls) askers(v *alarms.Verdict) string {
	if !v.Several || v.Stage == nil || v.OtherStage == nil || v.Other == "" {
		return ""
	}
	own, other := w.thermostat(v.Stage), w.thermostat(v.OtherStage)
	if own == other {
		return w.say("; the %s asks for both", own)
	}
	return w.say("; the %s asks for the %s and the %s for the %s", own, w.driveName(v.Drive), other, w.driveName(v.Other))
}

// readLately is up to what age a reading is simply of now; an older one of a
// probe that is heard in its time says how old it is.
const readLately = 90 * time.Second

// felt says how warm it is where the thermostat hangs, or was when v was found.
func (w controls) felt(v *alarms.Verdict, of tense) string {
	read := v.Due
	switch {
	case !v.FeltAt.IsZero() && v.Due.Sub(v.FeltAt) > readLately:
		read = v.FeltAt // it is of then, whenever it is told
	case of == ofNow:
		return w.say("it is %s now", w.Value(v.Quantity, *v.Felt))
	}
	return w.say("it was %s at %s", w.Value(v.Quantity, *v.Felt), w.Clock(read, v.Due))
}

// andFelt is felt where that is known, to follow what is wrong.
func (w controls) andFelt(v *alarms.Verdict, of tense) string {
	if v.Felt == nil {
		return ""
	}
	return "; " + w.felt(v, of)
}

// switcher is what should have switched v's drive: which of several, where there
// are more.
func (w controls) switcher(v *alarms.Verdict) string {
	switch {
	case v.Timer:
		return w.say("timer")
	case v.Stage == nil:
		return w.say("thermostat")
	case v.Several:
		return w.thermostat(v.Stage)
	case v.Stage.Humid:
		return w.say("humidistat")
	}
	return w.say("thermostat")
}

// due says when the thermostat, or its own timer, should have switched v's drive on,
// and how warm it is; early says that the drive ran and went off again.
func (w controls) due(v *alarms.Verdict, early bool, of tense) string {
	do, by, called := w.verbs(v.Drive), w.switcher(v), w.Clock(v.Called, v.Due)
	if v.CalledTemp != 0 {
		called += " (" + w.Value(v.Quantity, v.CalledTemp) + ")"
	}
	s := ""
	switch {
	case early && v.Called.IsZero():
		s = w.say("the %s still wants %s", by, w.say(do.keptOn))
	case early:
		s = w.say("the %s has wanted %s since %s", by, w.say(do.keptOn), called)
	case v.Called.IsZero():
		s = w.say("the %s should have %s", by, w.say(do.switchedOn))
	default:
		s = w.say("the %s should have %s at %s", by, w.say(do.switchedOn), called)
	}
	if v.Felt != nil {
		s = w.say("%s, and %s|it is as warm", s, w.felt(v, of))
	}
	return s
}

// predicate says what is wrong, to follow the subject.
func (w controls) predicate(v *alarms.Verdict, of tense) string {
	since, do := w.Clock(v.Since, v.Due), w.verbs(v.Drive)
	switch v.Kind {
	case control.DidNotStart:
		return w.say("did not %s: %s.", w.say(do.start), w.due(v, false, of))
	case control.StoppedEarly:
		return w.say("%s while it was still needed, at %s: %s.", w.say(do.stopped), since, w.due(v, true, of))
	case control.StoodStill:
		return w.say("has stood still since %s, though the season wants it to run.", since)
	case control.DidNotStop:
		return w.say("did not %s: %s%s.", w.say(do.stop), w.offBy(v, since), w.andFelt(v, of))
	case control.RanUncalled:
		off := w.say("it should be off")
		if v.Timer {
			off = w.say("its timer should keep it off")
		}
		return w.say("%s since %s, though %s%s.", w.say(do.hasRun), since, off, w.andFelt(v, of))
	case control.RanBarred:
		if v.ByCover {
			return w.say("%s since %s, though its vent is covered.", w.say(do.hasRun), since)
		}
		return w.barred(v, since)
	case control.SeasonUnfit:
		return w.unfit(v, since, of)
	case control.OpenUnneeded:
		return w.say("has been open since %s without need%s.", since, w.andFelt(v, of))
	case control.RanAlone:
		return w.say("has run since %s while the %s %s: it strains against a closed way.", since, w.other(v), w.otherStands(v))
	case control.RanTogether:
		return w.say("has run since %s together with the %s, which it must not%s.", since, w.other(v), w.askers(v))
	case control.NoEffect:
		return w.say("has run since %s without effect: it was %s then%s.", since, w.Value(v.Quantity, v.Limit), w.andFelt(v, of))
	}
	return w.measured(v, since)
}

// measured is predicate of verdicts on what was measured or counted.
func (w controls) measured(v *alarms.Verdict, since string) string {
	switch v.Kind {
	case control.Contradiction:
		return w.say("has been shown since %s to run by one reading and to stand by another; the first one listed is believed.", since)
	case control.DrawsMore, control.DrawsLess:
		return w.draws(v)
	case control.ShortCycling:
		return w.say("started %d times within an hour; more than %.0f wear it out.", v.Count, v.Limit)
	case control.TurnsWrong:
		return w.byTurns(v, since)
	case control.TimerOff:
		return w.timerOff(v, since)
	case control.NeverRan:
		zone := w.h.Day.Zone
		if zone == nil {
			zone = time.UTC
		}
		day := v.Due.Add(-time.Second).In(zone)
		return w.say("was never seen to run on %s, though it should have run for %.0f min in all.", w.date(day), v.Value)
	}
	return w.drifted(v)
}

// offBy says by what a drive should have been switched off that runs on.
func (w controls) offBy(v *alarms.Verdict, since string) string {
	do := w.verbs(v.Drive)
	if v.SwitchOff {
		return w.say("its switch is off since %s, and it %s", since, w.say(do.runs))
	}
	return w.say("the %s should have %s at %s", w.switcher(v), w.say(do.switchedOff), since)
}

// timerOff says how far the timer of v's drive is off.
func (w controls) timerOff(v *alarms.Verdict, since string) string {
	late, way, roundTo := time.Duration(v.Value*float64(time.Minute)), w.say("late"), 5*time.Minute
	if late.Abs() > 30*time.Minute {
		roundTo = 15 * time.Minute
	}
	if late < 0 {
		late, way = -late, w.say("early")
	}
	return w.say("is about %s %s: set it. It switched on at %s instead of %s.", w.Span(late.Round(roundTo)), way,
		since, w.Clock(v.Called, v.Called))
}

// unfit says that v's drive does its work in a season that forbids it.
func (w controls) unfit(v *alarms.Verdict, since string, of tense) string {
	kind, do := w.drive(w.h, v.Drive).Kind, w.verbs(v.Drive)
	does := w.say(do.hasRun)
	if v.State != control.Standing && kind != alarms.IntakeShutter {
		does = w.say(do.runs)
		if kind == alarms.ExhaustFan && of == ofThen && v.Felt != nil && *v.Felt < v.Limit {
			does += w.say(" and cools")
		}
	}
	if v.ByCover {
		return w.say("%s although its vent is covered. It began at %s%s.", does, since, w.andFelt(v, of))
	}
	asks := w.say(": is that still so?")
	if v.Season == alarms.SeasonWinter && kind != alarms.Heater {
		asks = w.say(": are the covers off?")
	}
	return w.say("%s although the season on the page is %q%s It began at %s%s.", does, w.Season(v.Season), asks, since, w.andFelt(v, of))
}

// barred says that v's drive runs in a season in which it must rest.
func (w controls) barred(v *alarms.Verdict, since string) string {
	do := w.verbs(v.Drive)
	if inVent(w.drive(w.h, v.Drive).Kind) {
		covered := ""
		if v.Season == alarms.SeasonWinter {
			covered = w.say(": it says that the vents are covered")
		}
		return w.say("%s since %s, though it must not in this season%s.", w.say(do.hasRun), since, covered)
	}
	return w.say("%s although it should rest in this season, %q on the page; it began at %s%s.", w.say(do.runs), w.Season(v.Season), since, w.andFelt(v, ofThen))
}

// inVent reports whether a kind of drive stands in an opening that is covered for
// winter.
func inVent(k alarms.DriveKind) bool { return k == alarms.ExhaustFan || k == alarms.IntakeShutter }

func (w controls) other(v *alarms.Verdict) string {
	if v.Other == "" {
		return w.say("other")
	}
	return w.driveName(v.Other)
}

// otherStands says of the other drive that it stands.
func (w controls) otherStands(v *alarms.Verdict) string {
	if v.Other == "" {
		return w.say("does not run")
	}
	return w.say(w.verbs(v.Other).stands)
}

func (w controls) draws(v *alarms.Verdict) string {
	word, hint := w.say("more"), w.say("something may hold it")
	if v.Kind == control.DrawsLess {
		word, hint = w.say("less"), w.say("its load may slip or be gone")
	}
	q := v.Draws
	if q == "" {
		q = alarms.Current
	}
	return w.say("draws %s than usual: %s, the bound is %s; %s.", word, w.Value(q, v.Value), w.Value(q, v.Limit), hint)
}

// wholeTurns is how many turns are looked at before their share counts.
const wholeTurns = 4

// byTurns says of a drive on a cycle timer that it runs on, or runs otherwise
// than wanted.
func (w controls) byTurns(v *alarms.Verdict, since string) string {
	if v.Count < wholeTurns && v.OnFor > 0 {
		return w.say("does not run by turns as its timer should: it has run on since %s, and %s is wanted at a time.", since, w.Span(v.OnFor))
	}
	return w.say("does not run by turns as its timer should: it ran %.0f %% of the time, and %.0f %% is wanted.", 100*v.Value, 100*v.Limit)
}

func (w controls) drifted(v *alarms.Verdict) string {
	way := w.say("on|switches")
	if v.Kind == control.DriftedOff {
		way = w.say("off|switches")
	}
	return w.say("has drifted: it switches %s at %s (median of the last %d times, give or take %s), and the dial says %s.", way,
		w.Value(alarms.Temperature, v.Value), v.Count, w.Distance(alarms.Temperature, v.Spread), w.Value(alarms.Temperature, v.Limit))
}

// pastWords say of an ended verdict what it was, to follow "it".
var pastWords = map[control.FindingKind]tongue.Text{
	control.DidNotStart: "had not started", control.StoppedEarly: "had stopped too early", control.StoodStill: "stood still",
	control.DidNotStop: "had not stopped", control.RanUncalled: "ran though it should have been off", control.RanBarred: "ran though it should rest",
	control.OpenUnneeded: "was open without need", control.RanAlone: "ran alone", control.RanTogether: "ran together with another",
	control.NoEffect: "had no effect", control.Contradiction: "was shown two ways", control.DrawsMore: "drew too much",
	control.DrawsLess: "drew too little", control.ShortCycling: "started too often", control.TurnsWrong: "did not run by turns",
	control.NeverRan: "had not run", control.SeasonUnfit: "ran in a season that did not fit", control.TimerOff: "was off",
	control.DriftedOn: "had drifted", control.DriftedOff: "had drifted",
}

var shutterPast = map[control.FindingKind]tongue.Text{
	control.StoppedEarly: "had shut too early", control.StoodStill: "stayed shut", control.NeverRan: "had not opened",
}

// past says of an ended verdict what it was.
func (w controls) past(v *alarms.Verdict) string {
	if byCover(v) {
		return w.say("ran against the cover of its vent")
	}
	if v.Drive != "" {
		if v.Kind == control.DidNotStart {
			return w.say("had not %s", w.say(w.verbs(v.Drive).started))
		}
		if s := shutterPast[v.Kind]; s != "" && w.drive(w.h, v.Drive).Kind == alarms.IntakeShutter {
			return w.say(s)
		}
	}
	return w.say(pastWords[v.Kind])
}

var briefWords = map[control.FindingKind]tongue.Text{
	control.DidNotStart: "did not start", control.StoppedEarly: "stopped too early", control.StoodStill: "stands still",
	control.DidNotStop: "did not stop", control.RanUncalled: "runs though it should be off", control.RanBarred: "runs though it should rest",
	control.OpenUnneeded: "is open without need", control.RanAlone: "runs alone", control.RanTogether: "runs together with another",
	control.NoEffect: "has no effect", control.Contradiction: "is shown two ways", control.DrawsMore: "draws too much",
	control.DrawsLess: "draws too little", control.ShortCycling: "starts too often", control.TurnsWrong: "does not run by turns",
	control.NeverRan: "was never seen to run", control.SeasonUnfit: "runs in a season that does not fit", control.TimerOff: "is off",
	control.DriftedOn: "has drifted", control.DriftedOff: "has drifted",
}

// brief says in a few words what v is, to follow "it".
func (w controls) brief(v *alarms.Verdict) string {
	switch {
	case v.Kind == control.DidNotStart && v.Drive != "":
		return w.say("did not %s", w.say(w.verbs(v.Drive).start))
	case byCover(v):
		return w.say("runs against the cover of its vent")
	}
	return w.say(briefWords[v.Kind])
}

// byCover reports whether v rests on what is known of the cover of a vent.
func byCover(v *alarms.Verdict) bool {
	return v.ByCover && (v.Kind == control.SeasonUnfit || v.Kind == control.RanBarred)
}
