package alarms

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"telltale/alarms/control"
)

// driveVerbs are the words for what a drive does, and for what is done to it.
type driveVerbs struct {
	switched, toSwitch, runs, hasRun, stands, toRun, started string
	start, stop, stopped, switchedOn, keptOn, switchedOff    string
}

var fanVerbs = driveVerbs{"switched", "start and stop", "runs", "has been running", "stands still", "run", "started",
	"start", "stop", "stopped", "switched it on", "it running", "switched it off"}

var verbsOf = map[DriveKind]driveVerbs{
	IntakeShutter: {"opened and shut", "open and shut", "is open", "has been open", "is shut", "be open", "opened",
		"open", "shut", "shut", "opened it", "it open", "shut it"},
	GrowLight: {"switched", "switch on and off", "is on", "has been on", "is off", "be on", "come on",
		"come on", "go out", "went out", "switched it on", "it on", "switched it off"},
	Heater: {"switched", "start and stop", "heats", "has been heating", "is off", "heat", "started",
		"start", "stop", "stopped", "switched it on", "it heating", "switched it off"},
}

func verbs(k DriveKind) driveVerbs {
	if v, ok := verbsOf[k]; ok {
		return v
	}
	return fanVerbs
}

// wish says what is wanted of drive i.
func (m *mechanism) wish(i int, w control.Wish) string {
	d, v := m.drives[i], verbs(m.drives[i].Kind)
	switch w {
	case control.Follow:
		if fans := m.opener(d.ID); fans != "" {
			return "to follow the " + fans
		}
		return "to follow the thermostat"
	case control.Run:
		return "to " + v.toRun + " all the time"
	case control.ByTurns:
		want := m.want(d, m.engine.now)
		return fmt.Sprintf("to %s by turns, %s on and %s off", v.toRun, Span(want.OnFor), Span(want.OffFor))
	case control.ByHours:
		return "to " + v.toRun + " by its timer, " + m.hoursNow(d)
	case control.Rest:
		return "to stay off: its switch is off"
	case control.Barred:
		if _, on := m.house.coverOf(d.ID); on {
			return "not to " + v.toRun + ": its vent is covered"
		}
		if !d.vents() {
			return "to rest in this season"
		}
		return "not to " + v.toRun + " in this season"
	}
	return "nothing"
}

// opener names the drives that id must run with, where no stage drives it.
func (m *mechanism) opener(id DriveID) string {
	for _, s := range m.dials {
		if slices.Contains(s.Drives, id) {
			return ""
		}
	}
	var fans []string
	for _, other := range m.drives {
		if slices.Contains(other.With, id) {
			fans = append(fans, other.Name)
		}
	}
	return list(fans)
}

// driveSentence says of drive i what speaks for it or against it.
func (m *mechanism) driveSentence(i int, p *DrivePicture, proof control.Proof) string {
	if f := m.failing(i); f != nil {
		return capital(m.subject(f)) + " " + m.predicate(m.present(f), ofNow)
	}
	if !p.Evidenced {
		return m.unseen(i, p, proof)
	}
	state, v := m.stateClause(p, proof), verbs(p.Kind)
	switch proof.Wish {
	case control.Follow:
		return m.proofClause(p, proof) + "; " + state + "." + m.testHint(i, p)
	case control.Run:
		return fmt.Sprintf("The %s is to %s all the time; %s.", p.Name, v.toRun, state)
	case control.ByHours:
		right := ""
		if p.RightToday > 0 {
			right = fmt.Sprintf(" It %s as it should, %s today.", v.switched, times(p.RightToday))
		}
		return fmt.Sprintf("The %s is %s; %s.%s", p.Name, p.Wish, state, right)
	case control.ByTurns, control.Barred, control.Rest:
		return fmt.Sprintf("The %s is %s; %s.", p.Name, p.Wish, state)
	}
	return fmt.Sprintf("Nothing is asked of the %s; %s.", p.Name, state)
}

// present is f as of now instead of when it began.
func (m *mechanism) present(f *control.Finding) *control.Finding {
	now := m.asOf(*f, control.Moment(m.engine.now))
	return &now
}

// asOf is f with what is known at a later moment.
func (m *mechanism) asOf(f control.Finding, at control.Moment) control.Finding {
	f.Due, f.TempKnown = at, false
	if b, ok := m.bulbOf(&f); ok {
		f.Temp = b.value()
		f.TempKnown, f.TempAt = !math.IsNaN(f.Temp), m.judge.ReadAt(slices.Index(m.bulbs, b))
	}
	return f
}

// toldFor is the verdict v as a move of its alarm tells it: what is told again
// is told as it is by then.
func (m *mechanism) toldFor(v *finding, mv Move, due instant) control.Finding {
	switch {
	case v.last.Kind == control.NeverRan: // a verdict on a day that is over
	case mv == Realarm, mv == Release, mv == ShelveOff, mv == Back:
		return m.asOf(v.last, control.Moment(due))
	}
	return v.last
}

// unseen is the sentence of a drive that no probe shows.
func (m *mechanism) unseen(i int, p *DrivePicture, proof control.Proof) string {
	v := verbs(p.Kind)
	if proof.Wish == control.Barred || proof.Wish == control.Rest {
		return fmt.Sprintf("The %s is %s; no probe shows whether it does.", p.Name, p.Wish)
	}
	if b, ok := m.belief(i); ok {
		return capital(b.Sentence(p.Name)) + "; no probe shows it."
	}
	return fmt.Sprintf("No probe shows whether the %s %s. Look at it now and then.", p.Name, v.runs)
}

func capital(s string) string { return strings.ToUpper(s[:1]) + s[1:] }

