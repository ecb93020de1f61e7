package draw

import (
	"slices"
	"time"

	"telltale/alarms/report"
	"telltale/gateway/page/words"
)

// TimeLabel is a label of the time axis.
type TimeLabel struct {
	At     float64 // in units of the past
	X      float64 // per cent of the strip
	Text   string
	Minor  bool
	Anchor string
}

// Widths of a strip, px.
const (
	narrowStrip = 256.0 // on the narrowest screen
	roomyStrip  = 700.0 // from here on minor labels are shown; in the style sheet 44rem
	timeSize    = 12.0  // of the labels
	timeGap     = 4.0
)

// within is what of a strip so wide the label takes, px.
func (t TimeLabel) within(strip float64) (from, to float64) {
	x, room := t.X/100*strip, widthOf(t.Text, timeSize)
	switch t.Anchor {
	case "start":
		return x, x + room
	case "end":
		return x - room, x
	}
	return x - room/2, x + room/2
}

// keepApart gives each label a side on which it has room within the strip. One
// that meets another on a narrow screen becomes minor, and is left out where
// it does so on a wide one too.
func keepApart(ticks []TimeLabel) {
	free := func(t *TimeLabel, strip float64, others []*TimeLabel) bool {
		from, to := t.within(strip)
		return !slices.ContainsFunc(others, func(o *TimeLabel) bool {
			f, l := o.within(strip)
			return from < l+timeGap && f < to+timeGap
		})
	}
	var set []*TimeLabel
	for _, strip := range []float64{narrowStrip, roomyStrip} {
		for i := range ticks {
			t := &ticks[i]
			if t.Minor != (strip == roomyStrip) {
				continue
			}
			t.Anchor = "middle"
			if from, to := t.within(strip); from < 0 {
				t.Anchor = "start"
			} else if to > strip {
				t.Anchor = "end"
			}
			switch {
			case free(t, strip, set):
				set = append(set, t)
			case strip == narrowStrip:
				t.Minor = true
			default:
				t.Text = ""
			}
		}
	}
}

// TimeLabels are the labels of a time axis, kept apart.
func TimeLabels(w words.Words, whole report.Span) []TimeLabel {
	ticks := pastLabels(w, whole, 100)
	keepApart(ticks)
	return ticks
}

// TimeLabelsAhead are the labels of the past and of what is ahead of it, kept apart:
// now and the end of what is ahead before all others.
func TimeLabelsAhead(w words.Words, whole report.Span) (past, ahead []TimeLabel) {
	const end = 100 - PastShare
	beyond := func(share float64, text string, minor bool) TimeLabel {
		return TimeLabel{X: PastShare + end*share, Text: text, Minor: minor}
	}
	clock := func(in time.Duration) string { return w.Stamp(whole.To.Add(in), "15:04") }
	all := append([]TimeLabel{beyond(0, w.Say("now"), false), beyond(1, clock(aheadLong), false), beyond(0.5, clock(aheadLong/2), true)}, pastLabels(w, whole, PastShare)...)
	keepApart(all)
	return all[3:], all[:3]
}

// pastLabels are the labels of what takes so many per cent of a strip.
func pastLabels(w words.Words, whole report.Span, share float64) (ticks []TimeLabel) {
	for _, m := range timeMarks(w, whole.From, whole.To) {
		x := across(whole, m.at)
		ticks = append(ticks, TimeLabel{At: round1(x), X: round1(x / acrossUnits * share), Text: m.text, Minor: m.minor})
	}
	return ticks
}
