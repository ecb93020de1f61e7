package main

import (
	"context"
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"
	"text/tabwriter"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/model"
)

type trialFlags struct {
	days    int
	seed    uint64
	fault   string
	verbose bool
	asJSON  bool
}

func newTrial() *cobra.Command {
	var f trialFlags
	c := &cobra.Command{
		Use: "trial", Short: "Put the judging of the mechanical control on trial in the simulated garden",
		Long: "Let the simulated garden live through random days of summer and winter by turns, with one\n" +
			"fault each, and through as many days without, and print how soon each fault was named\n" +
			"right once the house showed it, and how often an alarm about the control was false. The\n" +
			"readings take the way of live ones, but the clock is the garden's: it needs no broker.\n\n" +
			"A fault is knowable from the first moment at which a drive has done, for all the time\n" +
			"that the config allows, what no thermostat within the tolerance of its dial would do; a\n" +
			"drifted dial when it has switched six times; a tripped breaker when its slowest probe may\n" +
			"be silent no longer. A day on which the fault never showed is drawn again. Only drives\n" +
			"that a probe shows are tried, and circuits that feed two probes or more.\n\n" +
			"The garden is fitted out by chance: dials off within their tolerance, probes that report\n" +
			"as laid out or every 5 or 15 minutes, an exhaust fan of two speeds or with a signal of\n" +
			"its speed, and the mild climate or that of a cold interior. Where probes report seldom, a\n" +
			"fault is knowable two reports later, and no drifted dial is tried.",
		Example: "  telltale trial\n  telltale trial --seed 17 --days 1 --verbose",
		Args:    alone,
		RunE:    func(cmd *cobra.Command, _ []string) error { return f.run(cmd) },
	}
	c.Flags().IntVar(&f.days, "days", 200, "how many days with a fault, and as many without")
	c.Flags().Uint64Var(&f.seed, "seed", 1, "of the first day; every further day takes the next: odd ones lie in summer")
	c.Flags().StringVar(&f.fault, "fault", "", "only this kind of fault, on the days of its season; default every kind")
	c.Flags().BoolVar(&f.verbose, "verbose", false, "print every day and all that a person would be told in it")
	c.Flags().BoolVar(&f.asJSON, "json", false, "print all days as JSON")
	return c
}

func (f *trialFlags) run(cmd *cobra.Command) error {
	if f.days < 1 || f.days > 100000 {
		return usage(fmt.Errorf("--days is %d, want 1 to 100000", f.days))
	}
	kinds := gateway.TrialKinds()
	if f.fault != "" && !slices.Contains(kinds, model.Kind(f.fault)) {
		return usage(fmt.Errorf("there is no fault %q in a trial; there are %q", f.fault, kinds))
	}
	cfg, problems := config.Parse("demo.toml", demoConfig, os.LookupEnv)
	if err := problems.Err(); err != nil {
		return fmt.Errorf("the demo's own config is bad: %w", err)
	}
	o := gateway.TrialOptions{Config: cfg, Days: f.days, Seed: f.seed, Kind: model.Kind(f.fault)}
	if term.IsTerminal(int(os.Stderr.Fd())) {
		o.Progress = func(done, of int) { fmt.Fprintf(os.Stderr, "\r%d of %d days", done, of) }
	}
	r, err := f.try(cmd.Context(), o)
	if err != nil {
		return err
	}
	if f.asJSON {
		e := json.NewEncoder(cmd.OutOrStdout())
		e.SetIndent("", "  ")
		return e.Encode(trialReport{f.seed, f.days, r.Rows(), r})
	}
	if f.verbose {
		printTrialDays(cmd.OutOrStdout(), r)
	}
	return printTrial(cmd.OutOrStdout(), r)
}

func (f *trialFlags) try(ctx context.Context, o gateway.TrialOptions) (gateway.TrialResult, error) {
	r, err := gateway.Trial(ctx, o)
	if o.Progress != nil {
		fmt.Fprint(os.Stderr, "\r")
	}
	return r, err
}

// trialReport is what --json prints.
type trialReport struct {
	Seed uint64             `json:"seed"`
	Days int                `json:"days"`
	Rows []gateway.TrialRow `json:"rows"`
	gateway.TrialResult
}

func printTrial(out io.Writer, r gateway.TrialResult) error {
	within := fmt.Sprintf("%.0f min", gateway.TrialWithin.Minutes())
	t := tabwriter.NewWriter(out, 0, 0, 2, ' ', 0)
	fmt.Fprintf(t, "fault\tdays\tnamed right within %s\tmedian delay\tworst delay\tdrawn again\tmissed, by seed\n", within)
	redrawn := 0
	for _, row := range r.Rows() {
		fmt.Fprintf(t, "%s\t%d\t%d\t%s\t%s\t%d\t%s\n", row.Kind, row.Days, row.Right, minutes(row.Median), minutes(row.Worst), row.Redrawn, list(row.Missed))
		redrawn += row.Redrawn
	}
	n, right := len(r.Faulty), r.Right()
	fmt.Fprintf(t, "all\t%d\t%d\t\t\t%d\n", n, right, redrawn)
	if err := t.Flush(); err != nil {
		return err
	}
	fmt.Fprintf(out, "\nNamed right within %s of being knowable: %d of %d faults, %.1f %%.\n", within, right, n, 100*float64(right)/float64(n))
	free, freeSeeds := gateway.FalseAlarms(r.Free)
	fmt.Fprintf(out, "Days without a fault: %d; false alarms about the control: %d%s.\n", len(r.Free), free, bySeed(freeSeeds))
	other, otherSeeds := gateway.FalseAlarms(r.Faulty)
	fmt.Fprintf(out, "On the days with a fault, alarms about drives that it does not touch: %d%s.\n", other, bySeed(otherSeeds))
	return nil
}

func minutes(d time.Duration) string { return fmt.Sprintf("%.1f min", d.Minutes()) }

func list(seeds []uint64) string {
	if len(seeds) == 0 {
		return "none"
	}
	return strings.Trim(strings.ReplaceAll(fmt.Sprint(seeds), " ", ", "), "[]")
}

func bySeed(seeds []uint64) string {
	if len(seeds) == 0 {
		return ""
	}
	return " (seed " + list(seeds) + ")"
}

func printTrialDays(out io.Writer, r gateway.TrialResult) {
	for _, d := range r.Faulty {
		fmt.Fprintf(out, "Seed %d, %s, season %s, %s: %s from %s to %s, knowable at %s, ", d.Seed, d.Date, d.Season, d.Garden, d.Fault,
			clock(d.Began), clock(d.Ended), clock(d.Knowable))
		if d.Named.IsZero() {
			fmt.Fprintln(out, "never named.")
		} else {
			fmt.Fprintf(out, "named at %s as %s.\n", clock(d.Named), d.As)
		}
		printTold(out, d)
	}
	for _, d := range r.Free {
		fmt.Fprintf(out, "Seed %d, %s, season %s, %s: no fault.\n", d.Seed, d.Date, d.Season, d.Garden)
		printTold(out, d)
	}
}

func clock(t time.Time) string { return t.Format("2 Jan 15:04:05") }

func printTold(out io.Writer, d gateway.TrialDay) {
	for _, a := range d.Told {
		mark := " "
		if slices.Contains(d.False, a) {
			mark = "!"
		}
		fmt.Fprintf(out, " %s%s  %s\n", mark, clock(a.At), a.Sentence)
	}
	fmt.Fprintln(out)
}
