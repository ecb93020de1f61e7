package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"slices"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"telltale/alarms"
	"telltale/gateway"
)

type replayFlags struct {
	columns []string
	time    string
	zone    string
	asJSON  bool
	all     bool
}

func newReplay() *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use: "replay CONFIG FILE...", Short: "Judge recorded readings as if they arrived now, and print what would have been raised",
		Long: "Judge recorded readings (.csv, or line protocol in files of any other ending) by a config,\n" +
			"with the very core that judges live readings, and print what would have been told.\n" +
			"Nothing is saved and nobody is told.",
		Example: "  telltale replay quarry-bank.toml june.csv --time when --column inside_c=bench-1/temperature",
		Args:    configAndData,
		RunE: func(cmd *cobra.Command, args []string) error {
			return f.run(cmd, args[0], args[1:])
		},
	}
	f.columnFlags(c)
	c.Flags().BoolVar(&f.asJSON, "json", false, "print each transition as a line of JSON")
	c.Flags().BoolVar(&f.all, "all", false, "print every transition, not only what a person would be told")
	return c
}

// columnFlags adds the flags that describe a table of recorded readings.
func (f *replayFlags) columnFlags(c *cobra.Command) {
	c.Flags().StringArrayVar(&f.columns, "column", nil, "a column of a table: header=probe/quantity or header=probe/quantity:unit; may be given often")
	c.Flags().StringVar(&f.time, "time", "time", "header of the column that says when")
	c.Flags().StringVar(&f.zone, "zone", "UTC", "time zone of times that state none")
}

// options reads the config and what the flags say of the files.
func (f *replayFlags) options(cmd *cobra.Command, file string, data []string) (o gateway.ReplayOptions, err error) {
	o.Files, o.Columns.Time = data, f.time
	if o.Config, err = load(file, cmd.ErrOrStderr()); err != nil {
		return o, err
	}
	if o.Columns.Zone, err = time.LoadLocation(f.zone); err != nil {
		return o, usage(err)
	}
	for _, text := range f.columns {
		col, err := gateway.Column(text)
		if err != nil {
			return o, usage(err)
		}
		o.Columns.Cells = append(o.Columns.Cells, col)
	}
	return o, nil
}

func (f *replayFlags) run(cmd *cobra.Command, file string, data []string) error {
	o, err := f.options(cmd, file, data)
	if err != nil {
		return err
	}
	zone, out := o.Config.Plan.Words.Zone, cmd.OutOrStdout()
	if stderr := int(os.Stderr.Fd()); term.IsTerminal(stderr) {
		o.Progress = func(done, of int) { fmt.Fprintf(os.Stderr, "\r%d of %d readings", done, of) }
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	r, err := gateway.Replay(o, func(t alarms.Transition) {
		switch {
		case !f.all && !t.Told():
		case f.asJSON:
			_ = enc.Encode(t) // a closed pipe ends the program by its signal
		default:
			fmt.Fprintf(out, "%s  %-6s  %s\n", t.Due.In(zone).Format("2006-01-02 15:04:05"), t.Priority, t.Sentence)
		}
	})
	if o.Progress != nil {
		fmt.Fprint(os.Stderr, "\r")
	}
	if err != nil {
		return err
	}
	if !f.asJSON {
		printReplayed(out, r)
	}
	return nil
}

func printReplayed(out io.Writer, r gateway.Replayed) {
	fmt.Fprintf(out, "\n%d readings from %s to %s, %s.\n", r.Readings, r.From.Format("2006-01-02 15:04"), r.To.Format("2006-01-02 15:04"),
		count(r.Transitions, "transition"))
	ids := make([]alarms.AlarmID, 0, len(r.Raised))
	for id := range r.Raised {
		ids = append(ids, id)
	}
	slices.Sort(ids)
	for _, id := range ids {
		fmt.Fprintf(out, "%s: raised %s.\n", id, times(r.Raised[id]))
	}
	printBad(out, r)
}

// printBad says what could not be read.
func printBad(out io.Writer, r gateway.Replayed) {
	if r.BadCount > 0 {
		fmt.Fprintf(out, "Not readable: %s, among them:\n", badThings(r.BadCount))
		for _, b := range r.Bad {
			fmt.Fprintln(out, "  "+b)
		}
	}
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
}

func badThings(n uint64) string {
	if n == 1 {
		return "1 cell or line"
	}
	return fmt.Sprintf("%d cells or lines", n)
}
