package alarms

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms/control"
)

// controlSentence says what verdict f is about, of a drive or a stage.
func (m *mechanism) controlSentence(f *control.Finding, ended bool, r Reason) string {
	if ended && f.Stands && (f.Kind == control.NoEffect || f.Kind == control.RanAlone) {
		return fmt.Sprintf("%s: %s %s, and has now stopped though it should run on%s.", m.house.plan.Name, m.subject(f), m.past(f), m.andFelt(f, ofThen))
	}
	if ended {
		return fmt.Sprintf("%s: %s %s; that is over%s.", m.house.plan.Name, m.subject(f), m.past(f), after(r))
	}
	return m.against(f, ofThen)
}

// against says what verdict f is about, while it holds.
func (m *mechanism) against(f *control.Finding, of tense) string {
	s := m.house.plan.Name + ": " + m.subject(f) + " " + m.predicate(f, of)
	if cause, _ := m.causes(f); cause != "" {
		s += " Most likely: " + cause + "."
	}
	return s
}

// title names a verdict in a few words.
func (m *mechanism) title(f *control.Finding) string {
	words := m.past(f)
	if f.On {
		words = m.brief(f)
	}
	return fmt.Sprintf("%s: %s %s", m.house.plan.Name, m.subject(f), words)
}

// subject names the drive, or the stage of the thermostat.
func (m *mechanism) subject(f *control.Finding) string {
	if f.Kind == control.TimerOff {
		return "the timer of the " + m.driveName(f.Drive)
	}
	if f.Drive >= 0 && f.Kind != control.DriftedOn && f.Kind != control.DriftedOff {
		return "the " + m.driveName(f.Drive)
	}
	name := strings.TrimPrefix(m.stageName(f.Stage), "the ")
	if strings.Contains(name, "thermostat") {
		return "the " + name
	}
	return "the thermostat " + name
}

func (m *mechanism) driveName(i int) string { return m.drives[i].Name }

func (m *mechanism) stageName(i int) string {
	if i < 0 || i >= len(m.dials) {
		return ""
	}
	c := m.dials[i].control
	name := c.Name
	if len(c.Stages) > 1 {
		name += ", " + m.dials[i].Name
	}
	if m.dials[i].night {
		name += ", by night,"
	}
	return name
}

// tense is whether a sentence is kept, and so tells of then, or tells of now.
type tense bool

const (
	ofThen tense = false
	ofNow  tense = true
)

// askers says which thermostats ask for two drives that run together.
func (m *mechanism) askers(f *control.Finding) string {
	if len(m.controls) < 2 || f.Stage < 0 || f.OtherStage < 0 || f.Other < 0 {
		return ""
	}
	own, other := m.dials[f.Stage].control.Name, m.dials[f.OtherStage].control.Name
	own, other = strings.TrimPrefix(own, "the "), strings.TrimPrefix(other, "the ")
	if own == other {
		return fmt.Sprintf("; the %s asks for both", own)
	}
	return fmt.Sprintf("; the %s asks for the %s and the %s for the %s", own, m.driveName(f.Drive), other, m.driveName(f.Other))
}

// felt says how warm it is where the thermostat hangs, or was when f was found.
func (m *mechanism) felt(f *control.Finding, of tense) string {
	w, read := m.engine.plan.Words, f.Due
	switch {
	case f.TempAt != 0 && f.Due.Since(f.TempAt) > readLately:
		read = f.TempAt // it is of then, whenever it is told
	case of == ofNow:
		return fmt.Sprintf("it is %s now", w.Value(m.quantityOf(f), f.Temp))
	}
	return fmt.Sprintf("it was %s at %s", w.Value(m.quantityOf(f), f.Temp), w.Clock(m.at(read), m.at(f.Due)))
}

// switcher is what should have switched f's drive: which of several, where there
// are more.
func (m *mechanism) switcher(f *control.Finding) string {
	switch {
	case f.Timer:
		return "timer"
	case f.Stage < 0 || f.Stage >= len(m.dials):
		return "thermostat"
	case len(m.controls) > 1:
		return strings.TrimPrefix(m.dials[f.Stage].control.Name, "the ")
	case m.dials[f.Stage].Mode.Quantity() == Humidity:
		return "humidistat"
	}
	return "thermostat"
}

