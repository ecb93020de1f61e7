package main

import (
	"fmt"
	"io"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/score"
	"telltale/gateway/offline"
	"telltale/gateway/record"
)

// printSheet prints how the limits would have done.
func printSheet(out io.Writer, r offline.Replayed, words say.Locale) {
	zone := words.Zone
	const minute = "2006-01-02 15:04"
	fmt.Fprintf(out, "\n%s from %s to %s (%s), %s.\n", count(int(r.Readings), "reading"), r.From.In(zone).Format(minute), r.To.In(zone).Format(minute),
		record.Span(r.To.Sub(r.From)), count(r.Transitions, "transition"))
	for _, s := range r.Scans {
		printScan(out, s, words)
	}
	if len(r.Scans) == 0 {
		fmt.Fprintln(out, "No place has a limit that a plain scan could be held against.")
	}
	printMessages(out, &r.Sheet)
	for _, c := range r.Raised {
		fmt.Fprintf(out, "%s: raised %s.\n", c.Alarm, times(c.Times))
	}
	for _, c := range r.Chattered {
		fmt.Fprintf(out, "%s: came and went too often %s.\n", c.Alarm, times(c.Times))
	}
	printBlind(out, &r.Sheet, zone)
	if a := r.Fan; a != nil {
		fmt.Fprintf(out, "The fan, inferred from temperatures alone: right in %.0f of 100 readings while it stood, in %.0f of 100 while it ran (it ran for %.0f %% of the time).\n",
			share(a.SaidStood, a.Stood), share(a.SaidRan, a.Ran), share(a.Ran, a.Ran+a.Stood))
	}
}

func share(part, of int) float64 {
	if of == 0 {
		return 0
	}
	return 100 * float64(part) / float64(of)
}

func printScan(out io.Writer, s score.Scan, words say.Locale) {
	word, far := "above", "up"
	if s.Side == alarms.LowSide {
		word, far = "below", "down"
	}
	fmt.Fprintf(out, "%s/%s, %s %s the limit: ", s.House, s.Place, s.Quantity, word)
	if s.Excursions == 0 {
		fmt.Fprintf(out, "a plain scan finds nothing; %s raised.\n", count(s.Raised, "alarm"))
		return
	}
	short := ""
	if s.Short > 0 {
		short = fmt.Sprintf(", %d of them shorter than the delay", s.Short)
	}
	fmt.Fprintf(out, "a plain scan finds %s%s, %s to %s; %s raised.\n", count(s.Excursions, "excursion"), short, far, words.Value(s.Quantity, s.Worst), count(s.Raised, "alarm"))
}

func printMessages(out io.Writer, s *score.Sheet) {
	if s.Messages == 0 {
		fmt.Fprintln(out, "Nobody would have been told of anything.")
		return
	}
	text := fmt.Sprintf("%s, %.1f a week; on the worst day, %s, %d.", count(s.Messages, "message"), s.PerWeek(), s.WorstDay.Format(time.DateOnly), s.Worst)
	if s.Repeats > 0 {
		text += fmt.Sprintf(" %s more only because nobody is here to acknowledge.", record.Thousands(uint64(s.Repeats)))
	}
	fmt.Fprintln(out, text)
}

func printBlind(out io.Writer, s *score.Sheet, zone *time.Location) {
	if len(s.Gaps) == 0 {
		fmt.Fprintln(out, "Every probe was heard all the time.")
	}
	for _, g := range s.Gaps {
		fmt.Fprintf(out, "%s, %s: not heard %s, %s in all (%.1f %% of the time); longest %s from %s.\n", g.Probe, g.Quantity, times(g.Times),
			record.Span(g.Blind), 100*g.Blind.Hours()/max(s.To.Sub(s.From).Hours(), 1e-9), record.Span(g.Longest), g.LongestAt.In(zone).Format("2006-01-02 15:04"))
	}
}
