package main

import (
	"errors"
	"fmt"
	"io"
	"math"
	"strings"

	"github.com/spf13/cobra"

	"telltale/alarms/ground"
	"telltale/gateway/offline"
)

func newGround() *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use: "ground CONFIG FILE...", Short: "Fit the ground's temperature to a year of recorded outlet readings",
		Long: "Fit mean, swing, coldest day and diffusivity of the ground to recorded readings of the loop's\n" +
			"outlets (.csv, or line protocol as the export writes it), each with its 95 % interval, and print\n" +
			"them as they would stand in the config. A year or more is needed, and two depths are much better.",
		Args: needs(2, math.MaxInt, "a config file, then of one file or more with readings"),
		RunE: func(cmd *cobra.Command, args []string) error { return f.fitGround(cmd, args[0], args[1:]) },
	}
	f.tableFlags(c)
	return c
}

func (f *replayFlags) fitGround(cmd *cobra.Command, file string, data []string) error {
	o, err := f.options(cmd, file, data)
	if err != nil {
		return err
	}
	r, err := offline.OpenRecording(o)
	if err != nil {
		return asAsked(err)
	}
	all, err := offline.FitGround(r)
	if err := errors.Join(err, r.Close()); err != nil {
		return err
	}
	out := cmd.OutOrStdout()
	for _, g := range all {
		printGround(out, g, o.Config.Plan.Words.Fahrenheit)
	}
	printBad(out, r)
	_, err = fmt.Fprintln(out, fitted(all, data))
	return err
}

// fitted says what was done.
func fitted(all []offline.FittedGround, files []string) string {
	days, fits := 0, 0
	for _, g := range all {
		if g.Err == nil {
			days, fits = days+g.Days, fits+1
		}
	}
	return fmt.Sprintf("Read %s: the ground below %d of %s with a loop is fitted, to %s; the config is as it was.",
		strings.Join(files, ", "), fits, count(len(all), "house"), count(days, "daily mean"))
}

func printGround(out io.Writer, g offline.FittedGround, fahrenheit bool) {
	if g.Err != nil {
		fmt.Fprintf(out, "%s: no fit from %s: %v.\n", g.House, count(g.Days, "daily mean"), g.Err)
		return
	}
	fmt.Fprintf(out, "%s, from %s; in brackets where the value lies with 95 in 100 chances:\n\n[house.%s.loop.soil]\n", g.House, count(g.Days, "daily mean"), g.House)
	line := func(key string, e ground.Estimate, unit string, decimals int) {
		fmt.Fprintf(out, "%s = %.*f  # %s [%.*f to %.*f]\n", key, decimals, e.Value, unit, decimals, e.Low, decimals, e.High)
	}
	mean, swing, degree := g.Fit.Mean, g.Fit.Swing, "°C"
	if fahrenheit {
		mean, swing, degree = scaled(mean, 32), scaled(swing, 0), "°F"
	}
	line("mean", mean, degree, 2)
	line("swing", swing, degree+", at the surface", 2)
	line("coldest-day", g.Fit.Coldest, "day of the year", 0)
	line("diffusivity", g.Fit.Diffusivity, "m² a day", 4)
	if g.Fit.Disagree > 4 {
		fmt.Fprintf(out, "# The depths do not agree on one soil (%.1f, more than 4 is much): do the outlets show the ground?\n", g.Fit.Disagree)
	}
	fmt.Fprintln(out)
}

// scaled puts an estimate in °F; a difference has no offset.
func scaled(e ground.Estimate, offset float64) ground.Estimate {
	f := func(v float64) float64 { return v*9/5 + offset }
	return ground.Estimate{Value: f(e.Value), Low: f(e.Low), High: f(e.High)}
}
