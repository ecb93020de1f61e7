package reports

import (
	"cmp"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

// reportWords writes what a report needs beyond words.
type reportWords struct {
	words.Words
	r report.Report
}

// hours writes how long something lasted: hours with one decimal, less than an
// hour in minutes.
func (w reportWords) hours(d time.Duration) string {
	switch {
	case d <= 0:
		return "0" + words.NoBreak + "h"
	case d < time.Minute:
		return w.Say("under %s", "1"+words.NoBreak+"min")
	case d < time.Hour:
		return w.Number(d.Round(time.Minute).Minutes(), 0) + words.NoBreak + "min"
	}
	return w.Number(d.Hours(), 1) + words.NoBreak + "h"
}

// when writes a moment within the report's span.
func (w reportWords) when(t time.Time) string {
	var layout tongue.Text = "Mon 2 Jan 15:04"
	if w.r.Len() < 26*time.Hour {
		layout = "15:04"
	} else if w.r.Len() > 300*24*time.Hour {
		layout = "2 Jan 2006 15:04"
	}
	return w.Stamp(t, layout)
}

// spanWords writes from when to when.
func (w reportWords) spanWords(s report.Span) string {
	from, last := s.From.In(w.Zone), s.To.Add(-time.Second).In(w.Zone)
	whole := report.Day(s.From, w.Zone).From.Equal(s.From) && report.Day(last, w.Zone).To.Equal(s.To)
	switch {
	case !whole:
		return w.Say("%s to %s", w.Stamp(from, "Mon 2 January 2006 15:04"), w.Stamp(s.To, "Mon 2 January 2006 15:04"))
	case words.SameDay(from, last):
		return w.Stamp(from, "Monday 2 January 2006")
	}
	return w.Say("%s to %s", w.Stamp(from, "Mon 2 January 2006"), w.Stamp(last, "Mon 2 January 2006"))
}

func (w reportWords) place(id alarms.PlaceID) string {
	for _, p := range w.r.Places {
		if p.ID == id {
			return cmp.Or(p.Name, string(id))
		}
	}
	return string(id)
}

func (w reportWords) drive(id alarms.DriveID) string {
	for _, d := range w.r.Drives {
		if d.ID == id {
			return cmp.Or(d.Name, string(id))
		}
	}
	return strings.ReplaceAll(string(id), "-", " ")
}

// what names an alarm in a few words.
func (w reportWords) what(t alarms.Transition) string {
	r := t.Reason
	var about string
	switch r.Rule {
	case alarms.RuleLimit:
		about = w.Core.Amiss(r.Quantity, r.Side, alarms.Outer)
	case alarms.RuleAhead:
		about = w.Core.Soon(r.Quantity, r.Side, alarms.Outer)
	case alarms.RuleDay:
		about = w.Core.ToCome(r.Quantity, r.Side)
	case alarms.RuleDrift:
		about = w.Say("no longer like what it was")
		if r.Drift != nil {
			about = w.Core.Drift(r.Drift.Figure)
		}
	case alarms.RuleRate:
		about = w.Core.AmissFast(r.Quantity, r.Side)
	case alarms.RuleExposure:
		about = w.Say("exposure")
		if r.Exposure != nil {
			about = w.Tongue.Known(r.Exposure.Says)
		}
	case alarms.RuleFault:
		about = w.Say("probe not well")
		if r.Fault != "" {
			about = w.Say("probe %s", w.Say(cmp.Or(faultWords[r.Fault], tongue.Text(strings.ReplaceAll(string(r.Fault), "-", " ")))))
		}
	case alarms.RuleLoop:
		about = w.Say("ground loop")
		if r.Loop != nil {
			about = w.Core.Loop(r.Loop.What)
		}
	case alarms.RuleControl:
		verdict := cmp.Or(r.Verdict, "control")
		about = w.Say(cmp.Or(verdictWords[verdict], tongue.Text(strings.ReplaceAll(verdict, "-", " "))))
	default:
		about = w.Say(cmp.Or(ruleWords[r.Rule], tongue.Text(r.Rule)))
	}
	return w.where(r) + about
}

var ruleWords = map[alarms.Rule]tongue.Text{alarms.RuleSilent: "nothing heard", alarms.RuleUnwatched: "no healthy probe",
	alarms.RuleLink: "broker not reached", alarms.RuleRestart: "the watch was away", alarms.RuleClock: "the clock was set", alarms.RuleTrouble: "the watch in trouble",
	alarms.RuleSeason: "another season is due", alarms.RuleOpening: "left open", alarms.RulePerson: "set by a person"}

// where names what a reason is about, with a colon.
func (w reportWords) where(r alarms.Reason) string {
	var parts []string
	if r.Place != "" {
		parts = append(parts, w.place(r.Place))
	}
	if r.Probe != "" && r.Rule != alarms.RuleLimit && r.Rule != alarms.RuleRate {
		parts = append(parts, w.Say("probe %s", r.Probe))
	}
	if r.Circuit != "" && r.Probe == "" && r.Place == "" {
		parts = append(parts, w.Say("circuit %s", r.Circuit))
	}
	if r.Drive != "" {
		parts = append(parts, w.drive(r.Drive))
	}
	if len(parts) == 0 && r.House != "" {
		parts = append(parts, w.r.Name)
	}
	if len(parts) == 0 {
		return ""
	}
	return strings.Join(parts, ", ") + ": "
}

// extreme writes when a lowest or highest value was.
func (w reportWords) extreme(e report.Extreme) string {
	if e.Width > 0 {
		return w.Say("after %s", w.when(e.At))
	}
	return w.when(e.At)
}

// faultWords name faults of a probe, after "probe".
var faultWords = map[alarms.Fault]tongue.Text{
	alarms.FaultRange: "out of range", alarms.FaultValue: "fault value", alarms.FaultStuck: "stuck", alarms.FaultSpikes: "spikes",
	alarms.FaultPinned: "pinned humidity", alarms.FaultGarbled: "unreadable", alarms.FaultOutlier: "outlier", alarms.FaultStep: "step",
	alarms.FaultDisagree: "disagrees", alarms.FaultClock: "clock", alarms.FaultBattery: "low battery", alarms.FaultSignal: "weak signal",
	alarms.FaultWitness: "contradicted",
}

// verdictWords name verdicts on a thermostat and its drives.
var verdictWords = map[string]tongue.Text{
	"did-not-start": "did not start",
	"stopped-early": "stopped early",
	"stood-still":   "stood still",
	"did-not-stop":  "did not stop",
	"ran-uncalled":  "ran uncalled",
	"ran-barred":    "ran barred",
	"open-unneeded": "open unneeded",
	"ran-alone":     "ran alone",
	"ran-together":  "ran together",
	"no-effect":     "no effect",
	"contradiction": "contradiction",
	"draws-more":    "draws more",
	"draws-less":    "draws less",
	"short-cycling": "short cycling",
	"turns-wrong":   "turns wrong",
	"never-ran":     "never ran",
	"drifted-on":    "drifted on",
	"drifted-off":   "drifted off",
	"season-unfit":  "season unfit",
	"timer-off":     "timer off",
	"control":       "control",
	"switching":     "switching",
}