// does is the state of p in a few words; what is inferred is only probable.
func (p *DrivePicture) does() string {
	v, probably := verbs(p.Kind), ""
	state := p.State
	if p.Inferred != nil && !p.Evidenced {
		state, probably = p.Guess, "probably "
	}
	switch state {
	case DriveRunning:
		return probably + v.runs
	case DriveStanding:
		return probably + v.stands
	}
	return "not known"
}

// stateClause says what p does now, to follow a semicolon.
func (m *mechanism) stateClause(p *DrivePicture, proof control.Proof) string {
	v := verbs(p.Kind)
	switch {
	case p.State == DriveUnknown:
		return "whether it " + v.runs + " is not known just now"
	case p.State == DriveRunning && !p.Since.IsZero():
		return "it " + v.hasRun + " since " + m.clockNow(p.Since)
	case p.State == DriveRunning:
		return "it " + v.runs
	case proof.Call == control.Called && proof.Wish == control.ByHours:
		return "its timer should have it on, and it has not " + v.started + " yet"
	case proof.Call == control.Called && proof.Wish == control.Follow:
		return "the thermostat asks for it, and it has not " + v.started + " yet"
	}
	return "it " + v.stands
}

// hoursNow says at which hours of the day d is to run in this season.
func (m *mechanism) hoursNow(d *Drive) string {
	var all []string
	for _, r := range d.Runs {
		if r.Season == m.house.Season {
			for _, h := range r.Hours {
				all = append(all, ofDay(h.From)+" to "+ofDay(h.To))
			}
		}
	}
	return list(all)
}

// ofDay writes a time after midnight as clocks show it.
func ofDay(d time.Duration) string {
	return fmt.Sprintf("%02d:%02d", int(d.Hours()), int(d.Minutes())%60)
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func (m *mechanism) clockNow(t time.Time) string {
	return m.engine.plan.Words.Clock(t, m.engine.wall(m.engine.now))
}

// proofClause says when p last did what it should. It begins the sentence.
func (m *mechanism) proofClause(p *DrivePicture, proof control.Proof) string {
	w, v := m.engine.plan.Words, verbs(p.Kind)
	head := "The " + p.Name
	switch {
	case p.RightToday == 1:
		return fmt.Sprintf("%s %s as it should, once today, at %s", head, v.switched, w.Value(Temperature, proof.Today.FirstTemp))
	case p.RightToday > 1:
		return fmt.Sprintf("%s %s as it should, %d times today, first at %s", head, v.switched, p.RightToday,
			w.Value(Temperature, proof.Today.FirstTemp))
	case !p.Unproven.IsZero():
		gone := Span(m.engine.wall(m.engine.now).Sub(p.Unproven))
		if p.State == DriveUnknown || proof.Today.CalledFor+proof.Yesterday.CalledFor > 0 {
			return fmt.Sprintf("%s has not been seen to prove itself for %s", head, gone)
		}
		return fmt.Sprintf("%s has had no occasion to prove itself for %s", head, gone)
	case p.LastByHand.After(p.LastProof):
		return fmt.Sprintf("%s was last tested by hand at %s", head, m.clockNow(p.LastByHand))
	case !p.LastProof.IsZero():
		return fmt.Sprintf("%s last %s as it should at %s", head, v.switched, m.clockNow(p.LastProof))
	}
	return head + " has not yet been seen to " + v.toSwitch + " as it should"
}

// testHint says how to prove p by hand, where that is due.
func (m *mechanism) testHint(i int, p *DrivePicture) string {
	if p.Unproven.IsZero() || !m.driven(m.drives[i]) {
		return ""
	}
	until := "until it starts"
	if p.Kind == IntakeShutter {
		until = "until the fan starts and the shutter opens"
	} else if strings.HasSuffix(string(p.Kind), "fan") {
		until = "until the fan starts"
	}
	way := "below"
	if m.heats(i) {
		way = "above"
	}
	return fmt.Sprintf(" To test it by hand: turn the dial %s the present temperature %s, then back.", way, until)
}

// heats reports whether the stages that drive drive i now only heat.
func (m *mechanism) heats(i int) bool {
	found := false
	for _, s := range m.dials {
		if !slices.Contains(s.Drives, m.drives[i].ID) || len(s.Seasons) > 0 && !slices.Contains(s.Seasons, m.house.Season) {
			continue
		}
		if s.Mode == Cooling {
			return false
		}
		found = true
	}
	return found
}

var briefWords = map[control.FindingKind]string{
	control.DidNotStart: "did not start", control.StoppedEarly: "stopped too early", control.StoodStill: "stands still",
	control.DidNotStop: "did not stop", control.RanUncalled: "runs though it should be off", control.RanBarred: "runs though it should rest",
	control.OpenUnneeded: "is open without need", control.RanAlone: "runs alone", control.RanTogether: "runs together with another",
	control.NoEffect: "has no effect", control.Contradiction: "is shown two ways", control.DrawsMore: "draws too much",
	control.DrawsLess: "draws too little", control.ShortCycling: "starts too often", control.TurnsWrong: "does not run by turns",
	control.NeverRan: "was never seen to run", control.SeasonUnfit: "runs in a season that does not fit", control.TimerOff: "is off", control.DriftedOn: "has drifted", control.DriftedOff: "has drifted",
}

// brief says in a few words what f is, to follow "it".
func (m *mechanism) brief(f *control.Finding) string {
	if f.Kind == control.DidNotStart && f.Drive >= 0 {
		return "did not " + verbs(m.drives[f.Drive].Kind).start
	}
	if m.byCover(f) {
		return "runs against the cover of its vent"
	}
	return briefWords[f.Kind]
}
