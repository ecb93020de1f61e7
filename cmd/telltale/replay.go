package main

import (
	"encoding/json"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/offline"
	"telltale/gateway/record"
)

type replayFlags struct {
	columns   []string
	time      string
	zone      string
	dates     string
	separator string
	decimal   string
	degrees   string
	crop      string
	asJSON    bool
	outlook   bool
	all       bool
}

func newReplay() *cobra.Command {
	var f replayFlags
	c := &cobra.Command{
		Use: "replay [CONFIG.toml] FILE...", Short: "Judge recorded readings as if they arrived now, and print what would have been raised",
		Long: "Judge recorded readings with the very core that judges live ones, and print what would have been\n" +
			"told, then how that compares with a plain look at the readings. Nothing is saved, nobody is told.\n\n" +
			"A table (CSV, packed by gzip or not) needs no preparation: columns, units, order of the date and\n" +
			"separator are found out and shown first. Without a config the usual limits hold, or --crop's. A\n" +
			"config brings its own limits and more, and can read line protocol too.",
		Example: "  telltale replay june.csv\n" +
			"  telltale replay june.csv --crop tomato --zone CET\n" +
			"  telltale replay thimble-garth.toml june.csv --column inside_c=bench-1/temperature",
		Args: someData,
		RunE: func(cmd *cobra.Command, args []string) error {
			if strings.HasSuffix(args[0], ".toml") {
				return f.run(cmd, args[0], args[1:])
			}
			return f.run(cmd, "", args)
		},
	}
	f.tableFlags(c)
	c.Flags().StringVar(&f.degrees, "degrees", "", "C or F: of temperatures that state no unit, instead of a guess")
	c.Flags().StringVar(&f.crop, "crop", "", "the crop whose limits hold, without a config")
	c.Flags().BoolVar(&f.asJSON, "json", false, "print each transition as a line of JSON; all else goes to standard error")
	c.Flags().BoolVar(&f.outlook, "outlook", false, "print how well it would have been told beforehand that a limit of temperature is reached")
	c.Flags().BoolVar(&f.all, "all", false, "print every transition, not only what a person would be told")
	return c
}

// tableFlags adds the flags that describe a table of recorded readings.
func (f *replayFlags) tableFlags(c *cobra.Command) {
	c.Flags().StringArrayVar(&f.columns, "column", nil, "a column of a table: header=probe/quantity or header=probe/quantity:unit; may be given often, then no other is read")
	c.Flags().StringVar(&f.time, "time", "", "header of the column that says when, or two: Date+Time; instead of a guess")
	c.Flags().StringVar(&f.zone, "zone", "", "time zone of times that state none (the config's, else UTC)")
	c.Flags().StringVar(&f.dates, "dates", "", "month-day, day-month or year-month-day: the order of dates, instead of a guess")
	c.Flags().StringVar(&f.separator, "separator", "", "comma, semicolon, tab or bar between cells, instead of a guess")
	c.Flags().StringVar(&f.decimal, "decimal", "", "point or comma in numbers, instead of a guess")
}

// options reads the config, if there is one, and what the flags say of the files.
func (f *replayFlags) options(cmd *cobra.Command, file string, data []string) (o offline.ReplayOptions, err error) {
	o.Files, o.Crop, o.Outlook, o.Table.Time = data, f.crop, f.outlook, f.time
	if file != "" {
		if o.Config, err = load(file, cmd.ErrOrStderr()); err != nil {
			return o, err
		}
		o.Table.Zone = o.Config.Plan.Words.Zone
		if f.crop != "" {
			return o, usage(fmt.Errorf("--crop is for a replay without a config; %s says what grows", file))
		}
	}
	if f.zone != "" {
		if o.Table.Zone, err = time.LoadLocation(f.zone); err != nil {
			return o, usage(fmt.Errorf("--zone is %q, want a name of the time zone database such as \"UTC\" or \"CET\"%s", f.zone, config.Meant(f.zone, record.Zones)))
		}
	}
	var errs [4]error
	orders := map[string]record.Order{}
	for _, o := range record.Orders {
		orders[string(o)] = o
	}
	o.Table.Dates, errs[0] = oneOf("--dates", f.dates, orders)
	o.Table.Separator, errs[1] = oneOf("--separator", f.separator, map[string]byte{"comma": ',', "semicolon": ';', "tab": '\t', "bar": '|'})
	o.Table.Decimal, errs[2] = oneOf("--decimal", f.decimal, map[string]byte{"point": '.', "comma": ','})
	o.Degrees, errs[3] = oneOf("--degrees", strings.TrimPrefix(f.degrees, "°"), map[string]string{"C": "°C", "F": "°F"})
	for _, err := range errs {
		if err != nil {
			return o, err
		}
	}
	for _, text := range f.columns {
		col, err := offline.ParseColumn(text)
		if err != nil {
			return o, usage(err)
		}
		o.Columns = append(o.Columns, col)
	}
	return o, nil
}

func (f *replayFlags) run(cmd *cobra.Command, file string, data []string) (err error) {
	o, err := f.options(cmd, file, data)
	if err != nil {
		return err
	}
	r, err := offline.OpenRecording(o)
	if err != nil {
		return asAsked(err)
	}
	defer func() {
		if shut := r.Close(); err == nil {
			err = shut
		}
	}()
	zone, out := r.Plan.Words.Zone, cmd.OutOrStdout()
	sheet := out
	if f.asJSON {
		sheet = cmd.ErrOrStderr()
	}
	for _, line := range r.Said {
		fmt.Fprintln(sheet, line)
	}
	fmt.Fprintln(sheet)
	var progress func(uint64)
	if stderr := int(os.Stderr.Fd()); term.IsTerminal(stderr) {
		progress = func(done uint64) { fmt.Fprintf(os.Stderr, "\r%s readings ", record.Thousands(done)) }
	}
	enc := json.NewEncoder(out)
	enc.SetEscapeHTML(false)
	got, err := r.Run(progress, func(t alarms.Transition) {
		switch {
		case !f.all && !t.Told():
		case f.asJSON:
			_ = enc.Encode(t) // a closed pipe ends the program by its signal
		default:
			fmt.Fprintf(out, "%s  %-6s  %s\n", t.Due.In(zone).Format("2006-01-02 15:04:05"), t.Priority, t.Sentence)
		}
	})
	if progress != nil {
		fmt.Fprint(os.Stderr, "\r")
	}
	if err != nil {
		return err
	}
	printSheet(sheet, got, say.Of(&r.Plan))
	for _, o := range got.Outlooks {
		printOutlook(sheet, o, say.Of(&r.Plan))
	}
	printBad(sheet, r)
	return nil
}

// printBad says what could not be read.
func printBad(out io.Writer, r *offline.Recording) {
	if all := r.Faults(); len(all) > 0 {
		fmt.Fprintln(out, "Not readable:")
		for _, line := range all {
			fmt.Fprintln(out, "  "+line)
		}
	}
}

func times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%s times", record.Thousands(uint64(n)))
}
