package draw

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
	"telltale/alarms/report"
	"telltale/alarms/say"
	"telltale/gateway/page/words"
)

const (
	// PastShare is what the past takes of the width of a strip that looks ahead, in
	// per cent: two hours beside a day would be a few pixels on a phone.
	PastShare = 70.0
	aheadLong = 2 * time.Hour
)

// shares are the quantiles of the lowest and the highest between which the
// temperature stays with (at least) 9, 8 and 4 in 10: the widest band first.
var shares = [][2]int{{0, 6}, {1, 5}, {2, 4}}

// AheadAsk is what is expected of the temperature of a place from now on.
type AheadAsk struct {
	span   report.Span
	looked time.Time             // from when the times of limits count
	steps  []aheadStep           // the first is now
	limits []alarms.LimitOutlook // not passed yet
}

type aheadStep struct {
	at              time.Time
	lowest, highest []float64 // °C, by the shares of alarms.AheadPicture
}

// AheadOf is what can be drawn of what is expected of p, or nil and why not: ""
// where there is nothing to look ahead for.
func AheadOf(w words.Words, p *alarms.PlacePicture, now time.Time) (ask *AheadAsk, why string) {
	o := p.Outlook
	switch {
	case o == nil:
		return nil, ""
	case o.Lacks != outlook.Nothing || len(o.Ahead) == 0:
		return nil, o.Sentence
	case !o.Stands(now):
		return nil, w.Say("Nothing can be said now of the next two hours: what was expected at %s is too old.", w.Clock(o.At, now))
	}
	ask = &AheadAsk{span: report.Span{From: now, To: now.Add(aheadLong)}, looked: o.At}
	if v, known := p.Now(alarms.Temperature); known {
		all := slices.Repeat([]float64{v}, len(outlook.Quantiles))
		ask.steps = append(ask.steps, aheadStep{o.At, all, all})
	}
	for _, a := range o.Ahead {
		if a.Whole() {
			ask.steps = append(ask.steps, aheadStep{o.At.Add(a.In), a.Lowest, a.Highest})
		}
	}
	ask.fromNow()
	if len(ask.steps) < 2 {
		return nil, w.Say("Nothing can be said now of the next two hours.")
	}
	for _, l := range o.Limits {
		if !l.Passed(p) {
			ask.limits = append(ask.limits, l)
		}
	}
	return ask, ""
}

// fromNow cuts off what was expected until now, of a look that is some minutes old.
func (a *AheadAsk) fromNow() {
	now := a.span.From
	for len(a.steps) > 1 && !a.steps[1].at.After(now) {
		a.steps = a.steps[1:]
	}
	if len(a.steps) < 2 || !a.steps[0].at.Before(now) {
		return
	}
	first, next := a.steps[0], a.steps[1]
	part := float64(now.Sub(first.at)) / float64(next.at.Sub(first.at))
	mix := func(a, b []float64) (out []float64) {
		for i := range a {
			out = append(out, a[i]+(b[i]-a[i])*part)
		}
		return out
	}
	a.steps[0] = aheadStep{now, mix(first.lowest, next.lowest), mix(first.highest, next.highest)}
}

// toCover lists the values that an axis must have room for.
func (a *AheadAsk) toCover() (all []float64) {
	if a == nil {
		return nil
	}
	for _, s := range a.steps {
		all = append(all, s.lowest[0], s.highest[6])
	}
	for _, l := range a.limits {
		if l.Likelihood() >= alarms.WorthSaying {
			all = append(all, l.Limit)
		}
	}
	return all
}

// Ahead is what is expected, drawn beside the past of a panel: paths in units of
// its own part of the strip.
type Ahead struct {
	Bands          []string // the widest and least likely first
	Outline        string   // of the widest
	Middle, Limits string
	Crossings      []Crossing
	Word           notch // that says what it is
}

// Crossing is where a limit is likely to be reached.
type Crossing struct {
	X, Y    float64 // per cent of the part, and px
	Inner   bool    // it is the further limit
	Between string  // path from when it may be to when it may be at the latest
	Notches []notch // how likely, and when; none where there is no room
}

// notch is a word in the plot.
type notch struct {
	X, Y         float64 // per cent of the part, and px
	Anchor, Text string
}

