package report_test

import (
	"fmt"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
)

const minute = 1.0 / 60

// tale writes a log.
type tale struct {
	log []alarms.Transition
	n   map[alarms.AlarmID]int
}

func (l *tale) add(h float64, id alarms.AlarmID, m alarms.Move, from, to alarms.State, r alarms.Reason) {
	if l.n == nil {
		l.n = map[alarms.AlarmID]int{}
	}
	l.n[id]++
	l.log = append(l.log, alarms.Transition{ID: fmt.Sprintf("%s#%d", id, l.n[id]), Alarm: id, Move: m, From: from, To: to,
		Priority: alarms.Medium, Due: at(h), Noticed: at(h), Reason: r})
}

func (l *tale) raise(h float64, id alarms.AlarmID, r alarms.Reason) {
	l.add(h, id, alarms.Raise, alarms.Normal, alarms.Unacknowledged, r)
}

func (l *tale) goes(h float64, id alarms.AlarmID, r alarms.Reason) {
	l.add(h, id, alarms.Return, alarms.Unacknowledged, alarms.ReturnedUnack, r)
}

var house = alarms.House{ID: "long-house", Name: "Long House", Season: alarms.SeasonOpen,
	Drives: []alarms.Drive{{ID: "exhaust-fan", Name: "Exhaust fan"}}, Places: []alarms.Place{{ID: "bench", Name: "Bench"}}}

func of(l *tale, s report.Span) report.Report {
	return report.Of(&house, s, at(100), report.Log{Lines: l.log, Until: s.To.Add(24 * time.Hour)})
}

func TestLoadByHand(t *testing.T) {
	var l tale
	hot := alarms.Reason{Rule: alarms.RuleLimit, House: "long-house", Place: "bench"}
	l.raise(-30, "long-house/old", hot) // stands over the whole span
	for i := range 12 {                 // an upset: 12 in 10 minutes
		l.raise(1+float64(i)*0.5*minute, alarms.AlarmID(fmt.Sprintf("long-house/%d", i)), hot)
	}
	l.add(1+8*minute, "long-house/0", alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged, alarms.Reason{By: "Ada"})
	l.goes(1+9*minute, "long-house/1", hot)
	l.add(2, "long-house/2", alarms.Ack, alarms.Unacknowledged, alarms.Acknowledged, alarms.Reason{By: "Ben"})
	for i := range 3 { // three times in a minute
		l.raise(5+float64(i)*0.4*minute, "long-house/flutter", hot)
		l.goes(5+(float64(i)*0.4+0.2)*minute, "long-house/flutter", hot)
	}
	l.raise(30, "long-house/after", hot) // after the span
	load := of(&l, span(0, 24)).Load
	if load.Alarms != 15 || load.PerDay != 15 || load.PerHalfDay != 7.5 {
		t.Errorf("%d alarms, %v a day, %v in 12 h; want 15, 15, 7.5", load.Alarms, load.PerDay, load.PerHalfDay)
	}
	if load.Peak != 12 || !load.PeakAt.Equal(at(1)) || load.Floods != 1 || load.Periods != 144 {
		t.Errorf("peak %d at %v, %d floods of %d; want 12 at 1:00, 1 of 144", load.Peak, load.PeakAt, load.Floods, load.Periods)
	}
	if f := load.Frequent; len(f) != 10 || f[0].Alarm != "long-house/flutter" || f[0].Times != 3 {
		t.Errorf("most frequent: %+v", f)
	}
	if c := load.Chattering; len(c) != 1 || c[0].Alarm != "long-house/flutter" || c[0].Times != 1 {
		t.Errorf("chattering: %+v", c)
	}
	if load.Judged != 15 || load.Taken != 1 || load.WentByItself != 4 {
		t.Errorf("%d judged, %d taken, %d over by themselves; want 15, 1, 4", load.Judged, load.Taken, load.WentByItself)
	}
	// What still stood at the end of the log, a day after the span, counts from
	// then: the old one, and the nine of the upset that nobody ended, and two that
	// were taken.
	if s := load.Stale; len(s) != 12 || s[0].Alarm != "long-house/old" || !s[0].From.Equal(at(-30)) || !s[0].Open {
		t.Errorf("%d stale, the first %+v", len(s), s[:min(len(s), 1)])
	}
}

