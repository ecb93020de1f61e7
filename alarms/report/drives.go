package report

import (
	"slices"
	"time"

	"telltale/alarms"
)

// Drive is what a drive did.
type Drive struct {
	ID       alarms.DriveID
	Name     string
	Starts   int
	Ran      time.Duration // within the span
	Inferred time.Duration // part of Ran known from temperatures alone
	Longest  Span          // of the runs within the span
	Unseen   int           // runs of which one end was not seen; they count as far as they were heard of
	Right    int           // called, and switched as it should
	Missed   int           // called, and did not run
	Verdicts []Frequent    // alarms on what it did, most frequent first
	Open     bool          // it runs now
}

// Run is one run of a drive.
type Run struct {
	Drive alarms.DriveID
	Span
	Inferred   bool // known from temperatures alone
	FromUnseen bool // it ran already when it was first heard of, at From
	ToUnseen   bool // it still ran when it was last heard of, at To
	Open       bool // it goes on
}

// drivesOf adds up what the drives of h did in s, in which came asked for somebody.
func drivesOf(h *alarms.House, log Log, came []alarms.Transition, s Span) (out []Drive) {
	for i := range h.Drives {
		d := Drive{ID: h.Drives[i].ID, Name: h.Drives[i].Name}
		for _, t := range log.Switchings {
			switch x := t.Reason.Switched; {
			case x == nil || t.Reason.Drive != d.ID || !s.has(t.Due):
			case x.Missed:
				d.Missed++
			case x.Right:
				d.Right++
			}
		}
		for _, r := range log.Runs {
			if r.Drive == d.ID {
				d.ran(r, s)
			}
		}
		d.Verdicts = mostFrequent(slices.DeleteFunc(slices.Clone(came), func(t alarms.Transition) bool {
			return t.Reason.Drive != d.ID || t.Reason.Rule != alarms.RuleControl
		}))
		out = append(out, d)
	}
	return out
}

func (d *Drive) ran(r Run, s Span) {
	part := r.Within(s)
	if part.Len() <= 0 {
		return
	}
	if !r.FromUnseen && s.has(r.From) {
		d.Starts++
	}
	if r.FromUnseen || r.ToUnseen {
		d.Unseen++
	}
	d.Ran += part.Len()
	if r.Inferred {
		d.Inferred += part.Len()
	}
	if part.Len() > d.Longest.Len() {
		d.Longest = part
	}
	d.Open = d.Open || r.Open
}

// Loop is what a ground loop brought over the whole days of the log in a span.
type Loop struct {
	alarms.LoopEnergy
	Days  int
	Pipes []alarms.PipeDay // sums, in the order of the loop
}

// loopOf adds up the days that lie within s; nil for none.
func loopOf(log []alarms.Transition, s Span) *Loop {
	var l *Loop
	for _, t := range log {
		r := t.Reason.Loop
		if r == nil || r.Day == nil || t.Reason.Since.Before(s.From) || t.Due.After(s.To) {
			continue
		}
		if l == nil {
			l = &Loop{}
		}
		l.Days++
		l.LoopEnergy = l.Plus(r.Day.LoopEnergy)
		for _, p := range r.Day.Pipes {
			i := slices.IndexFunc(l.Pipes, func(x alarms.PipeDay) bool { return x.Depth == p.Depth })
			if i < 0 {
				l.Pipes = append(l.Pipes, p)
				continue
			}
			l.Pipes[i].LoopEnergy = l.Pipes[i].Plus(p.LoopEnergy)
		}
	}
	return l
}
