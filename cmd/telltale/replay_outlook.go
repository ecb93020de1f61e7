package main

import (
	"fmt"
	"io"
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
	"telltale/alarms/say"
	"telltale/alarms/score"
	"telltale/gateway/record"
)

// printOutlook prints how well the limits of a place would have been told of
// beforehand.
func printOutlook(out io.Writer, o score.Outlook, words say.Locale) {
	fmt.Fprintf(out, "\nThe outlook of %s/%s, from its readings up to each moment alone:\n", o.House, o.Place)
	for _, a := range o.Limits {
		printAhead(out, &o, a, words)
	}
	printDays(out, &o, words)
	for _, why := range []struct {
		lack outlook.Lack
		text string
	}{{outlook.Days, "too little had been learned yet, in the first two days"}, {outlook.Hour, "the last hour had not been heard as a whole"}, {outlook.Often, "readings came too seldom"}} {
		if n := o.Lacked[why.lack]; n > 0 {
			fmt.Fprintf(out, "Nothing could be said for %.1f %% of the time: %s.\n", share(n, o.Looks), why.text)
		}
	}
	fmt.Fprintf(out, "Two hours ahead it relied on the regression for %.0f %%, on the trend for %.0f %%, on yesterday for %.0f %%. What it learned takes %s bytes.\n",
		100*o.Relied[outlook.Regression], 100*o.Relied[outlook.Trend], 100*o.Relied[outlook.Yesterday], record.Thousands(uint64(o.Saved)))
}

func printAhead(out io.Writer, o *score.Outlook, a score.Ahead, words say.Locale) {
	word := "up to"
	if a.Side == alarms.LowSide {
		word = "down to"
	}
	limit := word + " " + words.Value(alarms.Temperature, a.Limit)
	if all := a.Records[0].Tally(score.AllWeeks, o.From, o.To); all.Crossings == 0 && all.Warnings == 0 {
		fmt.Fprintf(out, "  %s: never reached, and never told.\n", limit)
		return
	}
	fmt.Fprintf(out, "  %-36s reached  told 15 min before       median lead  nine in ten  told  false  a week\n", limit)
	for _, r := range a.Records {
		for i, text := range []string{"all weeks", "odd weeks", "even weeks"} {
			who := r.Who
			if i > 0 {
				who = ""
			}
			t := r.Tally(score.Weeks(i), o.From, o.To)
			fmt.Fprintf(out, "    %-23s %-10s %7d  %-24s %11s %12s %5d %6d  %6.2f\n", who, text, t.Crossings,
				shareOf(t.InTime, t.Crossings), lead(t, t.Median), lead(t, t.Tenth), t.Warnings, t.False, t.FalseAWeek())
		}
	}
	fmt.Fprint(out, "    Said to be reached within 2 h, and came true:")
	for i, b := range a.Bins {
		if b.Of > 0 {
			text := fmt.Sprintf(" %.0f %%: %.0f %% of %s", 100*b.Said/float64(b.Of), share(b.Came, b.Of), record.Thousands(uint64(b.Of)))
			if i > 0 {
				text = ";" + text
			}
			fmt.Fprint(out, text)
		}
	}
	fmt.Fprintln(out, ".")
	if m := a.Moments; m.Of > 0 {
		fmt.Fprintf(out, "    Of %s that came true it was said when: %d within the interval of 80 %%, and %.0f min from its middle on average.\n",
			count(m.Of, "warning"), m.Inside, m.Off.Minutes()/float64(m.Of))
	}
}

// shareOf is a share with the interval in which it lies with 95 %.
func shareOf(k, n int) string {
	if n == 0 {
		return "-"
	}
	low, high := wilson(k, n)
	return fmt.Sprintf("%d (%.0f %%, %.0f to %.0f)", k, share(k, n), 100*low, 100*high)
}

func lead(of score.Tally, d time.Duration) string {
	if of.Crossings == 0 {
		return "-"
	}
	return fmt.Sprintf("%.0f min", d.Minutes())
}

// wilson is the interval in which a share lies with 95 % (Wilson 1927, J. Am. Stat.
// Assoc. 22:209), of one or more.
func wilson(k, n int) (low, high float64) {
	const z = 1.96
	m, p := float64(n), float64(k)/float64(n)
	middle, half := p+z*z/(2*m), z*math.Sqrt(p*(1-p)/m+z*z/(4*m*m))
	return max(0, (middle-half)/(1+z*z/m)), min(1, (middle+half)/(1+z*z/m))
}
