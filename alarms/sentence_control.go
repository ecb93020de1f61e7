package alarms

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms/control"
)

// controlSentence says what verdict f is about, of a drive or a stage.
func (m *mechanism) controlSentence(f *control.Finding, ended bool, r Reason) string {
	head := m.house.plan.Name + ": " + m.subject(f)
	if ended {
		return fmt.Sprintf("%s %s; that is over%s.", head, m.past(f), after(r))
	}
	s := head + " " + m.predicate(f)
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
	if i < 0 || m.plan == nil {
		return ""
	}
	if len(m.plan.Stages) == 1 {
		return m.plan.Name
	}
	return m.plan.Name + ", " + m.plan.Stages[i].Name
}

// called says since when the dial asks for a drive, and how warm it is.
func (m *mechanism) called(f *control.Finding, due time.Time) string {
	w := m.engine.plan.Words
	s := ""
	if f.Called != 0 {
		s = fmt.Sprintf("it has been called since %s", w.Clock(f.Called.Time(), due))
		if f.CalledTemp != 0 {
			s += fmt.Sprintf(" (%s)", w.Value(Temperature, f.CalledTemp))
		}
	} else {
		s = "it is called"
	}
	if f.TempKnown {
		s += fmt.Sprintf(" and it is %s now", w.Value(Temperature, f.Temp))
	}
	return s
}

// predicate says what is wrong, to follow the subject.
func (m *mechanism) predicate(f *control.Finding) string {
	w, due := m.engine.plan.Words, f.Due.Time()
	since := w.Clock(f.Since.Time(), due)
	switch f.Kind {
	case control.DidNotStart:
		if m.drives[f.Drive].Kind == IntakeShutter {
			return fmt.Sprintf("did not open: %s.", m.called(f, due))
		}
		return fmt.Sprintf("did not start: %s.", m.called(f, due))
	case control.StoppedEarly:
		if m.drives[f.Drive].Kind == IntakeShutter {
			return fmt.Sprintf("shut while it was still needed, at %s: %s.", since, m.called(f, due))
		}
		return fmt.Sprintf("stopped while it was still needed, at %s: %s.", since, m.called(f, due))
	case control.StoodStill:
		return fmt.Sprintf("has stood still since %s, though the season wants it to run.", since)
	case control.DidNotStop:
		return fmt.Sprintf("did not stop: it has run on since %s without being called%s.", since, m.nowAt(f))
	case control.RanUncalled:
		return fmt.Sprintf("has run since %s without being called%s.", since, m.nowAt(f))
	case control.RanBarred:
		return fmt.Sprintf("has run since %s, though the season forbids it: the vents are covered.", since)
	case control.OpenUnneeded:
		return fmt.Sprintf("has been open since %s without need%s.", since, m.nowAt(f))
	case control.RanAlone:
		return fmt.Sprintf("has run since %s while the %s %s: it strains against a closed way.", since, m.other(f), m.otherStands(f))
	case control.RanTogether:
		return fmt.Sprintf("has run since %s together with the %s, which it must not.", since, m.other(f))
	case control.NoEffect:
		return fmt.Sprintf("has run since %s without effect: it was %s then%s.", since, w.Value(Temperature, f.Limit), m.nowAt(f))
	case control.Contradiction:
		return fmt.Sprintf("has been shown since %s to run by one reading and to stand by another; the first one listed is believed.", since)
	case control.DrawsMore, control.DrawsLess:
		return m.draws(f)
	case control.ShortCycling:
		return fmt.Sprintf("started %d times within an hour; more than %.0f wear it out.", f.Count, f.Limit)
	case control.TurnsWrong:
		return m.byTurns(f, since)
	case control.NeverRan:
		day := f.Due.Time().Add(-time.Second).In(m.house.plan.Day.Zone)
		return fmt.Sprintf("was never seen to run on %s, though it was called for %.0f min in all.", day.Format("2 January"), f.Value)
	}
	return m.drifted(f)
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

func (m *mechanism) nowAt(f *control.Finding) string {
	if !f.TempKnown {
		return ""
	}
	return fmt.Sprintf("; it is %s now", m.engine.plan.Words.Value(Temperature, f.Temp))
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
	if want := m.want(m.drives[f.Drive]); f.Count < wholeTurns && want.OnFor > 0 {
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
		control.DidNotStop: "had not stopped", control.RanUncalled: "ran without being called", control.RanBarred: "ran though it must not",
		control.OpenUnneeded: "was open without need", control.RanAlone: "ran alone", control.RanTogether: "ran together with another",
		control.NoEffect: "had no effect", control.Contradiction: "was shown two ways", control.DrawsMore: "drew too much",
		control.DrawsLess: "drew too little", control.ShortCycling: "started too often", control.TurnsWrong: "did not run by turns",
		control.NeverRan: "had not run", control.DriftedOn: "had drifted", control.DriftedOff: "had drifted",
	}
	if f.Drive >= 0 && m.drives[f.Drive].Kind == IntakeShutter {
		words[control.DidNotStart], words[control.StoppedEarly] = "had not opened", "had shut too early"
		words[control.StoodStill], words[control.NeverRan] = "stayed shut", "had not opened"
	}
	return words[f.Kind]
}

// switchingSentence writes one line of the log of switchings.
func (m *mechanism) switchingSentence(s *control.Switching) string {
	w := m.engine.plan.Words
	head := fmt.Sprintf("%s, %s:", m.house.plan.Name, m.driveName(s.Drive))
	ran, stopped, missed, found := "ran", "stopped", "did not run", "found running"
	if m.drives[s.Drive].Kind == IntakeShutter {
		ran, stopped, missed, found = "opened", "shut", "did not open", "found open"
	}
	var parts []string
	if s.Called != 0 {
		parts = append(parts, fmt.Sprintf("called %s at %s", clock(w, s.Called), w.Value(Temperature, s.CalledTemp)))
	}
	switch {
	case s.Missed:
		parts = append(parts, missed)
	case s.RanAfter > 0:
		parts = append(parts, ran+" after "+Span(s.RanAfter))
	case s.Ran != 0 && s.Ran == s.Called:
		parts = append(parts, ran+" at once")
	case s.Ran != 0:
		parts = append(parts, ran+" "+clock(w, s.Ran))
	default:
		parts = append(parts, found)
	}
	switch {
	case s.StopKnown:
		parts = append(parts, fmt.Sprintf("%s %s at %s", stopped, clock(w, s.Stopped), w.Value(Temperature, s.StoppedTemp)))
	case s.Stopped != 0:
		parts = append(parts, stopped+" "+clock(w, s.Stopped))
	case !s.Missed:
		parts = append(parts, "not seen to the end")
	}
	return head + " " + strings.Join(parts, ", ") + byWords[s.By] + inferredWords(s) + "."
}

var byWords = map[control.By]string{
	control.ByHand: " (by hand, as it seems)", control.ByTest: " (a test by hand)", control.ByMistake: " (without being called)",
}

func inferredWords(s *control.Switching) string {
	if s.Inferred {
		return " (inferred from the temperatures alone)"
	}
	return ""
}

func clock(w Words, m control.Moment) string {
	zone := w.Zone
	if zone == nil {
		zone = time.UTC
	}
	return m.Time().In(zone).Format("15:04:05")
}
