package draw

import (
	"time"

	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// Heights of the rows beneath the panels, px: a line of words and a bar.
const (
	rowHead = 15.0
	rowBar  = 11.0
	cellBar = 18.0 // of a row of days
	rowGap  = 5.0
)

// DriveRow is what one drive did, drawn as bars.
type DriveRow struct {
	Name, Text         string
	LabelY             float64
	Standing           string // path of the line where it is known to stand
	Running, Inferred  string // paths
	Ragged             string // path of ends that were not seen
	Y                  float64
	HasUnknown, hasAny bool
}

// DriveRows draws drives beneath each other from y on, and returns where they end.
func DriveRows(w words.Words, all []service.DriveRuns, whole report.Span, now time.Time, y float64) (rows []DriveRow, end float64) {
	for _, d := range all {
		rows = append(rows, driveRowOf(w, d, whole, now, y))
		y += rowHead + rowBar + rowGap
	}
	return rows, y
}

// driveRowOf draws one drive of which each run is known.
func driveRowOf(w words.Words, d service.DriveRuns, whole report.Span, now time.Time, y float64) DriveRow {
	top := y + rowHead
	r := DriveRow{Name: words.Capital(d.Name), LabelY: y + 11, Y: top}
	line := top + rowBar/2
	for _, known := range (report.Span{From: whole.From, To: service.Earlier(whole.To, now)}).Without(d.Unknown) {
		r.Standing += "M" + pathPoint(across(whole, known.From), line) + "H" + short(across(whole, known.To))
	}
	var ran time.Duration
	starts := 0
	inferred := d.Inferred
	for _, run := range d.Runs {
		s := report.Span{From: service.Later(run.From, whole.From), To: service.Earlier(run.To, whole.To)}
		if !s.From.Before(s.To) {
			continue
		}
		ran += s.To.Sub(s.From)
		if !run.FromUnseen && !run.From.Before(whole.From) {
			starts++
		}
		inferred = inferred || run.Inferred
		r.draw(run, across(whole, s.From), across(whole, s.To), top)
	}
	r.hasAny = len(d.Runs) > 0
	r.Text = droveWords(w, d.DriveName, ran, starts, inferred)
	for _, u := range d.Unknown {
		r.HasUnknown = true
		r.Text += " " + w.Say("Not known from %s to %s.", w.Clock(service.Later(u.From, whole.From), whole.To), w.Clock(service.Earlier(u.To, whole.To), whole.To))
	}
	return r
}

// draw draws one run; an end that was not seen is ragged.
func (r *DriveRow) draw(run service.Ran, x0, x1, top float64) {
	x1 = max(x1, x0+1.2) // a short run is seen too
	if run.Inferred {
		r.Inferred += boxPath(x0, top, x1, top+rowBar)
	} else {
		r.Running += boxPath(x0, top, x1, top+rowBar)
	}
	if run.FromUnseen {
		r.Ragged += "M" + pathPoint(x0, top-2) + "v" + short(rowBar+4)
	}
	if run.ToUnseen {
		r.Ragged += "M" + pathPoint(x1, top-2) + "v" + short(rowBar+4)
	}
}

// drove says what a drive did.
type drove struct{ never, long, once, often tongue.Text }

// droveWords says how long a drive ran.
func droveWords(w words.Words, d service.DriveName, ran time.Duration, starts int, inferred bool) string {
	said := drove{"%s was not seen to run.", "%s ran %s in all.", "%s ran %s in all, started once.", "%s ran %s in all, started %s times."}
	if d.Opens {
		said = drove{"%s was not seen to open.", "%s was open %s in all.", "%s was open %s in all, opened once.", "%s was open %s in all, opened %s times."}
	}
	name, long := words.Capital(d.Name), w.Core.Span(ran.Round(time.Minute))
	var text string
	switch {
	case ran <= 0:
		text = w.Say(said.never, name)
	case starts == 0:
		text = w.Say(said.long, name, long)
	case starts == 1:
		text = w.Say(said.once, name, long)
	default:
		text = w.Say(said.often, name, long, w.Number(float64(starts), 0))
	}
	if inferred {
		text += " " + w.Say("Inferred from temperatures alone.")
	}
	return text
}

// CellRows draws what drives did in cells like driveRows.
func CellRows(w words.Words, all []service.DriveCells, cuts []time.Time, whole report.Span, y float64) (rows []DriveRow, end float64) {
	for _, d := range all {
		rows = append(rows, cellRow(w, d, cuts, whole, y))
		y += rowHead + cellBar + rowGap
	}
	return rows, y
}

var unknownCells = map[tongue.Text]tongue.Text{"day": "Not known in %s of %s days.", "week": "Not known in %s of %s weeks.", "month": "Not known in %s of %s months."}

// cellRow draws one drive by how long it ran each day: a full bar is all day.
func cellRow(w words.Words, d service.DriveCells, cuts []time.Time, whole report.Span, y float64) DriveRow {
	top := y + rowHead
	r := DriveRow{Name: words.Capital(d.Name), LabelY: y + 11, Y: top}
	var ran time.Duration
	starts, unknown := 0, 0
	inferred := d.Inferred
	for i, c := range d.Cells {
		if i+1 >= len(cuts) {
			break
		}
		x0, x1 := across(whole, cuts[i]), across(whole, cuts[i+1])
		if !c.Known && c.Ran == 0 {
			unknown++
			continue
		}
		r.Standing += "M" + pathPoint(x0, top+cellBar) + "H" + short(x1)
		ran, starts = ran+c.Ran, starts+c.Starts
		tall := cellBar * min(1, float64(c.Ran)/float64(cuts[i+1].Sub(cuts[i])))
		if tall == 0 {
			continue
		}
		r.hasAny = true
		path := boxPath(x0, top+cellBar-max(tall, 1), x1, top+cellBar)
		if c.Inferred > c.Ran/2 {
			inferred = true
			r.Inferred += path
		} else {
			r.Running += path
		}
	}
	r.Text = droveWords(w, d.DriveName, ran, starts, inferred)
	if unknown > 0 {
		r.HasUnknown = true
		r.Text += " " + w.Say(unknownCells[CellWord(cuts)], w.Number(float64(unknown), 0), w.Number(float64(len(d.Cells)), 0))
	}
	return r
}
