package page

import (
	"cmp"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

type probesPage struct {
	frame
	Sentence string
	Houses   []probesOfHouse
}

type probesOfHouse struct {
	Name   string
	Probes []probeEntry
}

// probeEntry is how one probe does, in words.
type probeEntry struct {
	ID      alarms.ProbeID
	Address string // of its own page
	Name    string
	Place   string
	Out     string   // that it is out of service, by whom and why
	Ill     []string // what is wrong with it
	Facts   []fact
	rank    int
}

// fact is one thing said of something, with its name.
type fact struct {
	Name, Words string
	Bad         bool
}

// probesPage shows how every probe does.
func (s calibration) probesPage(w http.ResponseWriter, r *http.Request) error {
	all, err := s.options.Tending.Deliveries(r.Context())
	if err != nil {
		return err
	}
	say, now := s.wordsOf(r), s.watch.Now()
	v := probesPage{frame: s.frame(r, "Probes")}
	well, out, n := 0, 0, 0
	for _, h := range s.picture(say).Houses {
		one := probesOfHouse{Name: h.Name}
		for _, pl := range h.Places {
			for _, p := range pl.Probes {
				entry := probeEntryOf(say, pl.Name, p, all[p.ID], now)
				one.Probes = append(one.Probes, entry)
				n++
				switch {
				case entry.Out != "":
					out++
				case len(entry.Ill) == 0:
					well++
				}
			}
		}
		slices.SortStableFunc(one.Probes, func(a, b probeEntry) int { return cmp.Compare(b.rank, a.rank) })
		if len(one.Probes) > 0 {
			v.Houses = append(v.Houses, one)
		}
	}
	v.Sentence = wellSentence(say, well, out, n)
	return s.render(w, r, http.StatusOK, "probes", v)
}

// wellSentence says how many probes are well; those out of service are apart.
func wellSentence(w words.Words, well, out, n int) string {
	n -= out
	aside := ""
	if out == 1 {
		aside = " " + w.Say("One is out of service.")
	} else if out > 1 {
		aside = " " + w.Say("%d are out of service.", out)
	}
	switch {
	case n == 0 && out == 0:
		return w.Say("No probe is set up yet.")
	case n == 0:
		return w.Say("No probe is in service.") + aside
	case well == n && n == 1:
		return w.Say("The one probe reports as it should.") + aside
	case well == n:
		return w.Say("All %d probes report as they should.", n) + aside
	case well == 0:
		return w.Say("No probe reports as it should.") + aside
	}
	return w.Say("%d of %d probes report as they should.", well, n) + aside
}

// lossy is the share of readings, of those expected in a day, below which a
// probe loses too many; common practice, no source.
const lossy = 0.9

func probeEntryOf(w words.Words, place string, p alarms.ProbePicture, d service.Delivery, now time.Time) probeEntry {
	c := probeEntry{ID: p.ID, Address: "/probes/" + url.PathEscape(string(p.ID)), Name: p.Name, Place: place}
	c.Ill = ills(w, p, d, now)
	if c.rank = len(c.Ill); p.OutOf {
		c.rank, c.Out = -1, probeOut(w, p, now) // known to everybody
	}
	c.Facts = deliveryFacts(w, p, d, now)
	heard := fact{Name: w.Say("Last heard"), Words: w.Say("never"), Bad: p.Heard.IsZero() || p.Silent}
	if !p.Heard.IsZero() {
		heard.Words = w.ClockSeconds(p.Heard, now) + ", " + w.Age(p.Heard, now)
	}
	c.Facts = append([]fact{heard}, c.Facts...)
	if p.Battery != nil {
		c.Facts = append(c.Facts, fact{Name: w.Say("Battery"), Words: w.Value(alarms.Battery, *p.Battery), Bad: slices.Contains(p.Faults, alarms.FaultBattery)})
	}
	if p.Signal != nil {
		c.Facts = append(c.Facts, fact{Name: w.Say("Radio signal"), Words: w.Value(alarms.Signal, *p.Signal), Bad: slices.Contains(p.Faults, alarms.FaultSignal)})
	}
	if p.Refused+p.Garbled > 0 {
		c.Facts = append(c.Facts, fact{Name: w.Say("Not used"), Words: w.Say("%s late, doubled or not believed; %s unreadable",
			w.Counted(p.Refused, "1 reading", "%d readings"), w.Counted(p.Garbled, "1 message", "%d messages")), Bad: slices.Contains(p.Faults, alarms.FaultGarbled)})
	}
	if len(p.Calibrations) > 0 {
		c.Facts = append(c.Facts, fact{Name: w.Say("Calibrated"), Words: calibrationWords(w, p, now)})
	}
	return c
}

// ills lists what is wrong with p, worst first.
func ills(w words.Words, p alarms.ProbePicture, d service.Delivery, now time.Time) []string {
	var all []string
	switch {
	case p.OutOf:
	case p.Heard.IsZero():
		all = append(all, w.Say("It has never been heard."))
	case p.Silent:
		all = append(all, w.Say("It is silent."))
	}
	for _, f := range p.Faults {
		all = append(all, words.Capital(faultSentence(w, f)))
	}
	if share, ok := d.Day.Share(); ok && share < lossy && !p.OutOf && !p.Silent {
		all = append(all, w.Say("Many of its readings are lost."))
	}
	return all
}

func probeOut(w words.Words, p alarms.ProbePicture, now time.Time) string {
	since := w.Clock(p.OutSince, now)
	switch {
	case p.OutSince.IsZero():
		return outWords(w, p.OutBy, p.OutNote)
	case p.OutBy == "":
		return w.Say("Since %s out of service until somebody puts it back%s.", since, because(w, p.OutNote))
	}
	return w.Say("Since %s out of service until somebody puts it back, taken out by %s%s.", since, w.Core.Who(p.OutBy), because(w, p.OutNote))
}

// faultSentence says a fault of a probe as a sentence.
func faultSentence(w words.Words, f alarms.Fault) string {
	if text, ok := faultWords[f]; ok {
		return w.Say(text)
	}
	return w.Say("it %s.", f)
}

// deliveryFacts says how p reports.
func deliveryFacts(w words.Words, p alarms.ProbePicture, d service.Delivery, now time.Time) []fact {
	facts := []fact{{Name: w.Say("Reports every"), Words: everyWords(w, p, d)}}
	switch {
	case d.Since.IsZero():
		facts = append(facts, receivedFact(w, w.Say("Came in 24 hours"), d.Day), receivedFact(w, w.Say("Came in 7 days"), d.Week))
	case d.Since.After(now.AddDate(0, 0, -1)):
		facts = append(facts, receivedFact(w, w.Say("Came since %s", w.Clock(d.Since, now)), d.Day))
	default:
		facts = append(facts, receivedFact(w, w.Say("Came in 24 hours"), d.Day), receivedFact(w, w.Say("Came since %s", w.Clock(d.Since, now)), d.Week))
	}
	longest := fact{Name: w.Say("Longest gap in 7 days"), Words: w.Say("nothing came in 7 days")}
	if d.Longest > 0 {
		longest.Words = w.Say("%s, from %s", howLong(w, d.Longest), w.Clock(d.LongestFrom, now))
	}
	if d.Away > 0 {
		longest.Words += w.Say("; the watch itself was away for %s, which is not counted", w.Core.Span(d.Away))
	}
	return append(facts, longest)
}

// everyWords says how often p reports, and how often it should.
func everyWords(w words.Words, p alarms.ProbePicture, d service.Delivery) string {
	kept := w.Say("not heard in the last day")
	if d.Kept > 0 {
		kept = howLong(w, d.Kept)
	}
	switch {
	case p.Interval <= 0:
		return kept
	case p.Learned:
		return w.Say("%s; as learned, about %s", kept, w.Core.Span(p.Interval))
	}
	return w.Say("%s; it should every %s", kept, w.Core.Span(p.Interval))
}

// howLong is alarms.Span with tenths of seconds below a minute.
func howLong(w words.Words, d time.Duration) string {
	if d < time.Minute && d%time.Second != 0 {
		return w.Number(d.Seconds(), 1) + " s"
	}
	return w.Core.Span(d)
}

func receivedFact(w words.Words, name string, r service.Received) fact {
	share, ok := r.Share()
	if !ok {
		return fact{Name: name, Words: w.Counted(uint64(r.Got), "1 reading", "%d readings")}
	}
	return fact{Name: name, Words: w.Say("%s %% (%d of %d readings)", shareWords(w, share), min(r.Got, r.Want), r.Want), Bad: share < lossy}
}

// shareWords writes a share in per cent; what is not all is never 100.
func shareWords(w words.Words, share float64) string {
	pc := 100 * share
	if pc < 100 && pc > 99.9 {
		pc = 99.9
	}
	if pc == 100 || pc == 0 {
		return w.Number(pc, 0)
	}
	return w.Number(pc, 1)
}

func calibrationWords(w words.Words, p alarms.ProbePicture, now time.Time) string {
	all := walk.Each(p.Calibrations, func(c alarms.CalibrationPicture) string { return w.Clock(c.At, now) + ": " + c.Sentence })
	return strings.Join(all, " ")
}