// drawAhead draws a. What has no place within the plot is left out.
func (c *Panel) drawAhead(w words.Words, a *AheadAsk, y func(float64) float64) {
	if a == nil {
		return
	}
	out, taken := &Ahead{}, &taken{}
	x := func(t time.Time) float64 { return across(a.span, t) }
	for i, share := range shares {
		var upper, lower []string
		for _, s := range a.steps {
			upper = append(upper, pathPoint(x(s.at), y(s.highest[share[1]])))
			lower = append(lower, pathPoint(x(s.at), y(s.lowest[share[0]])))
		}
		if i == 0 {
			out.Outline = "M" + strings.Join(upper, "L") + "M" + strings.Join(lower, "L")
		}
		slices.Reverse(lower)
		out.Bands = append(out.Bands, "M"+strings.Join(append(upper, lower...), "L")+"Z")
	}
	out.Middle = "M" + strings.Join(a.middle(x, y), "L")
	for _, l := range a.limits {
		at := y(l.Limit)
		if at < c.Top-0.5 || at > c.Bottom+0.5 {
			continue
		}
		out.Limits += "M" + pathPoint(0, at) + "H" + short(acrossUnits)
		if l.Likelihood() >= alarms.WorthSaying {
			out.Crossings = append(out.Crossings, c.crossing(w, a, l, at, taken))
		}
	}
	out.Word = c.aheadWord(w, taken)
	c.Ahead = out
}

// middle is the course in the middle: as far above now as the highest is likely to
// be, and as far below as the lowest.
func (a *AheadAsk) middle(x func(time.Time) float64, y func(float64) float64) (line []string) {
	now := a.steps[0]
	start := (now.highest[3] + now.lowest[3]) / 2
	for i, s := range a.steps {
		v := start
		if i > 0 {
			v = min(max(s.highest[3]+s.lowest[3]-start, s.lowest[3]), s.highest[3])
		}
		line = append(line, pathPoint(x(s.at), y(v)))
	}
	return line
}

// Room for words in the narrowest part ahead, px.
const (
	narrowAhead = narrowStrip * (100 - PastShare) / 100
	notchTall   = 13.0
	besideMark  = 9.0
)

// crossing marks where l is likely to be reached, and writes how likely and when
// beside it where there is room.
func (c *Panel) crossing(w words.Words, a *AheadAsk, l alarms.LimitOutlook, at float64, used *taken) Crossing {
	x := func(in time.Duration) float64 { return across(a.span, a.looked.Add(in)) }
	m := Crossing{X: round1(x(l.Middle) / 10), Y: round1(at), Inner: l.Level == alarms.Inner}
	m.Between = "M" + pathPoint(x(l.Soon), at) + "H" + short(max(x(l.Late), x(l.Soon)+1))
	lines := []notch{{X: m.X, Text: w.Core.InTen(l.Likelihood())}, {X: m.X, Text: w.Clock(say.Roughly(a.looked.Add(l.Middle)), a.span.From)}}
	first := at + besideMark + notchTall - 3
	if l.Side == alarms.LowSide && at-besideMark-2*notchTall > c.Top || first+notchTall > c.Bottom {
		first = at - besideMark - notchTall
	}
	for i := range lines {
		lines[i].Y = round1(first + float64(i)*notchTall)
	}
	if used.take(lines) {
		m.Notches = lines
	}
	return m
}

// aheadWord says in a corner of the plot that all this is only likely.
func (c *Panel) aheadWord(w words.Words, used *taken) notch {
	corners := []notch{{X: 100, Y: c.Bottom - 5}, {X: 100, Y: c.Top + notchTall - 1}, {X: 0, Y: c.Bottom - 5}, {X: 0, Y: c.Top + notchTall - 1}}
	for _, n := range corners {
		n.Y, n.Text = round1(n.Y), w.Say("likely")
		if one := []notch{n}; used.take(one) {
			return one[0]
		}
	}
	return notch{}
}

// taken is where words stand already in the narrowest part ahead.
type taken struct{ boxes [][4]float64 }

// take gives lines, which stand beneath each other, the side on which they have
// room, if they meet no other word.
func (t *taken) take(lines []notch) bool {
	room := 0.0
	for _, n := range lines {
		room = max(room, widthOf(n.Text, timeSize))
	}
	at, anchor := lines[0].X/100*narrowAhead, "middle"
	from := at - room/2
	switch {
	case from < 2:
		anchor, from = "start", at
	case from+room > narrowAhead:
		anchor, from = "end", at-room
	}
	box := [4]float64{from, from + room, lines[0].Y - notchTall, lines[len(lines)-1].Y}
	for _, b := range t.boxes {
		if box[0] < b[1]+timeGap && b[0] < box[1]+timeGap && box[2] < b[3] && b[2] < box[3] {
			return false
		}
	}
	t.boxes = append(t.boxes, box)
	for i := range lines {
		lines[i].Anchor = anchor
	}
	return true
}
