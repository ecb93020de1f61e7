package gateway

import (
	"fmt"
	"io"
	"slices"
	"strings"
	"testing"
	"text/tabwriter"
	"time"

	"telltale/gateway/model"
)

// trialRow sums the days with one kind of fault.
type trialRow struct {
	Kind    model.Kind
	Days    int
	Right   int
	Median  time.Duration // of the delays of those named at all
	Worst   time.Duration
	Missed  []uint64 // seeds: named late, otherwise or never
	Redrawn int
}

// Rows sums the days with a fault by kind, in the order of the kinds' names.
func (r trialResult) Rows() []trialRow {
	days := map[model.Kind][]trialDay{}
	var kinds []model.Kind
	for _, d := range r.Faulty {
		if days[d.Kind] == nil {
			kinds = append(kinds, d.Kind)
		}
		days[d.Kind] = append(days[d.Kind], d)
	}
	slices.Sort(kinds)
	rows := make([]trialRow, 0, len(kinds))
	for _, k := range kinds {
		rows = append(rows, sumDays(k, days[k]))
	}
	return rows
}

func sumDays(k model.Kind, days []trialDay) trialRow {
	row := trialRow{Kind: k, Days: len(days)}
	var delays []time.Duration
	for _, d := range days {
		row.Redrawn += d.Redrawn
		if d.Right {
			row.Right++
		} else {
			row.Missed = append(row.Missed, d.Seed)
		}
		if !d.Named.IsZero() {
			delays = append(delays, d.Delay)
		}
	}
	if len(delays) > 0 {
		slices.Sort(delays)
		row.Median, row.Worst = delays[len(delays)/2], delays[len(delays)-1]
	}
	return row
}

// Right counts the days whose fault was named right in time.
func (r trialResult) Right() int {
	n := 0
	for _, d := range r.Faulty {
		if d.Right {
			n++
		}
	}
	return n
}

// falseAlarms counts those of some days, and lists by number the days that
// had any.
func falseAlarms(days []trialDay) (n int, seeds []uint64) {
	for _, d := range days {
		if n += len(d.False); len(d.False) > 0 {
			seeds = append(seeds, d.Seed)
		}
	}
	return n, seeds
}

// printTrial prints the table of a trial and what it comes to.
func printTrial(out io.Writer, r trialResult) error {
	within := fmt.Sprintf("%.0f min", trialWithin.Minutes())
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "fault\tdays\tnamed right within %s\tmedian delay\tworst delay\tdrawn again\tmissed, by seed\n", within)
	redrawn := 0
	for _, row := range r.Rows() {
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\t%s\t%d\t%s\n", row.Kind, row.Days, row.Right, minutesOf(row.Median), minutesOf(row.Worst), row.Redrawn, listOf(row.Missed))
		redrawn += row.Redrawn
	}
	n, right := len(r.Faulty), r.Right()
	fmt.Fprintf(t, "all\t%d\t%d\t\t\t%d\n", n, right, redrawn)
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nNamed right within %s of being knowable: %d of %d faults, %.1f %%.\n", within, right, n, 100*float64(right)/float64(n))
	free, freeSeeds := falseAlarms(r.Free)
	fmt.Fprintf(out, "Days without a fault: %d; false alarms about the control: %d%s.\n", len(r.Free), free, bySeed(freeSeeds))
	other, otherSeeds := falseAlarms(r.Faulty)
	fmt.Fprintf(out, "On the days with a fault, alarms about drives that it does not touch: %d%s.\n", other, bySeed(otherSeeds))
	return nil
}

func minutesOf(d time.Duration) string { return fmt.Sprintf("%.1f min", d.Minutes()) }

func listOf(seeds []uint64) string {
	if len(seeds) == 0 {
		return "none"
	}
	return strings.Trim(strings.ReplaceAll(fmt.Sprint(seeds), " ", ", "), "[]")
}

func bySeed(seeds []uint64) string {
	if len(seeds) == 0 {
		return ""
	}
	return " (seed " + listOf(seeds) + ")"
}

func trialClock(t time.Time) string { return t.Format("2 Jan 15:04:05") }

// printTrialDay prints a day and all that a person would be told in it; what is
// false is marked.
func printTrialDay(out io.Writer, d trialDay) {
	fmt.Fprintf(out, "Seed %d, %s, season %s, %s: ", d.Seed, d.Date, d.Season, d.Garden)
	switch {
	case d.Fault == "":
		fmt.Fprintln(out, "no fault.")
	case d.Named.IsZero():
		fmt.Fprintf(out, "%s from %s to %s, knowable at %s, never named.\n", d.Fault, trialClock(d.Began), trialClock(d.Ended), trialClock(d.Knowable))
	default:
		fmt.Fprintf(out, "%s from %s to %s, knowable at %s, named at %s as %s.\n", d.Fault, trialClock(d.Began), trialClock(d.Ended), trialClock(d.Knowable), trialClock(d.Named), d.As)
	}
	for _, a := range d.Told {
		mark := " "
		if slices.Contains(d.False, a) {
			mark = "!"
		}
		fmt.Fprintf(out, " %s%s  %s\n", mark, trialClock(a.At), a.Sentence)
	}
	fmt.Fprintln(out)
}

func TestTheTableOfATrialAddsUp(t *testing.T) {
	at := time.Date(2026, time.July, 1, 12, 0, 0, 0, time.UTC)
	named := func(seed uint64, k model.Kind, after time.Duration) trialDay {
		return trialDay{Seed: seed, Kind: k, Knowable: at, Named: at.Add(after), Delay: after, Right: after <= trialWithin, Redrawn: 2}
	}
	r := trialResult{
		Faulty: []trialDay{
			named(1, model.HeaterDead, time.Minute), named(2, model.FanDead, 3*time.Minute),
			named(3, model.FanDead, 16*time.Minute), {Seed: 4, Kind: model.FanDead, Knowable: at},
			named(5, model.FanDead, 5*time.Minute),
		},
		Free: []trialDay{{Seed: 1}, {Seed: 2, False: make([]trialAlarm, 3)}, {Seed: 3, False: make([]trialAlarm, 1)}},
	}
	rows := r.Rows()
	if len(rows) != 2 || rows[0].Kind != model.FanDead || rows[1].Kind != model.HeaterDead {
		t.Fatalf("rows %+v, want one for each of two kinds, by name", rows)
	}
	fan := rows[0]
	if fan.Days != 4 || fan.Right != 2 || fan.Median != 5*time.Minute || fan.Worst != 16*time.Minute || fan.Redrawn != 6 {
		t.Errorf("row %+v, want 4 days, 2 right, median 5 min, worst 16 min, 6 drawn again", fan)
	}
	if !slices.Equal(fan.Missed, []uint64{3, 4}) {
		t.Errorf("missed seeds %v, want the late one and the one never named", fan.Missed)
	}
	days, right := 0, 0
	for _, row := range rows {
		days, right = days+row.Days, right+row.Right
	}
	if days != len(r.Faulty) || right != r.Right() || right != 3 {
		t.Errorf("rows hold %d days and %d right, the result %d and %d", days, right, len(r.Faulty), r.Right())
	}
	if n, seeds := falseAlarms(r.Free); n != 4 || !slices.Equal(seeds, []uint64{2, 3}) {
		t.Errorf("%d false alarms of seeds %v, want 4 of 2 and 3", n, seeds)
	}
}
