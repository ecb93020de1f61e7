package draw

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// AlarmSpan is one alarm from its coming to its going.
type AlarmSpan struct {
	report.Span
	Priority   alarms.Priority
	Begun      *alarms.Transition
	FromUnseen bool
}

// AlarmSpans makes spans of transitions, which are sorted; what is on in the
// end lasts until now.
func AlarmSpans(told []alarms.Transition, whole report.Span, now time.Time) (spans []AlarmSpan, acks []*alarms.Transition) {
	on := map[alarms.AlarmID]*AlarmSpan{}
	for i := range told {
		t := &told[i]
		if t.Move == alarms.Note {
			continue
		}
		if t.Move == alarms.Ack && !t.Due.Before(whole.From) {
			acks = append(acks, t)
		}
		a := on[t.Alarm]
		if a == nil && (t.To.Active() || t.From.Active()) {
			a = &AlarmSpan{Span: report.Span{From: t.Due}, Begun: t}
			if t.From.Active() { // it came before what was read
				a.From, a.FromUnseen = told[0].Due, true
			}
			on[t.Alarm] = a
		}
		if a == nil {
			continue
		}
		a.Priority = max(a.Priority, t.Priority)
		if !t.To.Active() {
			a.To = t.Due
			spans = append(spans, *a)
			delete(on, t.Alarm)
		}
	}
	for _, a := range on {
		a.To = service.Earlier(now, whole.To)
		spans = append(spans, *a)
	}
	spans = slices.DeleteFunc(spans, func(a AlarmSpan) bool { return a.To.Before(whole.From) || !a.From.Before(whole.To) })
	slices.SortFunc(spans, func(a, b AlarmSpan) int {
		return cmp.Or(a.From.Compare(b.From), strings.Compare(a.Begun.ID, b.Begun.ID))
	})
	return spans, acks
}

// markApart is how many units lie between two marks of a lane.
const markApart = 22.0

// Lane is a row of marks: the alarms of one priority, or acknowledgements.
type Lane struct {
	Class, Words string // high, medium, low or taken
	LabelY, Y    float64
	Bars         string
	Marks        []laneMark
}

// laneMark is a shape on a lane, for one event or several close together.
type laneMark struct {
	X    float64 // per cent of the width: its time, to the very ends
	Text string
	n    int
	at   float64
}

// LanesOf draws spans and acknowledgements beneath each other from y on.
func LanesOf(w words.Words, spans []AlarmSpan, acks []*alarms.Transition, whole report.Span, y float64) ([]Lane, float64) {
	var out []Lane
	for _, p := range []alarms.Priority{alarms.High, alarms.Medium, alarms.Low} {
		l := Lane{Class: p.String(), Words: w.Priority(p)}
		for _, a := range spans {
			if a.Priority != p && (p != alarms.Low || a.Priority > alarms.Low) {
				continue
			}
			x0, x1 := across(whole, a.From), across(whole, a.To)
			l.Bars += boxPath(x0, y+rowHead+3, max(x1, x0+1), y+rowHead+rowBar-3)
			l.mark(w, x0, a.saidIn(w, whole))
		}
		out, y = l.addTo(out, y)
	}
	l := Lane{Class: "taken", Words: w.Say("Acknowledged")}
	for _, a := range acks {
		l.mark(w, across(whole, a.Due), w.Said(*a))
	}
	return l.addTo(out, y)
}

// saidIn is what a mark of s says in a strip of whole. That of an alarm that came
// before stands where the strip begins, and says so.
func (s *AlarmSpan) saidIn(w words.Words, whole report.Span) string {
	if s.From.Before(whole.From) {
		return w.Say("It came before this time.") + " " + w.Said(*s.Begun)
	}
	return w.Said(*s.Begun)
}

// mark sets a shape at x, or adds to the one that is there.
func (l *Lane) mark(w words.Words, x float64, says string) {
	if n := len(l.Marks); n > 0 && x-l.Marks[n-1].at < markApart {
		m := &l.Marks[n-1]
		m.n++
		if m.n <= 4 {
			m.Text += " " + says
		} else if m.n == 5 {
			m.Text += " " + w.Say("And more, in the list below.")
		}
		return
	}
	l.Marks = append(l.Marks, laneMark{X: round1(x / 10), Text: says, n: 1, at: x})
}

func (l Lane) addTo(all []Lane, y float64) ([]Lane, float64) {
	if len(l.Marks) == 0 {
		return all, y
	}
	l.LabelY, l.Y = y+11, y+rowHead+rowBar/2
	return append(all, l), y + rowHead + rowBar + rowGap
}
