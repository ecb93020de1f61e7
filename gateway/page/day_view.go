package page

import (
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"telltale/alarms"
)

// Heights of the plots, px.
const (
	frontTall, frontLess = 112.0, 76.0
	ownTall, ownLess     = 176.0, 112.0
	panelGap             = 8.0
	axisRoom             = 18.0
)

// dayView is one strip, ready for the template.
type dayView struct {
	ID, House, Place   string // Place: names of the places shown
	Zoom               string
	Title, Text        string
	Height, PlotBottom float64
	Panels             []panel
	Nights             string // path
	Times              []dayTick
	Drives             []driveRow
	Lanes              []lane
	Quiet              bool // no alarm in this time
	Cut                bool // so many alarms that older ones are not drawn
	Cells              bool
	Cell               string // day, week or month
	HasNight           bool
	HasBand            bool
	HasInferred        bool
	HasUnknown         bool
	Moves, Lengths     []dayLink
	Happened           []happened
	Left               int // of them not listed
	Table              *dayTable
	Failed             int    // parts whose history could not be read
	From, To, Now      string // ms, for the script
	Began, Until       string // the same; Until 0: it ends now
	Live               bool   // it ends now
	Base               string // address without zoom and end
	Own                bool
	whole              Stretch
	cuts               []time.Time
}

