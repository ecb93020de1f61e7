package reports

import (
	"cmp"
	"fmt"
	"slices"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/words"
)

// View is a report in words.
type View struct {
	Garden, House, Span, Of, Made string
	Lines                         []string // at a glance
	Charts                        []reportChart
	Sections                      []reportSection
}

// reportSection is one matter with its tables.
type reportSection struct {
	ID, Title string
	Lines     []string
	Tables    []reportTable
	After     []string
}

// reportTable has a head and rows of as many cells; the first of a row names it.
type reportTable struct {
	Caption string
	Head    []string
	Rows    [][]string
	Text    bool // cells are sentences, not numbers
}

var reportTitles = map[string]string{"day": "A day", "week": "A week", "season": "A season", "span": "Some days"}

// ViewOf writes r in words.
func ViewOf(w words.Words, r report.Report, o Heading) View {
	rw := reportWords{w, r}
	v := View{Garden: o.Garden, House: r.Name, Span: rw.spanWords(r.Span), Of: cmp.Or(reportTitles[o.Kind], "A report"),
		Made: "Made by Telltale on " + w.Stamp(r.Made, "Mon 2 January 2006 15:04 MST")}
	if o.Kind == "season" && o.Season != "" {
		v.Of = "The season “" + string(o.Season) + "”"
	}
	v.Lines = rw.glance()
	v.Charts = rw.charts()
	for _, s := range []reportSection{rw.climate(), rw.growing(), rw.unseen(), rw.exposed(), rw.drives(), rw.loop(),
		rw.load(), rw.told(), rw.acts()} {
		if s.ID != "" {
			v.Sections = append(v.Sections, s)
		}
	}
	return v
}

// glance says the most important in a few sentences.
func (w reportWords) glance() (out []string) {
	if w.r.Counted.To.Before(w.r.To) {
		out = append(out, "It is not over yet: all that follows is up to "+w.when(w.r.Counted.To)+".")
	}
	out = append(out, w.seasons())
	for _, m := range w.r.Measures {
		if m.Quantity == alarms.Temperature && m.Banded && m.Known > 0 {
			out = append(out, w.measured(m))
		}
	}
	l := w.r.Load
	asked := countOf(l.Alarms, "alarm") + " asked for somebody"
	if l.Alarms > 0 {
		asked += ", " + w.Number(l.PerDay, 1) + " a day on average"
	}
	out = append(out, asked+".")
	if w.r.Cut {
		out = append(out, "The log of this time is longer than what a report reads: the oldest of it is missing below.")
	}
	return out
}

func (w reportWords) seasons() string {
	text := "The season was " + string(w.r.Seasons[0].Season)
	for _, s := range w.r.Seasons[1:] {
		text += ", then " + string(s.Season) + " from " + w.when(s.From)
	}
	return text + "."
}

func (w reportWords) measured(m report.Measure) string {
	text := fmt.Sprintf("%s: %s from %s to %s, ", w.place(m.Place), w.Core.Word(m.Quantity), w.Value(m.Quantity, m.Lowest.Value), w.Value(m.Quantity, m.Highest.Value))
	if b := m.Beyond; b.Any > 0 {
		text += w.hours(b.Any) + " beyond its limits"
	} else {
		text += "never beyond its limits"
	}
	if m.Blind > 0 {
		text += "; for " + w.hours(m.Blind) + " nothing is known"
	}
	return text + "."
}

