package page

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

const (
	mostTold   = 2000               // transitions read for one strip
	mostListed = 100                // lines of its list
	toldBefore = 8 * 24 * time.Hour // an alarm that is on is told again within so long
	markApart  = 22.0               // units between two marks of a lane
)

// alarmSpan is one alarm from its coming to its going.
type alarmSpan struct {
	Stretch
	priority   alarms.Priority
	sentence   string
	fromUnseen bool
}

// acked is one acknowledgement.
type acked struct {
	at       time.Time
	sentence string
}

// alarmSpans makes spans of transitions, which are sorted; what is on in the
// end lasts until now.
func (w words) alarmSpans(told []alarms.Transition, whole Stretch, now time.Time) (spans []alarmSpan, acks []acked) {
	on := map[alarms.AlarmID]*alarmSpan{}
	for _, t := range told {
		if t.Move == alarms.Note {
			continue
		}
		if t.Move == alarms.Ack && !t.Due.Before(whole.From) {
			acks = append(acks, acked{t.Due, w.said(t)})
		}
		a := on[t.Alarm]
		if a == nil && (t.To.Active() || t.From.Active()) {
			a = &alarmSpan{Stretch: Stretch{From: t.Due}, sentence: w.said(t)}
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
		return cmp.Or(a.From.Compare(b.From), strings.Compare(a.sentence, b.sentence))
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
	X    float64 // per cent of the width
	Text string
	n    int
	at   float64
}

// lanes draws spans and acknowledgements beneath each other from y on.
func (w words) lanes(spans []alarmSpan, acks []acked, whole Stretch, y float64) ([]lane, float64) {
	var out []lane
	for _, p := range []alarms.Priority{alarms.High, alarms.Medium, alarms.Low} {
		l := lane{Class: p.String(), Words: priorityWords[p]}
		for _, a := range spans {
			if a.priority != p && (p != alarms.Low || a.priority > alarms.Low) {
				continue
			}
			x0, x1 := whole.across(a.From), whole.across(a.To)
			l.Bars += box(x0, y+rowHead+3, max(x1, x0+1), y+rowHead+rowBar-3)
			l.mark(x0, a.sentence)
		}
		out, y = l.addTo(out, y)
	}
	l := lane{Class: "taken", Words: "Acknowledged"}
	for _, a := range acks {
		l.mark(whole.across(a.at), a.sentence)
	}
	return l.addTo(out, y)
}

// mark sets a shape at x, or adds to the one that is there.
func (l *lane) mark(x float64, text string) {
	if n := len(l.Marks); n > 0 && x-l.Marks[n-1].at < markApart {
		m := &l.Marks[n-1]
		m.n++
		if m.n <= 4 {
			m.Text += " " + text
		} else if m.n == 5 {
			m.Text += " And more, in the list below."
		}
		return
	}
	l.Marks = append(l.Marks, laneMark{X: round1(min(max(x/10, 2.5), 97.5)), Text: text, n: 1, at: x})
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
	at             time.Time
}

// list writes what happened, newest first.
func (w words) list(spans []alarmSpan, acks []acked, a dayAsk, whole Stretch, now time.Time) (out []happened, left int) {
	day := func(at time.Time) string {
		until := at.Add(12 * time.Hour)
		if until.After(now) {
			until = time.Time{}
		}
		return a.address(zooms[0], until)
	}
	for _, s := range spans {
		h := happened{Class: s.priority.String(), Kind: cmp.Or(priorityWords[s.priority], "No priority"), Text: s.sentence, at: s.From,
			Clock: w.clock(s.From, whole.To), Address: day(s.From)}
		if s.fromUnseen {
			h.Clock = "before " + h.Clock
		}
		if !s.To.Equal(earlier(now, whole.To)) {
			h.Lasted = "It lasted " + alarms.Span(s.To.Sub(s.From).Round(time.Minute)) + "."
		}
		out = append(out, h)
	}
	for _, k := range acks {
		out = append(out, happened{Class: "taken", Kind: "Acknowledged", Text: k.sentence, at: k.at,
			Clock: w.clock(k.at, whole.To), Address: day(k.at)})
	}
	slices.SortStableFunc(out, func(a, b happened) int { return b.at.Compare(a.at) })
	left = max(0, len(out)-mostListed)
	return out[:len(out)-left], left
}
