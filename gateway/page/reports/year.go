package reports

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

// YearView is a year on one sheet, to show to others: it holds no name that anybody
// gave, and nothing of where it is.
type YearView struct {
	Title  string
	Made   string
	Lines  []string
	Tables []reportTable
	Charts []yearChart
	After  []string
}

// mostDepths is how many depths have room on the sheet, and mostBlank how many
// stretches without readings.
const (
	mostDepths = 4
	mostBlank  = 6
)

// yearWords writes a year.
type yearWords struct {
	reportWords
	y     report.Year
	blank []report.Span // without readings
	bare  int           // days of that
}

// YearOf writes y in words.
func YearOf(w words.Words, y report.Year) YearView {
	yw := yearWords{reportWords: reportWords{w, report.Report{Span: y.Span}}, y: y}
	yw.blank, yw.bare = y.Blank(w.Zone)
	v := YearView{Title: w.Say("A greenhouse in the year %s", y.From.In(w.Zone).Format("2006")), Made: w.Say("Written by Telltale on %s", w.Stamp(y.Made, "2 January 2006"))}
	v.Lines = append(append(v.Lines, yw.covered()...), yw.extremes()...)
	v.Tables = append(v.Tables, yw.climate())
	if len(y.Depths) > 0 {
		v.Tables = append(v.Tables, yw.byMonth(), yw.coldest())
		v.Charts = yw.charts()
	}
	v.After = yw.after()
	return v
}

// date is a day of the year.
func (w yearWords) date(t time.Time) string { return w.Stamp(t, "2 January") }

// dayOf is a day of the year by its number, 1 to 366.
func (w yearWords) dayOf(n float64) string {
	y, m, d := w.y.From.In(w.Zone).Date()
	return w.date(time.Date(y, m, d+int(n)-1, 12, 0, 0, 0, w.Zone))
}

// covered says how much of the year is known, and what is missing.
func (w yearWords) covered() (out []string) {
	over, whole := len(report.Days(w.y.Counted, w.Zone)), len(report.Days(w.y.Span, w.Zone))
	if over < whole {
		out = append(out, w.Say("The year is not over: this is what was until %s, %d of its %d days.", w.date(w.y.Counted.To), over, whole))
	}
	switch {
	case w.y.Warmth == nil:
		return append(out, w.Say("Nothing measures how warm the house is."))
	case w.bare == over:
		return append(out, w.Say("There is no reading of any day."))
	case w.bare == 0:
		out = append(out, w.Say("There are readings of every day."))
	default:
		out = append(out, w.Say("There are readings of %d of %d days. None are of: %s.", over-w.bare, over, w.stretches(w.blank)))
	}
	part := w.y.Warmth.Blind
	for _, b := range w.blank {
		part -= b.Within(w.y.Counted).Len()
	}
	if part >= time.Hour {
		out = append(out, w.Say("Of the days with readings nothing is known for %s.", w.hours(part)))
	}
	return out
}

// stretches lists some of all, the first before the others.
func (w yearWords) stretches(all []report.Span) string {
	var out []string
	for i, s := range all {
		if i == mostBlank {
			days := 0
			for _, left := range all[i:] {
				days += len(report.Days(left, w.Zone))
			}
			out = append(out, w.Say("and %d days later in the year", days))
			break
		}
		last := s.To.Add(-time.Second)
		if words.SameDay(s.From.In(w.Zone), last.In(w.Zone)) {
			out = append(out, w.date(s.From))
			continue
		}
		out = append(out, w.Say("%s to %s", w.date(s.From), w.date(last)))
	}
	return strings.Join(out, ", ")
}

var feltWords = map[report.Felt]tongue.Text{
	report.FeltAtLoop:       "The climate is that of the air that goes into the pipes.",
	report.FeltAtThermostat: "The climate is that at the thermostat.",
	report.FeltAtLimit:      "The climate is that of a place whose temperature has limits.",
	report.FeltAtFirst:      "The climate is that at one thermometer in the house.",
}

// extremes are the coldest and the hottest of the year.
func (w yearWords) extremes() []string {
	m := w.y.Warmth
	if m == nil || m.Known == 0 {
		return nil
	}
	return []string{
		w.Say("Coldest %s on %s, hottest %s on %s, in the mean of all that is known %s.", w.Value(m.Quantity, m.Lowest.Value), w.date(m.Lowest.At),
			w.Value(m.Quantity, m.Highest.Value), w.date(m.Highest.At), w.Value(m.Quantity, m.Mean)),
		w.Say(feltWords[w.y.Felt])}
}

// number is v without its unit.
func (w yearWords) number(q alarms.Quantity, v float64) string {
	n, _ := w.Parts(q, v)
	return n
}

func (w yearWords) unit() string { return strings.Trim(w.Unit(alarms.Temperature), words.NoBreak) }

var fanWords = map[alarms.DriveKind]tongue.Text{
	alarms.ExhaustFan: "Exhaust fan, hours", alarms.LoopFan: "Loop fan, hours", alarms.CirculatingFan: "Circulating fan, hours"}

// none stands where nothing is known.
const none = "–"

// climate is warmth, moisture and what the fans ran, by month.
func (w yearWords) climate() reportTable {
	t := reportTable{Caption: w.Say("The house by month"), Head: []string{w.Say("Month"), w.Say("Coldest, %s", w.unit()), w.Say("Mean, %s", w.unit()), w.Say("Hottest, %s", w.unit()), w.Say("Humidity, %")}}
	for _, f := range w.y.Fans {
		t.Head = append(t.Head, w.Say(fanWords[f.Kind]))
	}
	t.Head = append(t.Head, w.Say("Days without readings"))
	for i, month := range report.Months(w.y.Span, w.Zone) {
		t.Rows = append(t.Rows, w.climateRow(i, month))
	}
	if w.y.Warmth != nil {
		t.Rows = append(t.Rows, w.yearRow())
	}
	return t
}

