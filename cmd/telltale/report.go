package main

import (
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/offline"
	"telltale/gateway/page/reports"
	"telltale/gateway/store"
)

// reportKinds are what a report may be of.
var reportKinds = []string{"day", "week", "season", "span"}

type reportFlags struct {
	house string
	of    reports.Of
	out   string
	csv   bool
}

func newReport() *cobra.Command {
	f := reportFlags{}
	c := &cobra.Command{
		Use: "report FILE", Short: "Write a report on a house over a day, a week or a season, to keep or to print",
		Long: "Write a report on a house from the store of a config: extremes, hours beyond limits, what was\n" +
			"not seen, what the drives did, the load of alarms, who was told, and what people did. It is one\n" +
			"file of HTML in the words of the page; with --csv the figures too, as a table with the columns\n" +
			"section, item, quantity, value, unit and at. The watch may run meanwhile.",
		Example: "  telltale report thimble-garth.toml --of week --on 2026-06-21\n" +
			"  telltale report thimble-garth.toml --house low-house --of season --out reports --csv",
		Args: oneConfig,
		RunE: func(cmd *cobra.Command, args []string) error { return f.run(cmd, args[0]) },
	}
	c.Flags().StringVar(&f.house, "house", "", "the house; default the first one")
	c.Flags().StringVar(&f.of.Kind, "of", "day", "day, week (from a Monday), season, or span with --from and --to")
	c.Flags().StringVar(&f.of.On, "on", "", "a day of it, as 2026-06-21; default today")
	c.Flags().StringVar(&f.of.From, "from", "", "first day of a span")
	c.Flags().StringVar(&f.of.To, "to", "", "last day of a span")
	c.Flags().StringVar(&f.out, "out", ".", "file to write, or a folder to put it into")
	c.Flags().BoolVar(&f.csv, "csv", false, "write the figures as a table too, beside it, ending in .csv")
	f.completions(c)
	return c
}

// completions let a shell offer the kinds, and the houses of the config.
func (f *reportFlags) completions(c *cobra.Command) {
	kinds := cobra.FixedCompletions(reportKinds, cobra.ShellCompDirectiveNoFileComp)
	houses := func(_ *cobra.Command, args []string, _ string) (names []string, d cobra.ShellCompDirective) {
		if len(args) == 1 {
			if cfg, _ := config.Load(args[0], os.LookupEnv); cfg != nil {
				names = walk.Each(cfg.Plan.Houses, func(h alarms.House) string { return string(h.ID) })
			}
		}
		return names, cobra.ShellCompDirectiveNoFileComp
	}
	_ = c.RegisterFlagCompletionFunc("of", kinds)     // an error is a flag that is not there
	_ = c.RegisterFlagCompletionFunc("house", houses) // likewise
}

func (f *reportFlags) run(cmd *cobra.Command, file string) error {
	kinds := map[string]string{}
	for _, k := range reportKinds {
		kinds[k] = k
	}
	if _, err := oneOf("--of", f.of.Kind, kinds); err != nil {
		return err
	}
	cfg, err := load(file, cmd.ErrOrStderr())
	if err != nil {
		return err
	}
	s, closeStore, err := store.OpenToRead(cfg.Store.Directory, store.Options{})
	if err != nil {
		return storeFault{err}
	}
	m, err := offline.MakeReport(cmd.Context(), offline.ReportOptions{Config: cfg, Store: s, House: alarms.HouseID(f.house), Of: f.of, Now: time.Now()})
	if err := errors.Join(asAsked(err), closeStore()); err != nil {
		return err
	}
	name := f.out
	if info, err := os.Stat(name); err == nil && info.IsDir() {
		name = filepath.Join(name, m.Name+".html")
	}
	if err := writeFile(name, m.WriteHTML); err != nil {
		return err
	}
	done := fmt.Sprintf("Wrote the report on %s to %s", m.On, name)
	if f.csv {
		figures := strings.TrimSuffix(name, filepath.Ext(name)) + ".csv"
		if err := writeFile(figures, m.WriteCSV); err != nil {
			return err
		}
		done += ", and its figures to " + figures
	}
	_, err = fmt.Fprintln(cmd.OutOrStdout(), done+".")
	return err
}

// writeFile writes a file whole, or not at all.
func writeFile(name string, write func(io.Writer) error) (err error) {
	t, err := os.CreateTemp(filepath.Dir(name), ".report-*")
	if err != nil {
		return fmt.Errorf("the report cannot be written: %w", err)
	}
	defer func() {
		if err != nil {
			err = errors.Join(err, os.Remove(t.Name()))
		}
	}()
	if err := errors.Join(write(t), t.Chmod(0o644), t.Close()); err != nil {
		return fmt.Errorf("the report cannot be written: %w", err)
	}
	if err := os.Rename(t.Name(), name); err != nil {
		return fmt.Errorf("the report cannot be written: %w", err)
	}
	return nil
}
