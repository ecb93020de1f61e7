package main

import (
	"fmt"
	"io"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/score"
)

// printDays prints how well the peak of a day and the lowest of a night were said
// beforehand: the mean error, in all weeks, the odd and the even ones.
func printDays(out io.Writer, o *score.Outlook, words say.Locale) {
	sums := make([][3]score.DaySum, len(o.Days))
	cases := 0
	for i, d := range o.Days {
		for w := range sums[i] {
			sums[i][w] = d.Sum(score.Weeks(w), o.From)
		}
		cases += sums[i][0].Cases
	}
	if cases == 0 {
		fmt.Fprintln(out, "  The day and the night ahead: nothing was said that could be held against what came.")
		return
	}
	printDayHead(out, o.Days, words)
	for i, who := range score.DayRules {
		printDayRow(out, who, sums, func(s score.DaySum) string {
			return fmt.Sprintf("%.2f", words.ShownDistance(alarms.Temperature, s.Off[i]))
		})
	}
	printDayRow(out, "within the interval of 80 %, in %", sums, func(s score.DaySum) string { return fmt.Sprintf("%.0f", share(s.Inside, s.Cases)) })
	printDayRow(out, "off the moment, in h", sums, func(s score.DaySum) string { return fmt.Sprintf("%.1f", s.OffHours) })
	printDayRow(out, "times", sums, func(s score.DaySum) string { return fmt.Sprint(s.Cases) })
}

func printDayHead(out io.Writer, days []score.Days, words say.Locale) {
	what, when, unit := "", "", "K"
	if words.Fahrenheit {
		unit = "°F"
	}
	midnight := time.Date(2026, 1, 1, 0, 0, 0, 0, time.UTC)
	for _, d := range days {
		of, at := "peak of the day", midnight.Add(d.Hour)
		if d.Night {
			of = "lowest of night"
		}
		what += fmt.Sprintf("   %15s", of)
		when += fmt.Sprintf("   %15s", say.Locale{Hours12: words.Hours12}.Clock(at, at))
	}
	fmt.Fprintf(out, "  %-36s%s\n  %-36s%s\n  %-36s%s\n", "The day and the night ahead: how far", what,
		"off, in "+unit+", said at", when, "in weeks", strings.Repeat("     all  odd even", len(days)))
}

// printDayRow prints a figure of each hour and kind of week.
func printDayRow(out io.Writer, of string, sums [][3]score.DaySum, figure func(score.DaySum) string) {
	fmt.Fprintf(out, "    %-34s", of)
	for _, hour := range sums {
		fmt.Fprint(out, "   ")
		for _, s := range hour {
			text := "-"
			if s.Cases > 0 {
				text = figure(s)
			}
			fmt.Fprintf(out, "%5s", text)
		}
	}
	fmt.Fprintln(out)
}