func countOf(n int, what string) string {
	switch n {
	case 0:
		return "No " + what
	case 1:
		return "One " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// climate are the extremes, means and hours beyond limits.
func (w reportWords) climate() reportSection {
	s := reportSection{ID: "climate", Title: "Climate"}
	values := reportTable{Caption: "Lowest, mean and highest", Head: []string{"Place", "Lowest", "When", "Mean", "Highest", "When"}}
	hours := reportTable{Caption: "Time beyond the limits in force", Head: []string{"Place", "Below low-low", "Below low", "Above high", "Above high-high", "Beyond any", "Not known"}}
	coarse := false
	for _, m := range w.r.Measures {
		name := w.place(m.Place) + ", " + w.Core.Word(m.Quantity)
		if m.Known == 0 {
			values.Rows = append(values.Rows, []string{name, "not known", "–", "–", "not known", "–"})
		} else {
			q := m.Quantity
			values.Rows = append(values.Rows, []string{name, w.Value(q, m.Lowest.Value), w.extreme(m.Lowest), w.Value(q, m.Mean),
				w.Value(q, m.Highest.Value), w.extreme(m.Highest)})
		}
		coarse = coarse || m.Coarse > 0
		if m.Banded {
			hours.Rows = append(hours.Rows, w.hoursRow(name, m))
		}
	}
	s.Tables = append(s.Tables, values)
	if len(hours.Rows) > 0 {
		s.Tables = append(s.Tables, hours)
	}
	s.After = append(s.After, "Limits are those of the season and of day or night at the time. What is below low-low counts as below low too, and so above. "+
		"A reading holds until the next, at most as long as its probe may be silent; after that nothing is known.")
	if coarse {
		s.After = append(s.After, "Some of it rests on values of 10 minutes: where a limit lies between the lowest and the highest of one, the time beyond is estimated.")
	}
	if len(values.Rows) == 0 {
		s.Tables, s.After = nil, []string{"This house has no probe of its climate."}
	}
	return s
}

func (w reportWords) hoursRow(name string, m report.Measure) []string {
	var set alarms.Limits
	for _, b := range m.Bands {
		set.LowLow.Set, set.Low.Set = set.LowLow.Set || b.LowLow.Set, set.Low.Set || b.Low.Set
		set.High.Set, set.HighHigh.Set = set.High.Set || b.High.Set, set.HighHigh.Set || b.HighHigh.Set
	}
	cell := func(l alarms.Limit, text string) string {
		if !l.Set {
			return "no limit"
		}
		return text
	}
	b := m.Beyond
	return []string{name, cell(set.LowLow, w.hours(b.LowLow)), cell(set.Low, w.hours(b.Low)), cell(set.High, w.hours(b.High)),
		cell(set.HighHigh, w.hours(b.HighHigh)), w.hours(b.Any), w.hours(m.Blind)}
}

func (w reportWords) growing() reportSection {
	t := reportTable{Caption: "Warmth above " + w.Value(alarms.Temperature, report.GrowingBase), Head: []string{"Place", "Degree-hours", "Degree-days", "Days counted", "Days left out"}}
	banded := slices.ContainsFunc(w.r.Measures, func(m report.Measure) bool { return m.Heat != nil && m.Banded })
	for _, m := range w.r.Measures {
		if h := m.Heat; h != nil && m.Known > 0 && m.Banded == banded { // where something grows, if that is known
			unit := words.NoBreak + "K" + words.NoBreak
			days := "–"
			if h.Days > 0 {
				days = w.Number(w.kelvins(h.DegreeDays), 1) + w.degreeUnit(unit, "d")
			}
			t.Rows = append(t.Rows, []string{w.place(m.Place), w.Number(w.kelvins(h.DegreeHours), 0) + w.degreeUnit(unit, "h"),
				days, fmt.Sprint(h.Days), fmt.Sprint(h.LeftOut)})
		}
	}
	if len(t.Rows) == 0 {
		return reportSection{}
	}
	return reportSection{ID: "growing", Title: "Growing degrees", Tables: []reportTable{t}, After: []string{
		"Degree-days by the mean method: half of the day's lowest and highest together, less the base, never below nought. Whole days alone count; one of which less than nine tenths is known is left out."}}
}

// kelvins is a sum of differences in the unit shown.
func (w reportWords) kelvins(v float64) float64 { return w.ShownDifference(alarms.Temperature, v) }

func (w reportWords) degreeUnit(kelvin, of string) string {
	if w.Fahrenheit {
		return words.NoBreak + "°F" + words.NoBreak + of
	}
	return kelvin + of
}

// unseen is what the watch could not see.
func (w reportWords) unseen() reportSection {
	s := reportSection{ID: "unseen", Title: "What was not seen"}
	t := reportTable{Caption: "By the log", Head: []string{"What", "Times", "Lasted", "Longest", "From"}}
	for _, b := range w.r.Blind {
		t.Rows = append(t.Rows, []string{w.what(alarms.Transition{Alarm: b.Alarm, Reason: b.Reason}), fmt.Sprint(b.Times), w.hours(b.Lasted), w.hours(b.Worst.Len()), w.when(b.Worst.From)})
	}
	if len(t.Rows) == 0 {
		s.Lines = []string{"The watch was never blind by its log: no probe, place or broker was lost for long enough to be said."}
		return s
	}
	s.Tables = []reportTable{t}
	s.After = []string{"Lines overlap where one loss explains another. How long nothing was known of a place stands under Climate."}
	return s
}

// mostExposed is how many exposures the page lists.
const mostExposed = 30

func (w reportWords) exposed() reportSection {
	if len(w.r.Exposed) == 0 {
		return reportSection{}
	}
	t := reportTable{Caption: "Reached", Head: []string{"Place", "When", "What it does", "Beyond for", "Degree-hours", "Does harm at"}, Text: true}
	all, lines := w.r.Exposed, []string(nil)
	if left := len(all) - mostExposed; left > 0 {
		all = all[left:]
		lines = []string{fmt.Sprintf("The last %d; %d before them are left out here and stand in the table for programs.", mostExposed, left)}
	}
	for _, x := range all {
		hours, harm := "–", w.hours(x.ExposureReason.Limit)
		if x.LimitDegreeHours > 0 {
			hours = w.Number(w.kelvins(x.DegreeHours), 0) + w.degreeUnit(words.NoBreak+"K"+words.NoBreak, "h")
			harm = w.Number(w.kelvins(x.LimitDegreeHours), 0) + w.degreeUnit(words.NoBreak+"K"+words.NoBreak, "h")
		}
		t.Rows = append(t.Rows, []string{w.place(x.Place), w.when(x.At), x.Says, w.hours(x.Time), hours, harm})
	}
	return reportSection{ID: "exposures", Title: "Exposures", Lines: lines, Tables: []reportTable{t}}
}

func (w reportWords) drives() reportSection {
	if len(w.r.Drives) == 0 {
		return reportSection{}
	}
	t := reportTable{Caption: "Switchings", Head: []string{"Drive", "Starts", "Ran", "Longest run", "As it should", "Called in vain"}}
	s := reportSection{ID: "drives", Title: "Drives"}
	for _, d := range w.r.Drives {
		longest := "–"
		if d.Longest.Len() > 0 {
			longest = w.hours(d.Longest.Len()) + ", from " + w.when(d.Longest.From)
		}
		ran := w.hours(d.Ran)
		if d.Inferred > 0 {
			ran += " (" + w.hours(d.Inferred) + " inferred)"
		}
		t.Rows = append(t.Rows, []string{cmp.Or(d.Name, string(d.ID)), fmt.Sprint(d.Starts), ran, longest, fmt.Sprint(d.Right), fmt.Sprint(d.Missed)})
		if d.Open {
			s.After = append(s.After, cmp.Or(d.Name, string(d.ID))+" still runs; its run so far is counted.")
		}
		if d.Unseen > 0 {
			s.After = append(s.After, fmt.Sprintf("%s: it ran %s with one end not seen; that counts as far as it was heard to run.", cmp.Or(d.Name, string(d.ID)), words.Times(d.Unseen)))
		}
		for _, x := range d.Verdicts {
			s.After = append(s.After, fmt.Sprintf("%s, %s; last: %s", w.what(x.Last), words.Times(x.Times), w.Said(x.Last)))
		}
	}
	s.Tables = []reportTable{t}
	return s
}

func (w reportWords) loop() reportSection {
	l := w.r.Loop
	if l == nil {
		return reportSection{}
	}
	t := reportTable{Caption: "Brought by the ground", Head: []string{"Over", "Heat in", "Heat taken out", "Fan used", "Air moved for"}}
	t.Rows = append(t.Rows, []string{"All pipes", w.KWh(l.Heat), w.KWh(l.Cold), w.KWh(l.Fan), w.hours(l.Run)})
	for _, p := range l.Pipes {
		t.Rows = append(t.Rows, []string{"Pipe at " + w.Depth(p.Depth), w.KWh(p.Heat), w.KWh(p.Cold), "–", w.hours(p.Run)})
	}
	return reportSection{ID: "loop", Title: "Ground loop", Tables: []reportTable{t},
		After: []string{fmt.Sprintf("Sums over %d whole days on which the loop ran, as the log has them.%s", l.Days, w.Core.Moisture(l.LoopEnergy))}}
}

// Heading says how a report is headed.
type Heading struct {
	Garden string
	Kind   string // day, week, season or span
	Season alarms.Season
}
