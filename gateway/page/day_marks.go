package page

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

const (
	mostTold   = 6000               // transitions read for one strip
	mostListed = 100                // lines of its list
	toldBefore = 8 * 24 * time.Hour // an alarm that is on is told again within so long
	markApart  = 22.0               // units between two marks of a lane
)

// alarmSpan is one alarm from its coming to its going.
type alarmSpan struct {
	Stretch
	priority   alarms.Priority
	begun      *alarms.Transition
	fromUnseen bool
}

// alarmSpans makes spans of transitions, which are sorted; what is on in the
// end lasts until now.
func alarmSpans(told []alarms.Transition, whole Stretch, now time.Time) (spans []alarmSpan, acks []*alarms.Transition) {
	on := map[alarms.AlarmID]*alarmSpan{}
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
			a = &alarmSpan{Stretch: Stretch{From: t.Due}, begun: t}
			if t.From.Active() { // it came before what was read
				a.From, a.fromUnseen = told[0].Due, true
			}
			on[t.Alarm] = a
		}
		if a == nil {
			continue
		}
		a.priority = max(a.priority, t.Priority)
		if !t.To.Active() {
			a.To = t.Due
			spans = append(spans, *a)
			delete(on, t.Alarm)
		}
	}
	for _, a := range on {
		a.To = earlier(now, whole.To)
		spans = append(spans, *a)
	}
	spans = slices.DeleteFunc(spans, func(a alarmSpan) bool { return a.To.Before(whole.From) || !a.From.Before(whole.To) })
	slices.SortFunc(spans, func(a, b alarmSpan) int {
		return cmp.Or(a.From.Compare(b.From), strings.Compare(a.begun.ID, b.begun.ID))
	})
	return spans, acks
}

// lane is a row of marks: the alarms of one priority, or acknowledgements.
type lane struct {
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

// lanes draws spans and acknowledgements beneath each other from y on.
func (w words) lanes(spans []alarmSpan, acks []*alarms.Transition, whole Stretch, y float64) ([]lane, float64) {
	var out []lane
	for _, p := range []alarms.Priority{alarms.High, alarms.Medium, alarms.Low} {
		l := lane{Class: p.String(), Words: priorityWords[p]}
		for _, a := range spans {
			if a.priority != p && (p != alarms.Low || a.priority > alarms.Low) {
				continue
			}
			x0, x1 := whole.across(a.From), whole.across(a.To)
			l.Bars += boxPath(x0, y+rowHead+3, max(x1, x0+1), y+rowHead+rowBar-3)
			l.mark(x0, a.saidIn(w, whole))
		}
		out, y = l.addTo(out, y)
	}
	l := lane{Class: "taken", Words: "Acknowledged"}
	for _, a := range acks {
		l.mark(whole.across(a.Due), w.said(*a))
	}
	return l.addTo(out, y)
}

// saidIn is what a mark of s says in a strip of whole. That of an alarm that came
// before stands where the strip begins, and says so.
func (s *alarmSpan) saidIn(w words, whole Stretch) string {
	if s.From.Before(whole.From) {
		return "It came before this time. " + w.said(*s.begun)
	}
	return w.said(*s.begun)
}

// mark sets a shape at x, or adds to the one that is there.
func (l *lane) mark(x float64, says string) {
	if n := len(l.Marks); n > 0 && x-l.Marks[n-1].at < markApart {
		m := &l.Marks[n-1]
		m.n++
		if m.n <= 4 {
			m.Text += " " + says
		} else if m.n == 5 {
			m.Text += " And more, in the list below."
		}
		return
	}
	l.Marks = append(l.Marks, laneMark{X: round1(x / 10), Text: says, n: 1, at: x})
}

func (l lane) addTo(all []lane, y float64) ([]lane, float64) {
	if len(l.Marks) == 0 {
		return all, y
	}
	l.LabelY, l.Y = y+11, y+rowHead+rowBar/2
	return append(all, l), y + rowHead + rowBar + rowGap
}

// happened is one line of the list below a strip.
type happened struct {
	Clock, Address string
	Class, Kind    string // of its mark, and in words
	Text           string
	Lasted         string
}

// list writes what happened, newest first.
func (w words) list(spans []alarmSpan, acks []*alarms.Transition, a dayAsk, whole Stretch, now time.Time) (out []happened, left int) {
	type item struct {
		at   time.Time
		span *alarmSpan // nil: an acknowledgement
		ack  *alarms.Transition
	}
	items := make([]item, 0, len(spans)+len(acks))
	for i := range spans {
		items = append(items, item{at: spans[i].From, span: &spans[i]})
	}
	for _, k := range acks {
		items = append(items, item{at: k.Due, ack: k})
	}
	slices.SortStableFunc(items, func(a, b item) int { return b.at.Compare(a.at) })
	left = max(0, len(items)-mostListed)
	for _, i := range items[:len(items)-left] {
		h := happened{Clock: w.clock(i.at, whole.To), Address: a.around(i.at, now)}
		if i.span == nil {
			h.Class, h.Kind, h.Text = "taken", "Acknowledged", w.said(*i.ack)
		} else {
			w.tellSpan(&h, i.span, earlier(now, whole.To))
		}
		out = append(out, h)
	}
	return out, left
}

// tellSpan says what alarm it was and how long it lasted.
func (w words) tellSpan(h *happened, s *alarmSpan, end time.Time) {
	h.Class, h.Kind, h.Text = s.priority.String(), cmp.Or(priorityWords[s.priority], "No priority"), w.said(*s.begun)
	if s.fromUnseen {
		h.Clock = "before " + h.Clock
	}
	if !s.To.Equal(end) {
		h.Lasted = "It lasted " + alarms.Span(s.To.Sub(s.From).Round(time.Minute)) + "."
	}
}
