package reports

import (
	"cmp"
	"encoding/csv"
	"fmt"
	"io"
	"math"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/say"
	"telltale/gateway/page/words"
)

// reportCSV writes one row a figure: section, item, quantity, value, unit, at.
// Numbers have a decimal point whatever the visitor's locale, times are ISO
// 8601 with the garden's zone. at is when the value was, where it was at a
// moment.
type reportCSV struct {
	reportWords
	out *csv.Writer
	err error
}

var reportColumns = []string{"section", "item", "quantity", "value", "unit", "at"}

func WriteTable(to io.Writer, w words.Words, r report.Report) error {
	w.Decimal, w.Hours12 = "", false
	c := &reportCSV{reportWords: reportWords{w, r}, out: csv.NewWriter(to)}
	c.out.UseCRLF = true // RFC 4180
	c.write(reportColumns...)
	c.text("report", r.Name, "from", c.iso(r.From), r.From)
	c.text("report", r.Name, "to", c.iso(r.To), r.To)
	c.text("report", r.Name, "counted to", c.iso(r.Counted.To), r.Counted.To)
	c.text("report", r.Name, "made", c.iso(r.Made), r.Made)
	for _, s := range r.Seasons {
		c.text("report", r.Name, "season", string(s.Season), s.From)
	}
	for _, m := range r.Measures {
		c.measure(m)
	}
	c.seen()
	c.drove()
	c.asked()
	c.heard()
	c.out.Flush()
	if c.err != nil {
		return c.err
	}
	return c.out.Error()
}

// safeCells keep a spreadsheet from taking a text for a formula: one that begins
// like a formula, and is no number, is preceded by an apostrophe.
func safeCells(cells []string) []string {
	for i, text := range cells {
		if text != "" && strings.ContainsRune("=+-@\t\r", rune(text[0])) {
			if _, err := strconv.ParseFloat(text, 64); err != nil {
				cells[i] = "'" + text
			}
		}
	}
	return cells
}

func (c *reportCSV) write(cells ...string) {
	if cells = safeCells(cells); c.err == nil {
		c.err = c.out.Write(cells)
	}
}

func (c *reportCSV) iso(t time.Time) string {
	if t.IsZero() {
		return ""
	}
	return t.In(c.Zone).Format(time.RFC3339)
}

func (c *reportCSV) text(section, item, quantity, value string, at time.Time) {
	c.write(section, item, quantity, value, "", c.iso(at))
}

func (c *reportCSV) number(section, item, quantity string, v float64, unit string, at time.Time) {
	c.write(section, item, quantity, strconv.FormatFloat(math.Round(v*1e4)/1e4, 'f', -1, 64), unit, c.iso(at))
}

func (c *reportCSV) count(section, item, quantity string, n int) {
	c.number(section, item, quantity, float64(n), "", time.Time{})
}

func (c *reportCSV) lasted(section, item, quantity string, d time.Duration, at time.Time) {
	c.write(section, item, quantity, strconv.FormatFloat(d.Hours(), 'f', 4, 64), "h", c.iso(at))
}

// plainUnit is the unit without the spaces that a page needs.
func (c *reportCSV) plainUnit(q alarms.Quantity) string {
	return strings.Trim(c.Unit(q), " "+words.NoBreak)
}

// val writes a value in the unit shown, rounded to what is measured.
func (c *reportCSV) val(section, item, quantity string, q alarms.Quantity, v float64, at time.Time) {
	c.write(section, item, quantity, strconv.FormatFloat(c.Shown(q, v), 'f', 3, 64), c.plainUnit(q), c.iso(at))
}

func (c *reportCSV) measure(m report.Measure) {
	place, q := c.place(m.Place), m.Quantity
	name := func(what string) string { return say.Locale{}.Word(q) + " " + what }
	if m.Known > 0 {
		c.val("climate", place, name("lowest"), q, m.Lowest.Value, m.Lowest.At)
		c.val("climate", place, name("mean"), q, m.Mean, time.Time{})
		c.val("climate", place, name("highest"), q, m.Highest.Value, m.Highest.At)
	}
	c.lasted("climate", place, name("known"), m.Known, time.Time{})
	c.lasted("climate", place, name("not known"), m.Blind, time.Time{})
	c.lasted("climate", place, name("longest not known"), m.LongestBlind.Len(), m.LongestBlind.From)
	if m.Banded {
		for _, b := range []struct {
			what string
			d    time.Duration
		}{{"below low-low", m.Beyond.LowLow}, {"below low", m.Beyond.Low}, {"above high", m.Beyond.High}, {"above high-high", m.Beyond.HighHigh}, {"beyond any limit", m.Beyond.Any}} {
			c.lasted("climate", place, name(b.what), b.d, time.Time{})
		}
	}
	for _, d := range m.Days {
		if d.Known > 0 {
			c.val("days", place, name("lowest"), q, d.Min, d.From)
			c.val("days", place, name("mean"), q, d.Mean, d.From)
			c.val("days", place, name("highest"), q, d.Max, d.From)
		}
	}
	if h := m.Heat; h != nil && m.Known > 0 {
		unit := "K "
		if c.Fahrenheit {
			unit = "°F "
		}
		c.number("growing", place, "degree-hours", c.kelvins(h.DegreeHours), unit+"h", time.Time{})
		c.number("growing", place, "degree-days", c.kelvins(h.DegreeDays), unit+"d", time.Time{})
		c.count("growing", place, "days counted", h.Days)
		c.count("growing", place, "days left out", h.LeftOut)
	}
}