// bulbOf is what is felt where f's stage hangs, or by what f's drive is judged
// where no stage is meant; ok is false where there is none.
func (m *mechanism) bulbOf(f *control.Finding) (b bulb, ok bool) {
	if len(m.bulbs) == 0 {
		return bulb{}, false
	}
	return m.bulbs[m.judge.Bulb(max(f.Drive, 0), f.Stage)], true
}

// quantityOf is what is measured there.
func (m *mechanism) quantityOf(f *control.Finding) Quantity {
	if b, ok := m.bulbOf(f); ok {
		return b.quantity
	}
	return Temperature
}

// quantityAt is what a stage feels; the temperature where there is none.
func (m *mechanism) quantityAt(stage int) Quantity {
	if stage >= 0 && stage < len(m.dials) {
		return m.dials[stage].Mode.Quantity()
	}
	return Temperature
}

// due says when the thermostat, or its own timer, should have switched f's drive on, and how warm it
// is; early says that the drive ran and went off again.
func (m *mechanism) due(f *control.Finding, early bool, of tense) string {
	w, v := m.engine.plan.Words, verbs(m.drives[f.Drive].Kind)
	s, at := "the "+m.switcher(f)+" should have "+v.switchedOn, " at "
	switch {
	case early && f.Called == 0:
		s = "the " + m.switcher(f) + " still wants " + v.keptOn
	case early:
		s, at = "the "+m.switcher(f)+" has wanted "+v.keptOn, " since "
	}
	if f.Called != 0 {
		s += at + w.Clock(m.at(f.Called), m.at(f.Due))
		if f.CalledTemp != 0 {
			s += fmt.Sprintf(" (%s)", w.Value(m.quantityOf(f), f.CalledTemp))
		}
	}
	if f.TempKnown {
		s += ", and " + m.felt(f, of)
	}
	return s
}

// predicate says what is wrong, to follow the subject.
func (m *mechanism) predicate(f *control.Finding, of tense) string {
	w := m.engine.plan.Words
	since := w.Clock(m.at(f.Since), m.at(f.Due))
	switch f.Kind {
	case control.DidNotStart:
		return fmt.Sprintf("did not %s: %s.", verbs(m.drives[f.Drive].Kind).start, m.due(f, false, of))
	case control.StoppedEarly:
		return fmt.Sprintf("%s while it was still needed, at %s: %s.", verbs(m.drives[f.Drive].Kind).stopped, since, m.due(f, true, of))
	case control.StoodStill:
		return fmt.Sprintf("has stood still since %s, though the season wants it to run.", since)
	case control.DidNotStop:
		return fmt.Sprintf("did not %s: %s%s.", verbs(m.drives[f.Drive].Kind).stop, m.offBy(f, since), m.andFelt(f, of))
	case control.RanUncalled:
		off := "it should be off"
		if f.Timer {
			off = "its timer should keep it off"
		}
		return fmt.Sprintf("%s since %s, though %s%s.", verbs(m.drives[f.Drive].Kind).hasRun, since, off, m.andFelt(f, of))
	case control.RanBarred:
		if m.byCover(f) {
			return fmt.Sprintf("%s since %s, though its vent is covered.", verbs(m.drives[f.Drive].Kind).hasRun, since)
		}
		return m.barred(f, since)
	case control.SeasonUnfit:
		return m.unfit(f, of)
	case control.OpenUnneeded:
		return fmt.Sprintf("has been open since %s without need%s.", since, m.andFelt(f, of))
	case control.RanAlone:
		return fmt.Sprintf("has run since %s while the %s %s: it strains against a closed way.", since, m.other(f), m.otherStands(f))
	case control.RanTogether:
		return fmt.Sprintf("has run since %s together with the %s, which it must not%s.", since, m.other(f), m.askers(f))
	case control.NoEffect:
		return fmt.Sprintf("has run since %s without effect: it was %s then%s.", since, w.Value(m.quantityOf(f), f.Limit), m.andFelt(f, of))
	case control.Contradiction:
		return fmt.Sprintf("has been shown since %s to run by one reading and to stand by another; the first one listed is believed.", since)
	case control.DrawsMore, control.DrawsLess:
		return m.draws(f)
	case control.ShortCycling:
		return fmt.Sprintf("started %d times within an hour; more than %.0f wear it out.", f.Count, f.Limit)
	case control.TurnsWrong:
		return m.byTurns(f, since)
	case control.TimerOff:
		return m.timerOff(f)
	case control.NeverRan:
		day := m.at(f.Due).Add(-time.Second).In(m.house.plan.Day.Zone)
		return fmt.Sprintf("was never seen to run on %s, though it should have run for %.0f min in all.", day.Format("2 January"), f.Value)
	}
	return m.drifted(f)
}

