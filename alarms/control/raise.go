package control

import (
	"time"

	"telltale/alarms/timing"
)

// finding gathers what a sentence about a verdict needs.
func (d *drive) finding(kind FindingKind, on bool) Finding {
	f := Finding{Kind: kind, On: on, Due: d.around.now, Since: d.Gates[kind].Since, Drive: d.index, Other: -1, Evidence: -1,
		OtherStage: -1, Timer: d.asked.want.Wish == ByHours,
		Stands: d.State == Standing && d.Call == Called}
	c := d.asked.last()
	switch {
	case kind == DidNotStart:
		c = d.Missed
	case d.Open.Started != 0:
		c = d.Open.Call
	}
	f.Stage, f.Called, f.CalledTemp = c.Stage, c.Called, c.CalledT
	t := d.asked.felt(d.asked.at(f.Stage))
	f.Temp, f.TempKnown, f.TempAt = t.Value, t.Known, t.last()
	switch kind {
	case TimerOff:
		f.Value, f.Called = d.Timer.Late.Minutes(), d.Timer.Due
	case RanAlone:
		if other := firstShown(d.with, Standing); other != nil {
			f.Other = other.index
		}
	case RanTogether:
		if other := firstShown(d.without, Running); other != nil {
			f.Other = other.index
			if other.Call == Called {
				f.OtherStage = other.asked.last().Stage
			}
		}
	case NoEffect, SeasonUnfit:
		f.Value, f.Limit = t.Value, d.Open.Before
	case Contradiction:
		f.Evidence = d.meters.contradicts()
	case DrawsMore, DrawsLess:
		f.Evidence = d.drawn.index
		low, high := d.drawn.limits()
		f.Value, f.Limit, f.Count = d.Evidence[f.Evidence].Value, high, len(d.Usual.Samples)
		if kind == DrawsLess {
			f.Limit = low
		}
	case ShortCycling:
		f.Count, f.Limit = len(d.Starts), float64(d.mostStarts())
		f.Value = float64(f.Count)
	case TurnsWrong:
		f.Value, f.Limit, f.Count = d.Turns.share(), d.asked.want.share(), d.Turns.N
	case NeverRan:
		f.Value, f.Limit = d.Today.CalledFor.Minutes(), calledLeast.Minutes()
	}
	return f
}

// log writes a line of the log.
func (d *drive) log(line Switching) { d.told.Switchings = append(d.told.Switchings, line) }

// raise lets a verdict begin.
func (d *drive) raise(kind FindingKind) {
	since := d.Gates[kind].begin(d.around.now)
	switch kind {
	case DidNotStart:
		d.FailedToday = true
		if d.Missed = d.asked.last(); d.Missed.Called == 0 {
			d.Missed.Called = since
			d.Missed.CalledT, _ = d.near(since)
		}
	case DidNotStop, NoEffect, Contradiction, RanAlone:
		d.Open.Spoilt = true
	}
	d.told.Findings = append(d.told.Findings, d.finding(kind, true))
}

// end ends a verdict.
func (d *drive) end(kind FindingKind) {
	d.told.Findings = append(d.told.Findings, d.finding(kind, false))
	d.Gates[kind] = gate{}
}

// hold tells a verdict what holds now.
func (d *drive) hold(kind FindingKind, arms, over bool, grace time.Duration) {
	due := d.excused(kind, d.around.now.Add(grace))
	switch d.Gates[kind].hold(d.around.now, arms, over, due) {
	case begins:
		d.raise(kind)
	case ends:
		d.end(kind)
	}
}

// excused moves a grace behind an announced test.
func (d *drive) excused(kind FindingKind, due timing.Instant) timing.Instant {
	switch kind {
	case DidNotStop, RanUncalled, RanBarred, OpenUnneeded, SeasonUnfit:
		if d.TestUntil != 0 {
			return max(due, d.TestUntil.Add(d.spec.Stop))
		}
	}
	return due
}

// endTimer ends that its timer is off, and forgets by how much.
func (d *drive) endTimer() {
	if d.Gates[TimerOff].On {
		d.end(TimerOff)
		d.Timer = lead{}
	}
}

// switched adds a switching to the switch point that it shows.
func (d *drive) switched(kind FindingKind, temp float64) {
	s := d.witness
	switch s.switched(kind, temp, !d.meters.blurred(dense), kind == DriftedOn || d.Fell) {
	case begins:
		f := s.point(kind)
		f.Told, f.Since = true, d.around.now
		d.told.Findings = append(d.told.Findings, s.drifted(kind, true))
	case ends:
		f := s.point(kind)
		d.told.Findings = append(d.told.Findings, s.drifted(kind, false))
		f.Told, f.Since = false, 0
	}
}
