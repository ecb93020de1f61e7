package lookback

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

const (
	mostTold   = 6000               // transitions read for one strip
	mostListed = 100                // lines of its list
	toldBefore = 8 * 24 * time.Hour // an alarm that is on is told again within so long
)

// happened is one line of the list below a strip.
type happened struct {
	Clock, Address string
	Class, Kind    string // of its mark, and in words
	Text           string
	Lasted         string
}

// listHappened writes what happened, newest first.
func listHappened(w words.Words, spans []draw.AlarmSpan, acks []*alarms.Transition, a Ask, whole report.Span, now time.Time) (out []happened, left int) {
	type item struct {
		at   time.Time
		span *draw.AlarmSpan // nil: an acknowledgement
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
		h := happened{Clock: w.Clock(i.at, whole.To), Address: a.around(i.at, now)}
		if i.span == nil {
			h.Class, h.Kind, h.Text = "taken", w.Say("Acknowledged"), w.Said(*i.ack)
		} else {
			tellSpan(w, &h, i.span, service.Earlier(now, whole.To))
		}
		out = append(out, h)
	}
	return out, left
}

// tellSpan says what alarm it was and how long it lasted.
func tellSpan(w words.Words, h *happened, s *draw.AlarmSpan, end time.Time) {
	h.Class, h.Kind, h.Text = s.Priority.String(), w.Priority(s.Priority), w.Said(*s.Begun)
	if s.FromUnseen {
		h.Clock = w.Say("before %s", h.Clock)
	}
	if !s.To.Equal(end) {
		h.Lasted = w.Say("It lasted %s.", w.Core.Span(s.To.Sub(s.From).Round(time.Minute)))
	}
}