func (c *reportCSV) seen() {
	for _, b := range c.r.Blind {
		item := c.what(alarms.Transition{Alarm: b.Alarm, Reason: b.Reason})
		c.count("not seen", item, "times", b.Times)
		c.lasted("not seen", item, "lasted", b.Lasted, time.Time{})
		c.lasted("not seen", item, "longest", b.Worst.Len(), b.Worst.From)
	}
	for _, x := range c.r.Exposed {
		item := c.place(x.Place) + ": " + x.Says
		c.lasted("exposures", item, "beyond for", x.Time, x.At)
		if x.LimitDegreeHours > 0 {
			c.number("exposures", item, "degree-hours", x.DegreeHours, "K h", x.At)
		}
	}
}

func (c *reportCSV) drove() {
	for _, d := range c.r.Drives {
		name := cmp.Or(d.Name, string(d.ID))
		c.count("drives", name, "starts", d.Starts)
		c.lasted("drives", name, "ran", d.Ran, time.Time{})
		c.lasted("drives", name, "ran, inferred", d.Inferred, time.Time{})
		c.lasted("drives", name, "longest run", d.Longest.Len(), d.Longest.From)
		c.count("drives", name, "as it should", d.Right)
		c.count("drives", name, "called in vain", d.Missed)
		for _, v := range d.Verdicts {
			c.count("drives", c.what(v.Last), "alarms", v.Times)
		}
	}
	l := c.r.Loop
	if l == nil {
		return
	}
	energy := func(item string, e alarms.LoopEnergy) {
		c.number("ground loop", item, "heat in", e.Heat, "kWh", time.Time{})
		c.number("ground loop", item, "heat taken out", e.Cold, "kWh", time.Time{})
		c.number("ground loop", item, "moisture in", e.Wet, "kWh", time.Time{})
		c.number("ground loop", item, "moisture taken out", e.Dried, "kWh", time.Time{})
		c.lasted("ground loop", item, "air moved", e.Run, time.Time{})
	}
	energy("all pipes", l.LoopEnergy)
	c.number("ground loop", "all pipes", "fan used", l.Fan, "kWh", time.Time{})
	c.count("ground loop", "all pipes", "days", l.Days)
	for _, p := range l.Pipes {
		energy(fmt.Sprintf("pipe at %g m", p.Depth), p.LoopEnergy)
	}
}

func (c *reportCSV) asked() {
	l, all := c.r.Load, "all alarms"
	c.count("alarms", all, "number", l.Alarms)
	c.number("alarms", all, "mean of a day", l.PerDay, "", time.Time{})
	c.number("alarms", all, "mean of 12 hours", l.PerHalfDay, "", time.Time{})
	c.number("alarms", all, "mean of 10 minutes", l.PerTen, "", time.Time{})
	c.number("alarms", all, "most in 10 minutes", float64(l.Peak), "", l.PeakAt)
	c.count("alarms", all, "10 minutes with more than 10", l.Floods)
	if l.Judged > 0 {
		c.number("alarms", all, "not acknowledged within 10 minutes", 100*l.Untaken(), "%", time.Time{})
	}
	for _, f := range l.Frequent {
		c.count("alarms", c.what(f.Last), "times", f.Times)
	}
	for _, f := range l.Chattering {
		c.count("alarms", c.what(f.Last), "chattered", f.Times)
	}
	for _, f := range l.Stale {
		c.lasted("alarms", c.what(f.First), "stood", f.Len(), f.From)
	}
}

func (c *reportCSV) heard() {
	for _, t := range c.r.Told {
		to := t.Person + " by " + t.Channel
		c.count("told", to, "handed over", t.HandedOver)
		c.count("told", to, "delivered", t.Delivered)
		c.count("told", to, "not delivered", t.Undelivered)
		c.count("told", to, "failed so far", t.Failed)
		c.count("told", to, "given up", t.GivenUp)
		c.count("told", to, "waiting", t.Waiting)
		c.count("told", to, "not needed", t.NotNeeded)
		c.count("told", to, "only rehearsed", t.Rehearsed)
	}
	for _, x := range c.r.Lost {
		c.text("told", x.Person+" by "+x.Channel, "given up: "+c.Said(x.Of), x.Why, x.At)
	}
	for _, a := range c.r.Acts {
		c.text("people", a.Reason.By, c.Said(a), a.Reason.Note, a.Due)
	}
}
