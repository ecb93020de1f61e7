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
	Unseen   int           // runs of which one end was not seen; they add no hours
	Right    int           // called, and switched as it should
	Missed   int           // called, and did not run
	Verdicts []Frequent    // alarms on what it did, most frequent first
	Open     bool          // it runs now
}

// Run is one run that goes on.
type Run struct {
	Drive alarms.DriveID
	From  time.Time
}

// drivesOf adds up the log of switchings. Runs that began in the span and ended
// after it are in the log after the span.
func drivesOf(h *alarms.House, switchings, log []alarms.Transition, running []Run, s Span, made time.Time) (out []Drive) {
	for i := range h.Drives {
		d := Drive{ID: h.Drives[i].ID, Name: h.Drives[i].Name}
		for _, t := range switchings {
			if t.Reason.Drive == d.ID && t.Reason.Switched != nil {
				d.take(t, s)
			}
		}
		for _, r := range running {
			if r.Drive == d.ID {
				d.ran(Span{r.From, made}, s, false)
				d.Open = Span{r.From, made}.within(s).Len() > 0
			}
		}
		for _, t := range log {
			if s.has(t.Due) && asks(t) && t.Reason.Drive == d.ID && t.Reason.Rule == alarms.RuleControl {
				d.verdict(t)
			}
		}
		slices.SortStableFunc(d.Verdicts, func(a, b Frequent) int { return b.Times - a.Times })
		out = append(out, d)
	}
	return out
}

func (d *Drive) take(t alarms.Transition, s Span) {
	x := t.Reason.Switched
	in := s.has(t.Due)
	switch {
	case x.Missed && in:
		d.Missed++
	case x.Missed:
	case x.Ran.IsZero() || x.Stopped.IsZero():
		if in {
			d.Unseen++
		}
	default:
		d.ran(Span{x.Ran, x.Stopped}, s, x.Inferred)
	}
	if x.Right && in {
		d.Right++
	}
}

func (d *Drive) ran(whole, s Span, inferred bool) {
	part := whole.within(s)
	if part.Len() <= 0 {
		return
	}
	if s.has(whole.From) {
		d.Starts++
	}
	d.Ran += part.Len()
	if inferred {
		d.Inferred += part.Len()
	}
	if part.Len() > d.Longest.Len() {
		d.Longest = part
	}
}

func (d *Drive) verdict(t alarms.Transition) {
	for i := range d.Verdicts {
		if d.Verdicts[i].Alarm == t.Alarm {
			d.Verdicts[i].Times++
			d.Verdicts[i].Last = t
			return
		}
	}
	d.Verdicts = append(d.Verdicts, Frequent{t.Alarm, 1, t})
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
