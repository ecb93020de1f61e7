package page

import (
	"time"
	"unicode"
	"unicode/utf8"

	"telltale/alarms"
)

// Heights of the rows beneath the panels, px: a line of words and a bar.
const (
	rowHead = 15.0
	rowBar  = 11.0
	cellBar = 18.0 // of a row of days
	rowGap  = 5.0
)

// driveRow is what one drive did, drawn as bars.
type driveRow struct {
	Name, Text         string
	LabelY             float64
	Standing           string // path of the line where it is known to stand
	Running, Inferred  string // paths
	Ragged             string // path of ends that were not seen
	Y                  float64
	hasUnknown, hasAny bool
}

// driveRow draws one drive of which each run is known.
func (w words) driveRow(d DriveRuns, whole Stretch, now time.Time, y float64) driveRow {
	top := y + rowHead
	r := driveRow{Name: asTitle(d.Name), LabelY: y + 11, Y: top}
	line := top + rowBar/2
	for _, known := range without(Stretch{whole.From, earlier(whole.To, now)}, d.Unknown) {
		r.Standing += "M" + pathPoint(whole.across(known.From), line) + "H" + short(whole.across(known.To))
	}
	var ran time.Duration
	starts := 0
	inferred := d.Inferred
	for _, run := range d.Runs {
		s := Stretch{later(run.From, whole.From), earlier(run.To, whole.To)}
		if !s.From.Before(s.To) {
			continue
		}
		ran += s.To.Sub(s.From)
		if !run.FromUnseen && !run.From.Before(whole.From) {
			starts++
		}
		inferred = inferred || run.Inferred
		r.draw(run, whole.across(s.From), whole.across(s.To), top)
	}
	r.hasAny = len(d.Runs) > 0
	r.Text = w.drove(d.DriveName, ran, starts, inferred)
	for _, u := range d.Unknown {
		r.hasUnknown = true
		r.Text += " Not known from " + w.clock(later(u.From, whole.From), whole.To) + " to " + w.clock(earlier(u.To, whole.To), whole.To) + "."
	}
	return r
}

// draw draws one run; an end that was not seen is ragged.
func (r *driveRow) draw(run Ran, x0, x1, top float64) {
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

// asTitle writes a name as the beginning of a line.
func asTitle(name string) string {
	first, size := utf8.DecodeRuneInString(name)
	return string(unicode.ToUpper(first)) + name[size:]
}

// drove says how long a drive ran.
func (w words) drove(d DriveName, ran time.Duration, starts int, inferred bool) string {
	run, did, started := "run", "ran", "started"
	if d.Opens {
		run, did, started = "open", "was open", "opened"
	}
	text := asTitle(d.Name) + " was not seen to " + run + "."
	if ran > 0 {
		text = asTitle(d.Name) + " " + did + " " + alarms.Span(ran.Round(time.Minute)) + " in all"
		switch starts {
		case 0:
		case 1:
			text += ", " + started + " once"
		default:
			text += ", " + started + " " + w.number(float64(starts), 0) + " times"
		}
		text += "."
	}
	if inferred {
		text += " Inferred from temperatures alone."
	}
	return text
}

// cellRow draws one drive by how long it ran each day: a full bar is all day.
func (w words) cellRow(d DriveCells, cuts []time.Time, whole Stretch, y float64) driveRow {
	top := y + rowHead
	r := driveRow{Name: asTitle(d.Name), LabelY: y + 11, Y: top}
	var ran time.Duration
	starts, unknown := 0, 0
	inferred := d.Inferred
	for i, c := range d.Cells {
		if i+1 >= len(cuts) {
			break
		}
		x0, x1 := whole.across(cuts[i]), whole.across(cuts[i+1])
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
	r.Text = w.drove(d.DriveName, ran, starts, inferred)
	if unknown > 0 {
		r.hasUnknown = true
		r.Text += " Not known in " + w.number(float64(unknown), 0) + " of " + w.number(float64(len(d.Cells)), 0) + " " + cellWord(cuts) + "s."
	}
	return r
}

// without returns what is left of whole after taking out the sorted stretches.
func without(whole Stretch, out []Stretch) (left []Stretch) {
	from := whole.From
	for _, o := range out {
		if o.From.After(from) {
			left = append(left, Stretch{from, earlier(o.From, whole.To)})
		}
		from = later(from, o.To)
	}
	if from.Before(whole.To) {
		left = append(left, Stretch{from, whole.To})
	}
	return left
}

func earlier(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func later(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