// dayTick is a label of the time axis.
type dayTick struct {
	At     float64 // in units
	X      float64 // per cent
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
func (t dayTick) within(strip float64) (from, to float64) {
	x, room := t.At/acrossUnits*strip, wide(t.Text, timeSize)
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
func keepApart(ticks []dayTick) {
	free := func(t *dayTick, strip float64, others []*dayTick) bool {
		from, to := t.within(strip)
		return !slices.ContainsFunc(others, func(o *dayTick) bool {
			f, l := o.within(strip)
			return from < l+timeGap && f < to+timeGap
		})
	}
	var set []*dayTick
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

// dayOf draws one strip. What cannot be read is counted and left out.
func (s *Server) dayOf(ctx context.Context, w words, a dayAsk) dayView {
	now := s.watch.Now()
	d := &dayDrawing{s: s, w: w, ask: a, now: now, end: now}
	if !a.until.IsZero() {
		d.end = a.until
	}
	v := &d.view
	began, err := s.options.Course.Began(ctx)
	d.failed(err, "where the history begins")
	v.whole, v.cuts = w.stretch(a.zoom, d.end, began)
	v.ID, v.House, v.Own, v.Cells, v.Zoom = anchor("day", string(a.house.ID)), a.house.Name, a.own, v.cuts != nil, a.zoom.Key
	v.Cell = cellWord(v.cuts)
	v.Title = w.stretchWords(v.whole, v.Cells)
	v.From, v.To, v.Now, v.Began = dataMillis(v.whole.From), dataMillis(v.whole.To), dataMillis(now), dataMillis(began)
	v.Live, v.Until = a.until.IsZero(), "0"
	if !v.Live {
		v.Until = dataMillis(a.until)
	}
	v.Base = strings.TrimSuffix(a.address(zoom{}, time.Time{}), "&zoom=")
	d.read(ctx)
	d.drawPanels(ctx)
	d.drawWorks()
	d.drawTold()
	d.drawTimes()
	v.Moves, v.Lengths = a.links(v.whole, began, now, w)
	d.sum()
	return *v
}

// dayDrawing is the work on one strip.
type dayDrawing struct {
	s    *Server
	w    words
	ask  dayAsk
	now  time.Time
	end  time.Time
	y    float64 // px, down to which it is drawn
	held []alarms.Held
	view dayView

	reading           sync.WaitGroup // of what follows, while the panels are drawn
	runs              []DriveRuns
	cells             []DriveCells
	told              []alarms.Transition
	errWorks, errTold error
}

// read begins to read what is drawn beneath the panels.
func (d *dayDrawing) read(ctx context.Context) {
	course, h, whole, cuts := d.s.options.Course, d.ask.house.ID, d.view.whole, d.view.cuts
	d.reading.Go(func() {
		if cuts != nil {
			d.cells, d.errWorks = course.RunCells(ctx, h, cuts)
			return
		}
		d.runs, d.errWorks = course.Runs(ctx, h, whole.From, whole.To)
	})
	d.reading.Go(func() { d.told, d.errTold = course.Told(ctx, h, whole.From.Add(-toldBefore), whole.To, mostTold) })
}

func (d *dayDrawing) failed(err error, what string) bool {
	if err == nil {
		return false
	}
	d.s.log.Error().Err(err).Str("house", string(d.ask.house.ID)).Str("what", what).Msg("the page cannot read a part of the history")
	d.view.Failed++
	return true
}

// shownPlaces are the places asked for, or the main one.
func (d *dayDrawing) shownPlaces() (out []alarms.PlacePicture) {
	wanted := d.ask.places
	if len(wanted) == 0 {
		wanted = []alarms.PlaceID{d.s.options.Course.MainPlace(d.ask.house.ID)}
	}
	for _, p := range d.ask.house.Places {
		for _, id := range wanted {
			if p.ID == id {
				out = append(out, p)
			}
		}
	}
	return out
}

// shownOf are the quantities of a place that are drawn, temperature and
// humidity first; on the front page, or where no place was asked for, those
// two alone if there are any.
func (d *dayDrawing) shownOf(p alarms.PlacePicture) (out []alarms.Quantity) {
	var rest []alarms.Quantity
	for _, pt := range p.Points {
		switch pt.Quantity {
		case alarms.Temperature, alarms.Humidity:
			out = append(out, pt.Quantity)
		case alarms.Battery, alarms.Signal:
		default:
			rest = append(rest, pt.Quantity)
		}
	}
	if len(out) > 0 && len(d.ask.places) == 0 {
		return out
	}
	return append(out, rest...)
}

func (d *dayDrawing) drawPanels(ctx context.Context) {
	v, course := &d.view, d.s.options.Course
	var err error
	d.held, err = course.Held(ctx, d.ask.house.ID, v.whole.From, v.whole.To)
	d.failed(err, "days, nights and seasons")
	for _, p := range d.shownPlaces() {
		if v.Place != "" {
			v.Place += ", "
		}
		v.Place += p.Name
		for _, q := range d.shownOf(p) {
			d.drawPanel(ctx, p, q)
		}
	}
	v.PlotBottom = d.y
	if v.Cells {
		return
	}
	for _, n := range nights(d.held) {
		v.HasNight = true
		v.Nights += boxPath(v.whole.across(n.From), 0, v.whole.across(n.To), d.y)
	}
}

// nights joins what held by night, however often the season changed in it.
func nights(held []alarms.Held) (out []Stretch) {
	for _, h := range held {
		if h.Daypart != alarms.Night {
			continue
		}
		if n := len(out); n > 0 && out[n-1].To.Equal(h.From) {
			out[n-1].To = h.To
			continue
		}
		out = append(out, Stretch{h.From, h.To})
	}
	return out
}

func (d *dayDrawing) drawPanel(ctx context.Context, p alarms.PlacePicture, q alarms.Quantity) {
	v := &d.view
	points, err := d.points(ctx, p.ID, q)
	if d.failed(err, string(p.ID)+" "+string(q)) {
		return
	}
	tall, less := ownTall, ownLess
	if !d.ask.own {
		tall, less = frontTall, frontLess
	}
	if q != alarms.Temperature {
		tall = less
	}
	c := d.w.panelOf(panelAsk{place: p.Name, quantity: q, whole: v.whole, cuts: v.cuts, y: d.y, tall: tall,
		bands: d.s.options.Course.Bands(d.ask.house.ID, p.ID, q, d.held)}, points)
	c.ID = anchor(v.ID, string(p.ID), string(q))
	v.HasBand = v.HasBand || c.Band != ""
	v.Panels = append(v.Panels, c)
	d.y = c.Bottom + panelGap
}

func (d *dayDrawing) points(ctx context.Context, p alarms.PlaceID, q alarms.Quantity) ([]Point, error) {
	v := &d.view
	if v.Cells {
		return d.s.options.Course.Cells(ctx, d.ask.house.ID, p, q, v.cuts)
	}
	return d.s.watch.History(ctx, d.ask.house.ID, p, q, v.whole.From, v.whole.To, d.ask.zoom.points)
}

func (d *dayDrawing) drawWorks() {
	d.reading.Wait()
	v := &d.view
	d.failed(d.errWorks, "the drives")
	add := func(r driveRow, bar float64) {
		v.Drives = append(v.Drives, r)
		v.HasUnknown, v.HasInferred = v.HasUnknown || r.hasUnknown, v.HasInferred || r.Inferred != ""
		d.y += rowHead + bar + rowGap
	}
	for _, one := range d.cells {
		add(d.w.cellRow(one, v.cuts, v.whole, d.y), cellBar)
	}
	for _, one := range d.runs {
		add(d.w.driveRow(one, v.whole, d.now, d.y), rowBar)
	}
}

func (d *dayDrawing) drawTold() {
	v := &d.view
	if d.failed(d.errTold, "the alarms") {
		return
	}
	spans, acks := alarmSpans(d.told, v.whole, d.now)
	v.Lanes, d.y = d.w.lanes(spans, acks, v.whole, d.y)
	v.Happened, v.Left = d.w.list(spans, acks, d.ask, v.whole, d.now)
	v.Quiet, v.Cut = len(spans) == 0, len(d.told) == mostTold
}

func (d *dayDrawing) drawTimes() {
	v := &d.view
	for _, m := range d.w.timeMarks(v.whole.From, v.whole.To) {
		x := v.whole.across(m.at)
		v.Times = append(v.Times, dayTick{At: round1(x), X: round1(x / 10), Text: m.text, Minor: m.minor})
	}
	keepApart(v.Times)
	v.Height = d.y + axisRoom
}

// AxisY is the line of the time axis's labels, for the template.
func (v dayView) AxisY() float64 { return v.Height - 5 }