// offBy says by what a drive should have been switched off that runs on.
func (m *mechanism) offBy(f *control.Finding, since string) string {
	v := verbs(m.drives[f.Drive].Kind)
	if m.want(m.drives[f.Drive], m.engine.now).Wish == control.Rest {
		return fmt.Sprintf("its switch is off since %s, and it %s", since, v.runs)
	}
	return fmt.Sprintf("the %s should have %s at %s", m.switcher(f), v.switchedOff, since)
}

// timerOff says how far the timer of f's drive is off.
func (m *mechanism) timerOff(f *control.Finding) string {
	w := m.engine.plan.Words
	late, way, roundTo := time.Duration(f.Value*float64(time.Minute)), "late", 5*time.Minute
	if late.Abs() > 30*time.Minute {
		roundTo = 15 * time.Minute
	}
	if late < 0 {
		late, way = -late, "early"
	}
	return fmt.Sprintf("is about %s %s: set it. It switched on at %s instead of %s.", Span(late.Round(roundTo)), way,
		w.Clock(m.at(f.Since), m.at(f.Due)), w.Clock(m.at(f.Called), m.at(f.Called)))
}

// unfit says that f's drive does its work in a season that forbids it.
func (m *mechanism) unfit(f *control.Finding, of tense) string {
	d, w := m.drives[f.Drive], m.engine.plan.Words
	does := verbs(d.Kind).hasRun
	if state := m.judge.Proof(f.Drive).State; state != control.Standing && d.Kind != IntakeShutter {
		does = verbs(d.Kind).runs
		if d.Kind == ExhaustFan && of == ofThen && f.TempKnown && f.Temp < f.Limit {
			does += " and cools"
		}
	}
	if m.byCover(f) {
		return fmt.Sprintf("%s although its vent is covered. It began at %s%s.", does, w.Clock(m.at(f.Since), m.at(f.Due)), m.andFelt(f, of))
	}
	asks := ": is that still so?"
	if m.house.Season == SeasonWinter && d.Kind != Heater {
		asks = ": are the covers off?"
	}
	return fmt.Sprintf("%s although the season on the page is %q%s It began at %s%s.", does, m.house.Season, asks,
		w.Clock(m.at(f.Since), m.at(f.Due)), m.andFelt(f, of))
}

// barred says that f's drive runs in a season in which it must rest.
func (m *mechanism) barred(f *control.Finding, since string) string {
	d := m.drives[f.Drive]
	if d.vents() {
		return fmt.Sprintf("%s since %s, though it must not in this season%s.", verbs(d.Kind).hasRun, since, m.covered())
	}
	return fmt.Sprintf("%s although it should rest in this season, %q on the page; it began at %s%s.", verbs(d.Kind).runs, m.house.Season, since,
		m.andFelt(f, ofThen))
}

// vents reports whether d stands in an opening that is covered for winter.
func (d *Drive) vents() bool { return d.Kind == ExhaustFan || d.Kind == IntakeShutter }

// covered says what the season means for the vents, to follow that it forbids.
func (m *mechanism) covered() string {
	if m.house.Season == SeasonWinter {
		return ": it says that the vents are covered"
	}
	return ""
}

