package lookback

import (
	"context"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/draw"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// Heights of the plots, px.
const (
	frontTall, frontLess = 112.0, 76.0
	ownTall, ownLess     = 176.0, 112.0
	panelGap             = 8.0
	axisRoom             = 18.0
)

// Strip is one strip, ready for the template.
type Strip struct {
	ID, House, Place   string // Place: names of the places shown
	Zoom               string
	Title, Text        string
	Height, PlotBottom float64
	Panels             []draw.Panel
	Nights             string // path
	Times              []draw.TimeLabel
	Drives             []draw.DriveRow
	Lanes              []draw.Lane
	Quiet              bool // no alarm in this time
	Cut                bool // so many alarms that older ones are not drawn
	Cells              bool
	Cell               string // day, week or month
	HasNight           bool
	HasBand            bool
	HasInferred        bool
	HasUnknown         bool
	Moves, Lengths     []Link
	Happened           []happened
	Left               int // of them not listed
	Table              *dayTable
	Failed             int    // parts whose history could not be read
	From, To, Now      string // ms, for the script
	Began, Until       string // the same; Until 0: it ends now
	Live               bool   // it ends now
	Base               string // address without zoom and end
	Own                bool
	Zone, Hours        string  // of its clock times, for the script; 12 or 24 hours
	Share              float64 // of the width that the past takes, per cent
	TimesAhead         []draw.TimeLabel
	Ahead              []aheadWords // of the places shown
	HasCrossing        bool
	whole              report.Span
	cuts               []time.Time
}

// Strips draws strips of what the watch has kept.
type Strips struct {
	Watch  service.Watch
	Course service.Course
	Log    zerolog.Logger
}

// Draw draws one strip. What cannot be read is counted and left out.
func (s Strips) Draw(ctx context.Context, w words.Words, a Ask) Strip {
	now := s.Watch.Now()
	d := &dayDrawing{s: s, w: w, ask: a, now: now, end: now}
	if !a.until.IsZero() {
		d.end = a.until
	}
	v := &d.view
	began, err := s.Course.Began(ctx)
	d.failed(err, "where the history begins")
	v.whole, v.cuts = stretchOf(w, a.zoom, d.end, began)
	v.ID, v.House, v.Own, v.Cells, v.Zoom = words.Anchor("day", string(a.House.ID)), a.House.Name, a.own, v.cuts != nil, a.zoom.Key
	v.Cell = w.Say(draw.CellWord(v.cuts))
	v.Title = stretchWords(w, v.whole, v.Cells)
	v.From, v.To, v.Now, v.Began = dataMillis(v.whole.From), dataMillis(v.whole.To), dataMillis(now), dataMillis(began)
	v.Live, v.Until, v.Share = a.until.IsZero(), "0", 100
	if !v.Live {
		v.Until = dataMillis(a.until)
	}
	v.Zone, v.Hours = w.Zone.String(), "24"
	if w.Hours12 {
		v.Hours = "12"
	}
	v.Base = strings.TrimSuffix(a.address(zoom{}, time.Time{}), "&zoom=")
	d.read(ctx)
	d.drawPanels(ctx)
	d.drawDrives()
	d.drawTold()
	d.drawTimes()
	v.Moves, v.Lengths = a.links(v.whole, began, now, w)
	d.sum()
	return *v
}

// dayDrawing is the work on one strip.
type dayDrawing struct {
	s    Strips
	w    words.Words
	ask  Ask
	now  time.Time
	end  time.Time
	y    float64 // px, down to which it is drawn
	held []alarms.Held
	view Strip

	reading            sync.WaitGroup // of what follows, while the panels are drawn
	runs               []service.DriveRuns
	cells              []service.DriveCells
	told               []alarms.Transition
	errDrives, errTold error
}

// read begins to read what is drawn beneath the panels.
func (d *dayDrawing) read(ctx context.Context) {
	course, h, whole, cuts := d.s.Course, d.ask.House.ID, d.view.whole, d.view.cuts
	d.reading.Go(func() {
		if cuts != nil {
			d.cells, d.errDrives = course.RunCells(ctx, h, cuts)
			return
		}
		d.runs, d.errDrives = course.Runs(ctx, h, whole.From, whole.To)
	})
	d.reading.Go(func() { d.told, d.errTold = course.Told(ctx, h, whole.From.Add(-toldBefore), whole.To, mostTold) })
}

func (d *dayDrawing) failed(err error, what string) bool {
	if err == nil {
		return false
	}
	d.s.Log.Error().Err(err).Str("house", string(d.ask.House.ID)).Str("what", what).Msg("the page cannot read a part of the history")
	d.view.Failed++
	return true
}

// shownPlaces are the places asked for, or the main one.
func (d *dayDrawing) shownPlaces() (out []alarms.PlacePicture) {
	wanted := d.ask.Places
	if len(wanted) == 0 {
		wanted = []alarms.PlaceID{d.s.Course.MainPlace(d.ask.House.ID)}
	}
	for _, p := range d.ask.House.Places {
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
		switch q := pt.Quantity; {
		case q == alarms.Temperature, q == alarms.Humidity:
			out = append(out, q)
		case q.Facts().Of != alarms.OfProbe:
			rest = append(rest, pt.Quantity)
		}
	}
	if len(out) > 0 && len(d.ask.Places) == 0 {
		return out
	}
	return append(out, rest...)
}

func (d *dayDrawing) drawPanels(ctx context.Context) {
	v, course := &d.view, d.s.Course
	var err error
	d.held, err = course.Held(ctx, d.ask.House.ID, v.whole.From, v.whole.To)
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
	v.Nights = draw.Nights(d.held, v.whole, d.y)
	v.HasNight = v.Nights != ""
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
	c := draw.PanelOf(d.w, draw.PanelAsk{Named: true, Place: p.Name, Quantity: q, Whole: v.whole, Cuts: v.cuts, Y: d.y, Tall: tall, Ahead: d.ahead(p, q),
		Bands: d.s.Course.Bands(d.ask.House.ID, p.ID, q, d.held)}, points)
	c.ID = words.Anchor(v.ID, string(p.ID), string(q))
	v.HasBand = v.HasBand || c.Band != ""
	v.tookAhead(&c)
	v.Panels = append(v.Panels, c)
	d.y = c.Bottom + panelGap
}

func (d *dayDrawing) points(ctx context.Context, p alarms.PlaceID, q alarms.Quantity) ([]service.Point, error) {
	v := &d.view
	if v.Cells {
		return d.s.Course.Cells(ctx, d.ask.House.ID, p, q, v.cuts)
	}
	return d.s.Watch.History(ctx, d.ask.House.ID, p, q, v.whole.From, v.whole.To, d.ask.zoom.points)
}

func (d *dayDrawing) drawDrives() {
	d.reading.Wait()
	v := &d.view
	d.failed(d.errDrives, "the drives")
	if v.Cells {
		v.Drives, d.y = draw.CellRows(d.w, d.cells, v.cuts, v.whole, d.y)
	} else {
		v.Drives, d.y = draw.DriveRows(d.w, d.runs, v.whole, d.now, d.y)
	}
	for _, r := range v.Drives {
		v.HasUnknown, v.HasInferred = v.HasUnknown || r.HasUnknown, v.HasInferred || r.Inferred != ""
	}
}

func (d *dayDrawing) drawTold() {
	v := &d.view
	if d.failed(d.errTold, "the alarms") {
		return
	}
	spans, acks := draw.AlarmSpans(d.told, v.whole, d.now)
	v.Lanes, d.y = draw.LanesOf(d.w, spans, acks, v.whole, d.y)
	v.Happened, v.Left = listHappened(d.w, spans, acks, d.ask, v.whole, d.now)
	v.Quiet, v.Cut = len(spans) == 0, len(d.told) == mostTold
}

func (d *dayDrawing) drawTimes() {
	if v := &d.view; v.Share < 100 {
		v.Times, v.TimesAhead = draw.TimeLabelsAhead(d.w, v.whole)
	} else {
		v.Times = draw.TimeLabels(d.w, v.whole)
	}
	d.view.Height = d.y + axisRoom
}

// PlotsEnd is down to where all but the axis reaches, for the template.
func (v Strip) PlotsEnd() float64 { return v.Height - axisRoom }

// AxisY is the line of the time axis's labels, for the template.
func (v Strip) AxisY() float64 { return v.Height - 5 }