func TestLogByHand(t *testing.T) {
	var l tale
	lost := alarms.Reason{Rule: alarms.RuleUnwatched, House: "long-house", Place: "bench", Since: at(1)}
	l.raise(1.5, "long-house/bench/unwatched", lost)
	l.goes(3, "long-house/bench/unwatched", lost)
	l.add(4, "watch/restart", alarms.Note, alarms.Normal, alarms.Normal, alarms.Reason{Rule: alarms.RuleRestart, Since: at(3.5)})
	l.raise(5, "long-house/bench/exposure-chill", alarms.Reason{Rule: alarms.RuleExposure, Place: "bench",
		Exposure: &alarms.ExposureReason{ID: "chill", Time: 2 * time.Hour, DegreeHours: 6}})
	l.raise(6, "long-house/exhaust-fan/did-not-start", alarms.Reason{Rule: alarms.RuleControl, Drive: "exhaust-fan", Verdict: "did-not-start"})
	day := alarms.LoopEnergy{Heat: 2, Cold: 1, Fan: 0.5, Run: 5 * time.Hour}
	brought := alarms.Reason{Rule: alarms.RuleLoop, Since: at(0), Loop: &alarms.LoopReason{Day: &alarms.LoopDay{LoopEnergy: day,
		Pipes: []alarms.PipeDay{{Depth: 1.5, LoopEnergy: day}}}}}
	l.add(24, "long-house/ground-loop", alarms.Note, alarms.Normal, alarms.Normal, brought)
	brought.Since = at(24)
	l.add(48, "long-house/ground-loop", alarms.Note, alarms.Normal, alarms.Normal, brought)
	switched := func(h float64, s alarms.Switched) alarms.Transition {
		return alarms.Transition{Due: at(h), Alarm: "long-house/exhaust-fan/switching", Reason: alarms.Reason{Rule: alarms.RuleSwitching, Drive: "exhaust-fan", Switched: &s}}
	}
	r := report.Of(&house, span(0, 24), at(100), report.Log{Lines: l.log, Until: at(48), Switchings: []alarms.Transition{
		switched(1, alarms.Switched{Right: true}), switched(5, alarms.Switched{}), switched(6, alarms.Switched{Missed: true}), switched(25, alarms.Switched{Right: true})},
		Runs: []report.Run{{Drive: "exhaust-fan", Span: span(-1, 1)}, {Drive: "exhaust-fan", Span: span(3, 5), Inferred: true},
			{Drive: "exhaust-fan", Span: span(7, 8), FromUnseen: true}, {Drive: "exhaust-fan", Span: span(23, 25)}, {Drive: "exhaust-fan", Span: span(-9, -8), ToUnseen: true}},
		Seasons: []alarms.SeasonFrom{{Season: alarms.SeasonOpen}, {From: at(10), Season: alarms.SeasonWinter}}})
	if len(r.Blind) != 2 || r.Blind[0].Lasted != 2*time.Hour || r.Blind[0].Times != 1 || r.Blind[1].Lasted != 30*time.Minute {
		t.Errorf("blind: %+v; want 2 h from the condition's beginning, and half an hour away", r.Blind)
	}
	if len(r.Exposed) != 1 || r.Exposed[0].DegreeHours != 6 {
		t.Errorf("exposed: %+v", r.Exposed)
	}
	d := r.Drives[0]
	if d.Starts != 2 || d.Ran != 5*time.Hour || d.Unseen != 1 || d.Open || d.Inferred != 2*time.Hour || d.Longest != span(3, 5) || d.Right != 1 || d.Missed != 1 || len(d.Verdicts) != 1 {
		t.Errorf("drive: %+v; want 2 starts, 1 + 2 + 1 + 1 h, one of them with an end that was not seen, the longest from 3:00", d)
	}
	if r.Loop == nil || r.Loop.Days != 1 || r.Loop.Heat != 2 || len(r.Loop.Pipes) != 1 {
		t.Errorf("loop: %+v; want the one day within the span", r.Loop)
	}
	if len(r.Seasons) != 2 || r.Seasons[0].Season != alarms.SeasonOpen || r.Seasons[1].Season != alarms.SeasonWinter {
		t.Errorf("seasons: %+v", r.Seasons)
	}
}

// A probe that gave a fault value, or was out of service, is not believed then.
func TestDistrusted(t *testing.T) {
	var l tale
	l.raise(1, "long-house/bench/bench-1/fault-value", alarms.Reason{Rule: alarms.RuleFault, Probe: "bench-1", Quantity: alarms.Temperature, Fault: alarms.FaultValue})
	l.goes(2, "long-house/bench/bench-1/fault-value", alarms.Reason{Rule: alarms.RuleFault, Probe: "bench-1", Quantity: alarms.Temperature, Fault: alarms.FaultValue})
	l.raise(3, "long-house/bench/bench-1/low-battery", alarms.Reason{Rule: alarms.RuleFault, Probe: "bench-1", Fault: alarms.FaultBattery})
	l.add(4, "long-house/bench/bench-1/silent", alarms.Out, alarms.Normal, alarms.OutOfService, alarms.Reason{Rule: alarms.RuleSilent, Probe: "bench-1", By: "Ada"})
	got := report.Distrusted(l.log, at(10))
	want := []report.Distrust{{Probe: "bench-1", Quantity: alarms.Temperature, Span: span(1, 2)}, {Probe: "bench-1", Span: span(4, 10)}}
	if fmt.Sprint(got) != fmt.Sprint(want) {
		t.Errorf("got %v, want %v", got, want)
	}
}