func (m *mechanism) other(f *control.Finding) string {
	if f.Other < 0 {
		return "other"
	}
	return m.driveName(f.Other)
}

// otherStands says of the other drive that it stands.
func (m *mechanism) otherStands(f *control.Finding) string {
	if f.Other < 0 {
		return "does not run"
	}
	return verbs(m.drives[f.Other].Kind).stands
}

// andFelt is felt where that is known, to follow what is wrong.
func (m *mechanism) andFelt(f *control.Finding, of tense) string {
	if !f.TempKnown {
		return ""
	}
	return "; " + m.felt(f, of)
}

func (m *mechanism) draws(f *control.Finding) string {
	word, hint := "more", "something may hold it"
	if f.Kind == control.DrawsLess {
		word, hint = "less", "its load may slip or be gone"
	}
	q := Current
	if d := m.drives[f.Drive]; f.Evidence >= 0 && f.Evidence < len(d.Evidence) {
		q = d.Evidence[f.Evidence].Quantity
	}
	w := m.engine.plan.Words
	return fmt.Sprintf("draws %s than usual: %s, the bound is %s; %s.", word, w.Value(q, f.Value), w.Value(q, f.Limit), hint)
}

// byTurns says of a drive on a cycle timer that it runs on, or runs otherwise
// than wanted.
func (m *mechanism) byTurns(f *control.Finding, since string) string {
	if want := m.want(m.drives[f.Drive], m.engine.now); f.Count < wholeTurns && want.OnFor > 0 {
		return fmt.Sprintf("does not run by turns as its timer should: it has run on since %s, and %s is wanted at a time.", since, Span(want.OnFor))
	}
	return fmt.Sprintf("does not run by turns as its timer should: it ran %.0f %% of the time, and %.0f %% is wanted.", 100*f.Value, 100*f.Limit)
}

// wholeTurns is how many turns are looked at before their share counts.
const wholeTurns = 4

func (m *mechanism) drifted(f *control.Finding) string {
	w := m.engine.plan.Words
	way := "on"
	if f.Kind == control.DriftedOff {
		way = "off"
	}
	return fmt.Sprintf("has drifted: it switches %s at %s (median of the last %d times, give or take %s), and the dial says %s.", way,
		w.Value(Temperature, f.Value), f.Count, w.Distance(Temperature, f.Spread), w.Value(Temperature, f.Limit))
}

// past says of an ended verdict what it was, to follow "it".
func (m *mechanism) past(f *control.Finding) string {
	words := map[control.FindingKind]string{
		control.DidNotStart: "had not started", control.StoppedEarly: "had stopped too early", control.StoodStill: "stood still",
		control.DidNotStop: "had not stopped", control.RanUncalled: "ran though it should have been off", control.RanBarred: "ran though it should rest",
		control.OpenUnneeded: "was open without need", control.RanAlone: "ran alone", control.RanTogether: "ran together with another",
		control.NoEffect: "had no effect", control.Contradiction: "was shown two ways", control.DrawsMore: "drew too much",
		control.DrawsLess: "drew too little", control.ShortCycling: "started too often", control.TurnsWrong: "did not run by turns",
		control.NeverRan: "had not run", control.SeasonUnfit: "ran in a season that did not fit", control.TimerOff: "was off", control.DriftedOn: "had drifted", control.DriftedOff: "had drifted",
	}
	if f.Drive >= 0 {
		words[control.DidNotStart] = "had not " + verbs(m.drives[f.Drive].Kind).started
	}
	if f.Drive >= 0 && m.drives[f.Drive].Kind == IntakeShutter {
		words[control.StoppedEarly] = "had shut too early"
		words[control.StoodStill], words[control.NeverRan] = "stayed shut", "had not opened"
	}
	if m.byCover(f) {
		return "ran against the cover of its vent"
	}
	return words[f.Kind]
}

// byCover reports whether f rests on what is known of the cover of a vent.
func (m *mechanism) byCover(f *control.Finding) bool {
	if f.Kind != control.SeasonUnfit && f.Kind != control.RanBarred {
		return false
	}
	known, _ := m.house.coverOf(m.drives[f.Drive].ID)
	return known
}