func (w yearWords) climateRow(i int, month report.Span) []string {
	row := []string{w.Tongue.Month(month.From.In(w.Zone).Month()), none, none, none, none}
	if m := w.y.Warmth; m != nil && m.Cells[i].Known > 0 {
		c := m.Cells[i]
		row[1], row[2], row[3] = w.number(m.Quantity, c.Min), w.number(m.Quantity, c.Mean), w.number(m.Quantity, c.Max)
	}
	if m := w.y.Moisture; m != nil && m.Cells[i].Known > 0 {
		row[4] = w.number(m.Quantity, m.Cells[i].Mean)
	}
	for _, f := range w.y.Fans {
		ran := none
		if f.Months[i].Known {
			ran = w.Number(f.Months[i].Ran.Hours(), 0)
		}
		row = append(row, ran)
	}
	if !month.From.Before(w.y.Counted.To) { // it is to come
		return append(row, none)
	}
	days := 0
	for _, b := range w.blank {
		days += len(report.Days(b.Within(month), w.Zone))
	}
	return append(row, fmt.Sprint(days))
}

func (w yearWords) yearRow() []string {
	row := []string{w.Say("The year"), none, none, none, none}
	if m := w.y.Warmth; m.Known > 0 {
		row[1], row[2], row[3] = w.number(m.Quantity, m.Min), w.number(m.Quantity, m.Mean), w.number(m.Quantity, m.Max)
	}
	if m := w.y.Moisture; m != nil && m.Known > 0 {
		row[4] = w.number(m.Quantity, m.Mean)
	}
	for _, f := range w.y.Fans {
		row = append(row, w.Number(f.Ran.Hours(), 0))
	}
	return append(row, fmt.Sprint(w.bare))
}

// shown are the depths that have room.
func (w yearWords) shown() []report.YearDepth { return w.y.Depths[:min(mostDepths, len(w.y.Depths))] }

// byMonth is the air at the outlets beside the undisturbed ground.
func (w yearWords) byMonth() reportTable {
	t := reportTable{Caption: w.Say("Air from the pipes, while it moved, beside the undisturbed ground at their depth, %s", w.unit()), Head: []string{w.Say("Month")}}
	for _, d := range w.shown() {
		t.Head = append(t.Head, w.Say("%s, air", w.Depth(d.Depth)), w.Say("ground"))
	}
	for i, month := range report.Months(w.y.Span, w.Zone) {
		row := []string{w.Tongue.Month(month.From.In(w.Zone).Month())}
		for _, d := range w.shown() {
			air, soil := none, none
			if m := d.Months[i]; m.Outlet.Known > 0 {
				air = w.number(alarms.Temperature, m.Outlet.Mean)
			}
			if c := d.Months[i].Ground; c != nil {
				soil = w.number(alarms.Temperature, *c)
			}
			row = append(row, air, soil)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

// coldest is the day on which each depth is coldest.
func (w yearWords) coldest() reportTable {
	t := reportTable{Caption: w.Say("The coldest day at each depth"), Head: w.each("Depth", "Undisturbed ground", "Days behind the surface", "Air from the pipe", "Days with air moving")}
	for _, d := range w.shown() {
		row := []string{w.Depth(d.Depth), w.Say("not known"), none, w.Say("too little of the year"), ""}
		if d.Ground != nil {
			row[1], row[2] = w.dayOf(*d.Ground), w.Number(*d.Lag, 0)
		}
		if d.Wave != nil {
			row[3] = w.dayOf(d.Wave.Coldest)
		}
		n := 0
		for _, day := range d.Days {
			if day.Known > 0 {
				n++
			}
		}
		row[4] = fmt.Sprint(n)
		t.Rows = append(t.Rows, row)
	}
	return t
}

// after says how to read it all.
func (w yearWords) after() (out []string) {
	for _, f := range w.y.Fans {
		if f.Inferred >= time.Hour {
			out = append(out, w.Say("%s: %s of them are inferred from temperatures.", w.Say(fanWords[f.Kind]), w.hours(f.Inferred)))
		}
	}
	if len(w.y.Depths) == 0 {
		return out
	}
	if left := len(w.y.Depths) - mostDepths; left > 0 {
		out = append(out, w.Say("%d deeper pipes have no room here.", left))
	}
	if s := w.y.Soil; s != nil {
		out = append(out, w.Say("The ground is that of the yearly wave in soil (Kusuda and Achenbach 1965): in the mean %s, at the surface %s either way, coldest there on %s; its diffusivity is %s m² a day. The ground of a month is that of the days whose air is known.",
			w.Value(alarms.Temperature, s.Mean), w.Difference(alarms.Temperature, s.Swing), w.dayOf(s.Coldest), w.Number(s.Diffusivity, 3)))
	} else {
		out = append(out, w.Say("Nobody has described the soil, so it is not known how warm it is undisturbed."))
	}
	out = append(out, w.Say("The coldest day of the air is that of a yearly wave through the means of its days."))
	if w.y.ByHand {
		out = append(out, w.Say("Pipes are shut, or the air is turned round, by hand: days of that are not told apart."))
	}
	return out
}
