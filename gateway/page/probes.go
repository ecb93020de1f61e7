package page

import (
	"cmp"
	"fmt"
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
	v.Sentence = wellSentence(well, out, n)
	return s.render(w, r, http.StatusOK, "probes", v)
}

// wellSentence says how many probes are well; those out of service are apart.
func wellSentence(well, out, n int) string {
	n -= out
	aside := ""
	if out == 1 {
		aside = " One is out of service."
	} else if out > 1 {
		aside = fmt.Sprintf(" %d are out of service.", out)
	}
	switch {
	case n == 0 && out == 0:
		return "No probe is set up yet."
	case n == 0:
		return "No probe is in service." + aside
	case well == n && n == 1:
		return "The one probe reports as it should." + aside
	case well == n:
		return fmt.Sprintf("All %d probes report as they should.", n) + aside
	case well == 0:
		return "No probe reports as it should." + aside
	}
	return fmt.Sprintf("%d of %d probes report as they should.", well, n) + aside
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
	heard := fact{Name: "Last heard", Words: "never", Bad: p.Heard.IsZero() || p.Silent}
	if !p.Heard.IsZero() {
		heard.Words = w.ClockSeconds(p.Heard, now) + ", " + w.Age(p.Heard, now)
	}
	c.Facts = append([]fact{heard}, c.Facts...)
	if p.Battery != nil {
		c.Facts = append(c.Facts, fact{Name: "Battery", Words: w.Value(alarms.Battery, *p.Battery), Bad: slices.Contains(p.Faults, alarms.FaultBattery)})
	}
	if p.Signal != nil {
		c.Facts = append(c.Facts, fact{Name: "Radio signal", Words: w.Value(alarms.Signal, *p.Signal), Bad: slices.Contains(p.Faults, alarms.FaultSignal)})
	}
	if p.Refused+p.Garbled > 0 {
		c.Facts = append(c.Facts, fact{Name: "Not used", Words: fmt.Sprintf("%s late, doubled or not believed; %s unreadable",
			words.Counted(p.Refused, "reading"), words.Counted(p.Garbled, "message")), Bad: slices.Contains(p.Faults, alarms.FaultGarbled)})
	}
	if len(p.Calibrations) > 0 {
		c.Facts = append(c.Facts, fact{Name: "Calibrated", Words: calibrationWords(w, p, now)})
	}
	return c
}

// ills lists what is wrong with p, worst first.
func ills(w words.Words, p alarms.ProbePicture, d service.Delivery, now time.Time) []string {
	var all []string
	switch {
	case p.OutOf:
	case p.Heard.IsZero():
		all = append(all, "It has never been heard.")
	case p.Silent:
		all = append(all, "It is silent.")
	}
	for _, f := range p.Faults {
		all = append(all, words.Capital(faultSentence(f)))
	}
	if share, ok := d.Day.Share(); ok && share < lossy && !p.OutOf && !p.Silent {
		all = append(all, "Many of its readings are lost.")
	}
	return all
}

func probeOut(w words.Words, p alarms.ProbePicture, now time.Time) string {
	s := outWords(p.OutBy, p.OutNote)
	if !p.OutSince.IsZero() {
		s = "Since " + w.Clock(p.OutSince, now) + " o" + strings.TrimPrefix(s, "O")
	}
	return s
}

// faultSentence says a fault of a probe as a sentence.
func faultSentence(f alarms.Fault) string {
	s := faultWord(f)
	if strings.HasPrefix(s, "its ") || strings.HasPrefix(s, "humidity ") {
		return s + "."
	}
	return "it " + s + "."
}

// deliveryFacts says how p reports.
func deliveryFacts(w words.Words, p alarms.ProbePicture, d service.Delivery, now time.Time) []fact {
	facts := []fact{{Name: "Reports every", Words: everyWords(w, p, d)}}
	switch {
	case d.Since.IsZero():
		facts = append(facts, receivedFact(w, "Came in 24 hours", d.Day), receivedFact(w, "Came in 7 days", d.Week))
	case d.Since.After(now.AddDate(0, 0, -1)):
		facts = append(facts, receivedFact(w, "Came since "+w.Clock(d.Since, now), d.Day))
	default:
		facts = append(facts, receivedFact(w, "Came in 24 hours", d.Day), receivedFact(w, "Came since "+w.Clock(d.Since, now), d.Week))
	}
	longest := fact{Name: "Longest gap in 7 days", Words: "nothing came in 7 days"}
	if d.Longest > 0 {
		longest.Words = howLong(w, d.Longest) + ", from " + w.Clock(d.LongestFrom, now)
	}
	if d.Away > 0 {
		longest.Words += "; the watch itself was away for " + w.Core.Span(d.Away) + ", which is not counted"
	}
	return append(facts, longest)
}

// everyWords says how often p reports, and how often it should.
func everyWords(w words.Words, p alarms.ProbePicture, d service.Delivery) string {
	kept := "not heard in the last day"
	if d.Kept > 0 {
		kept = howLong(w, d.Kept)
	}
	switch {
	case p.Interval <= 0:
		return kept
	case p.Learned:
		return kept + "; as learned, about " + w.Core.Span(p.Interval)
	}
	return kept + "; it should every " + w.Core.Span(p.Interval)
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
		return fact{Name: name, Words: words.Counted(uint64(r.Got), "reading")}
	}
	return fact{Name: name, Words: fmt.Sprintf("%s %% (%d of %d readings)", shareWords(w, share), min(r.Got, r.Want), r.Want), Bad: share < lossy}
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
