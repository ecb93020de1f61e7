package reports

import (
	"strconv"
	"strings"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

// load is what the alarms asked of people.
func (w reportWords) load() reportSection {
	l := w.r.Load
	s := reportSection{ID: "alarms", Title: w.Say("Alarms")}
	t := reportTable{Caption: w.Say("Load, all alarms together"), Head: w.each("Figure", "Here", "Recommended"), Text: true}
	add := func(name tongue.Text, here, want string) { t.Rows = append(t.Rows, []string{w.Say(name), here, want}) }
	add("Alarms", w.Say("%d (high %d, medium %d, low %d)", l.Alarms, l.ByPriority[alarms.High], l.ByPriority[alarms.Medium], l.ByPriority[alarms.Low]), "–")
	add("Mean of a day", w.Number(l.PerDay, 1), w.Say("at most about %d; %d can be managed", report.AcceptablePerDay, report.ManageablePerDay))
	add("Mean of 12 hours", w.Number(l.PerHalfDay, 1), strconv.Itoa(report.AcceptablePerDay/2))
	add("Mean of 10 minutes", w.Number(l.PerTen, 2), w.Say("at most about 1"))
	peak := strconv.Itoa(l.Peak)
	if l.Peak > 0 {
		peak = w.Say("%s, from %s", peak, w.when(l.PeakAt))
	}
	add("Most in 10 minutes", peak, w.Say("at most %d", report.FloodPerTen))
	t.Rows = append(t.Rows, []string{w.Say("10 minutes with more than %d", report.FloodPerTen), w.Say("%d of %d", l.Floods, l.Periods), w.Say("less than %s of them", "1"+words.NoBreak+"%")})
	add("Chattering (3 times in a minute)", strconv.Itoa(len(l.Chattering)), w.Say("none"))
	add("Standing for more than a day", strconv.Itoa(len(l.Stale)), w.Say("fewer than %d", report.FewStale))
	if l.Judged > 0 {
		add("Not acknowledged within 10 minutes", w.Say("%s%s (%d of %d; %d of them were over by then)", w.Number(100*l.Untaken(), 0), words.NoBreak+"%",
			l.Judged-l.Taken, l.Judged, l.WentByItself), "–")
	}
	if l.MedianTaken > 0 {
		add("Time until acknowledged, in the middle", w.hours(l.MedianTaken), "–")
	}
	s.Tables = append(s.Tables, t)
	s.Tables = append(s.Tables, w.worst()...)
	for _, x := range l.Chattering {
		s.After = append(s.After, w.Say("Chattered %s: %s.", w.Times(x.Times), w.what(x.Last)))
	}
	s.After = append(s.After, w.Say("Recommended for one operator by ANSI/ISA-18.2 and EEMUA 191, from memory. They are written for control rooms; "+
		"a grower who is woken at night can bear far less."))
	return s
}

// worst are the alarms that came most often and those that stood longest.
func (w reportWords) worst() (out []reportTable) {
	l := w.r.Load
	if len(l.Frequent) > 0 {
		f := reportTable{Caption: w.Say("Most frequent"), Head: w.each("Alarm", "Times", "Share")}
		for _, x := range l.Frequent {
			f.Rows = append(f.Rows, []string{w.what(x.Last), strconv.Itoa(x.Times), w.Number(100*float64(x.Times)/float64(l.Alarms), 0) + words.NoBreak + "%"})
		}
		out = append(out, f)
	}
	if len(l.Stale) > 0 {
		f := reportTable{Caption: w.Say("Standing for more than a day"), Head: w.each("Alarm", "From", "Lasted")}
		for _, x := range l.Stale {
			lasted := w.Core.Span(x.Len())
			if x.Open {
				lasted = w.Say("%s so far", lasted)
			}
			f.Rows = append(f.Rows, []string{w.what(x.First), w.when(x.From), lasted})
		}
		out = append(out, f)
	}
	return out
}

// told is who was told and whether that arrived.
func (w reportWords) told() reportSection {
	s := reportSection{ID: "told", Title: w.Say("Who was told")}
	if len(w.r.Told) == 0 {
		s.Lines = []string{w.Say("Nobody was told anything.")}
		return s
	}
	t := reportTable{Caption: w.Say("Messages, by what came of them"), Head: w.each("To", "In all", "In 12 hours", "Sent", "Delivered", "Did not arrive", "Failed so far", "Waiting", "Not needed")}
	var rehearsed []string
	half := w.r.Counted.Len().Hours() / 12
	for _, x := range w.r.Told {
		mean := "–"
		if half > 0 {
			mean = w.Number(float64(x.Of())/half, 1)
		}
		t.Rows = append(t.Rows, []string{w.Say("%s by %s", x.Person, x.Channel), strconv.Itoa(x.Of()), mean, strconv.Itoa(x.HandedOver), strconv.Itoa(x.Delivered),
			strconv.Itoa(x.GivenUp + x.Undelivered), strconv.Itoa(x.Failed), strconv.Itoa(x.Waiting), strconv.Itoa(x.NotNeeded)})
		if x.Rehearsed > 0 {
			rehearsed = append(rehearsed, w.Say("%d to %s by %s", x.Rehearsed, x.Person, x.Channel))
		}
	}
	s.Tables = []reportTable{t}
	if len(w.r.Lost) > 0 {
		f := reportTable{Caption: w.Say("Given up"), Head: w.each("To", "When", "Of what", "The channel said"), Text: true}
		for _, x := range w.r.Lost {
			of := w.Say("a test message")
			if x.Of.ID != "" {
				of = w.Said(x.Of)
			}
			f.Rows = append(f.Rows, []string{w.Say("%s by %s", x.Person, x.Channel), w.when(x.At), of, x.Why})
		}
		s.Tables = append(s.Tables, f)
	}
	s.After = []string{w.Say("Sent means that the next party took it, such as the mail server. Whether it was read is not known.")}
	if len(rehearsed) > 0 {
		s.After = append(s.After, w.Say("Only rehearsed, so that nothing was sent: %s.", strings.Join(rehearsed, ", ")))
	}
	return s
}

// mostActs is how many acts the page lists; the table for programs has all.
const mostActs = 100

// acts is what people did.
func (w reportWords) acts() reportSection {
	s := reportSection{ID: "people", Title: w.Say("What people did")}
	if len(w.r.Acts) == 0 {
		s.Lines = []string{w.Say("Nobody did anything at the watch.")}
		return s
	}
	t := reportTable{Caption: w.Say("Acts at the watch"), Head: w.each("When", "Who", "What", "Reason given"), Text: true}
	all := w.r.Acts
	if left := len(all) - mostActs; left > 0 {
		all = all[left:]
		s.Lines = []string{w.Say("The last %d; %d before them are left out here and stand in the table for programs.", mostActs, left)}
	}
	for _, a := range all {
		t.Rows = append(t.Rows, []string{w.when(a.Due), w.Core.Who(a.Reason.By), w.Said(a), w.Core.Kept(a.Reason.Note, a.Due)})
	}
	s.Tables = []reportTable{t}
	return s
}
