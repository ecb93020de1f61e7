package reports

import (
	"cmp"
	"fmt"
	"slices"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
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

var reportTitles = map[string]tongue.Text{"day": "A day", "week": "A week", "season": "A season", "span": "Some days"}

// ViewOf writes r in words.
func ViewOf(w words.Words, r report.Report, o Heading) View {
	rw := reportWords{w, r}
	v := View{Garden: o.Garden, House: r.Name, Span: rw.spanWords(r.Span), Of: w.Say(cmp.Or(reportTitles[o.Kind], "A report")),
		Made: w.Say("Made by Telltale on %s", w.Stamp(r.Made, "Mon 2 January 2006 15:04 MST"))}
	if o.Kind == "season" && o.Season != "" {
		v.Of = w.Say("The season “%s”", w.Say(seasonWords[o.Season]))
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
		out = append(out, w.Say("It is not over yet: all that follows is up to %s.", w.when(w.r.Counted.To)))
	}
	out = append(out, w.seasons())
	for _, m := range w.r.Measures {
		if m.Quantity == alarms.Temperature && m.Banded && m.Known > 0 {
			out = append(out, w.measured(m))
		}
	}
	l := w.r.Load
	switch l.Alarms {
	case 0:
		out = append(out, w.Say("No alarm asked for somebody."))
	case 1:
		out = append(out, w.Say("One alarm asked for somebody, %s a day on average.", w.Number(l.PerDay, 1)))
	default:
		out = append(out, w.Say("%d alarms asked for somebody, %s a day on average.", l.Alarms, w.Number(l.PerDay, 1)))
	}
	if w.r.Cut {
		out = append(out, w.Say("The log of this time is longer than what a report reads: the oldest of it is missing below."))
	}
	return out
}

func (w reportWords) seasons() string {
	text := w.Say("The season was %s", w.season(w.r.Seasons[0].Season))
	for _, s := range w.r.Seasons[1:] {
		text += w.Say(", then %s from %s", w.season(s.Season), w.when(s.From))
	}
	return text + "."
}

func (w reportWords) season(s alarms.Season) string {
	return w.Say(cmp.Or(seasonWords[s], tongue.Text(s)))
}

var seasonWords = map[alarms.Season]tongue.Text{alarms.SeasonOpen: "open|a season", alarms.SeasonChanging: "changing|a season", alarms.SeasonWinter: "winter|a season"}

// each says what heads a table.
func (w reportWords) each(heads ...tongue.Text) (all []string) {
	for _, h := range heads {
		all = append(all, w.Say(h))
	}
	return all
}

func (w reportWords) measured(m report.Measure) string {
	text := w.Say("%s: %s from %s to %s, ", w.place(m.Place), w.Core.Word(m.Quantity), w.Value(m.Quantity, m.Lowest.Value), w.Value(m.Quantity, m.Highest.Value))
	if b := m.Beyond; b.Any > 0 {
		text += w.Say("%s beyond its limits", w.hours(b.Any))
	} else {
		text += w.Say("never beyond its limits")
	}
	if m.Blind > 0 {
		text += w.Say("; for %s nothing is known", w.hours(m.Blind))
	}
	return text + "."
}

// climate are the extremes, means and hours beyond limits.
func (w reportWords) climate() reportSection {
	s := reportSection{ID: "climate", Title: w.Say("Climate")}
	values := reportTable{Caption: w.Say("Lowest, mean and highest"), Head: w.each("Place", "Lowest", "When", "Mean", "Highest", "When")}
	hours := reportTable{Caption: w.Say("Time beyond the limits in force"), Head: w.each("Place", "Below low-low", "Below low", "Above high", "Above high-high", "Beyond any", "Not known")}
	coarse := false
	for _, m := range w.r.Measures {
		name := w.place(m.Place) + ", " + w.Core.Word(m.Quantity)
		if m.Known == 0 {
			values.Rows = append(values.Rows, []string{name, w.Say("not known"), "–", "–", w.Say("not known"), "–"})
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
	s.After = append(s.After, w.Say("Limits are those of the season and of day or night at the time. What is below low-low counts as below low too, and so above. "+
		"A reading holds until the next, at most as long as its probe may be silent; after that nothing is known."))
	if coarse {
		s.After = append(s.After, w.Say("Some of it rests on values of 10 minutes: where a limit lies between the lowest and the highest of one, the time beyond is estimated."))
	}
	if len(values.Rows) == 0 {
		s.Tables, s.After = nil, []string{w.Say("This house has no probe of its climate.")}
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
			return w.Say("no limit")
		}
		return text
	}
	b := m.Beyond
	return []string{name, cell(set.LowLow, w.hours(b.LowLow)), cell(set.Low, w.hours(b.Low)), cell(set.High, w.hours(b.High)),
		cell(set.HighHigh, w.hours(b.HighHigh)), w.hours(b.Any), w.hours(m.Blind)}
}

func (w reportWords) growing() reportSection {
	t := reportTable{Caption: w.Say("Warmth above %s", w.Value(alarms.Temperature, report.GrowingBase)), Head: w.each("Place", "Degree-hours", "Degree-days", "Days counted", "Days left out")}
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
	return reportSection{ID: "growing", Title: w.Say("Growing degrees"), Tables: []reportTable{t}, After: []string{
		w.Say("Degree-days by the mean method: half of the day's lowest and highest together, less the base, never below nought. Whole days alone count; one of which less than nine tenths is known is left out.")}}
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
	s := reportSection{ID: "unseen", Title: w.Say("What was not seen")}
	t := reportTable{Caption: w.Say("By the log"), Head: w.each("What", "Times", "Lasted", "Longest", "From")}
	for _, b := range w.r.Blind {
		t.Rows = append(t.Rows, []string{w.what(alarms.Transition{Alarm: b.Alarm, Reason: b.Reason}), fmt.Sprint(b.Times), w.hours(b.Lasted), w.hours(b.Worst.Len()), w.when(b.Worst.From)})
	}
	if len(t.Rows) == 0 {
		s.Lines = []string{w.Say("The watch was never blind by its log: no probe, place or broker was lost for long enough to be said.")}
		return s
	}
	s.Tables = []reportTable{t}
	s.After = []string{w.Say("Lines overlap where one loss explains another. How long nothing was known of a place stands under Climate.")}
	return s
}

// mostExposed is how many exposures the page lists.
const mostExposed = 30

func (w reportWords) exposed() reportSection {
	if len(w.r.Exposed) == 0 {
		return reportSection{}
	}
	t := reportTable{Caption: w.Say("Reached"), Head: w.each("Place", "When", "What it does", "Beyond for", "Degree-hours", "Does harm at"), Text: true}
	all, lines := w.r.Exposed, []string(nil)
	if left := len(all) - mostExposed; left > 0 {
		all = all[left:]
		lines = []string{w.Say("The last %d; %d before them are left out here and stand in the table for programs.", mostExposed, left)}
	}
	for _, x := range all {
		hours, harm := "–", w.hours(x.ExposureReason.Limit)
		if x.LimitDegreeHours > 0 {
			hours = w.Number(w.kelvins(x.DegreeHours), 0) + w.degreeUnit(words.NoBreak+"K"+words.NoBreak, "h")
			harm = w.Number(w.kelvins(x.LimitDegreeHours), 0) + w.degreeUnit(words.NoBreak+"K"+words.NoBreak, "h")
		}
		t.Rows = append(t.Rows, []string{w.place(x.Place), w.when(x.At), w.Tongue.Known(x.Says), w.hours(x.Time), hours, harm})
	}
	return reportSection{ID: "exposures", Title: w.Say("Exposures"), Lines: lines, Tables: []reportTable{t}}
}

func (w reportWords) drives() reportSection {
	if len(w.r.Drives) == 0 {
		return reportSection{}
	}
	t := reportTable{Caption: w.Say("Switchings"), Head: w.each("Drive", "Starts", "Ran", "Longest run", "As it should", "Called in vain")}
	s := reportSection{ID: "drives", Title: w.Say("Drives")}
	for _, d := range w.r.Drives {
		longest := "–"
		if d.Longest.Len() > 0 {
			longest = w.Say("%s, from %s", w.hours(d.Longest.Len()), w.when(d.Longest.From))
		}
		ran := w.hours(d.Ran)
		if d.Inferred > 0 {
			ran += " " + w.Say("(%s inferred)", w.hours(d.Inferred))
		}
		t.Rows = append(t.Rows, []string{cmp.Or(d.Name, string(d.ID)), fmt.Sprint(d.Starts), ran, longest, fmt.Sprint(d.Right), fmt.Sprint(d.Missed)})
		if d.Open {
			s.After = append(s.After, w.Say("%s still runs; its run so far is counted.", cmp.Or(d.Name, string(d.ID))))
		}
		if d.Unseen > 0 {
			s.After = append(s.After, w.Say("%s: it ran %s with one end not seen; that counts as far as it was heard to run.", cmp.Or(d.Name, string(d.ID)), w.Times(d.Unseen)))
		}
		for _, x := range d.Verdicts {
			s.After = append(s.After, w.Say("%s, %s; last: %s", w.what(x.Last), w.Times(x.Times), w.Said(x.Last)))
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
	t := reportTable{Caption: w.Say("Brought by the ground"), Head: w.each("Over", "Heat in", "Heat taken out", "Fan used", "Air moved for")}
	t.Rows = append(t.Rows, []string{w.Say("All pipes"), w.KWh(l.Heat), w.KWh(l.Cold), w.KWh(l.Fan), w.hours(l.Run)})
	for _, p := range l.Pipes {
		t.Rows = append(t.Rows, []string{w.Say("Pipe at %s", w.Depth(p.Depth)), w.KWh(p.Heat), w.KWh(p.Cold), "–", w.hours(p.Run)})
	}
	return reportSection{ID: "loop", Title: w.Say("Ground loop"), Tables: []reportTable{t},
		After: []string{w.Say("Sums over %d whole days on which the loop ran, as the log has them.%s", l.Days, w.Core.Moisture(l.LoopEnergy))}}
}

// Heading says how a report is headed.
type Heading struct {
	Garden string
	Kind   string // day, week, season or span
	Season alarms.Season
}
