package past

import (
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/service"
)

// Strip, cells and report count the same hours and starts of a drive, whole runs as
// well as those of which one end was not seen.
func TestStripCellsAndReportAgreeOnTheHoursRun(t *testing.T) {
	s := pastStore(t)
	still := func(time.Time) float64 { return 0 }
	heard(s, "exhaust-fan-contact", alarms.Contact, hoursAgo(24), hoursAgo(14), still)
	heard(s, "exhaust-fan-contact", alarms.Contact, hoursAgo(10), yearEnd, still)
	heard(s, "loop-fan-contact", alarms.Contact, hoursAgo(90), hoursAgo(20), still)
	lines := []alarms.Transition{
		ranLine(1, "loop-fan", hoursAgo(80), time.Time{}, false), // three days, then nothing was heard
		ranLine(2, "exhaust-fan", hoursAgo(30), hoursAgo(23), false),
		ranLine(3, "exhaust-fan", hoursAgo(20), hoursAgo(19), true),
		ranLine(4, "exhaust-fan", hoursAgo(15), time.Time{}, false),
		ranLine(5, "exhaust-fan", time.Time{}, hoursAgo(9), false),
	}
	lines[0].Due, lines[3].Due = hoursAgo(19.9), hoursAgo(13.9)
	if err := s.Save(lines, nil); err != nil {
		t.Fatal(err)
	}
	a := at(t, yearPlan(), s, yearEnd)
	whole := report.Span{From: hoursAgo(24), To: yearEnd}
	strip, err := a.Runs(t.Context(), "long-house", whole.From, whole.To)
	if err != nil {
		t.Fatal(err)
	}
	cells, err := a.RunCells(t.Context(), "long-house", []time.Time{whole.From, hoursAgo(17), hoursAgo(12), whole.To})
	if err != nil {
		t.Fatal(err)
	}
	rep, err := a.Report(t.Context(), "long-house", whole)
	if err != nil {
		t.Fatal(err)
	}
	type hours struct {
		ran, inferred time.Duration
		starts        int
	}
	for i, want := range map[int]hours{0: {4 * time.Hour, time.Hour, 2}, 1: {}, 2: {4 * time.Hour, 0, 0}} {
		var inStrip, inCells hours
		for _, r := range strip[i].Runs {
			part := max(service.Earlier(r.To, whole.To).Sub(service.Later(r.From, whole.From)), 0)
			inStrip.ran += part
			if r.Inferred {
				inStrip.inferred += part
			}
			if !r.FromUnseen && !r.From.Before(whole.From) {
				inStrip.starts++
			}
		}
		for _, c := range cells[i].Cells {
			inCells.ran, inCells.inferred, inCells.starts = inCells.ran+c.Ran, inCells.inferred+c.Inferred, inCells.starts+c.Starts
		}
		d := rep.Drives[i]
		for where, got := range map[string]hours{"strip": inStrip, "cells": inCells, "report": {d.Ran, d.Inferred, d.Starts}} {
			if (got.ran - want.ran).Abs() < 6*time.Minute { // an end that nobody saw is known to a piece of the history
				got.ran = want.ran
			}
			if got != want || inStrip.ran.Round(time.Second) != d.Ran.Round(time.Second) || inCells.ran.Round(time.Second) != d.Ran.Round(time.Second) {
				t.Errorf("%s, %s: got %+v, want %+v, and the same everywhere", d.ID, where, got, want)
			}
		}
	}
	if rep.Drives[0].Unseen != 2 || rep.Drives[2].Unseen != 1 {
		t.Errorf("%d and %d runs with an end that was not seen, want 2 and 1", rep.Drives[0].Unseen, rep.Drives[2].Unseen)
	}
}
