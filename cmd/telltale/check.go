package main

import (
	"fmt"
	"io"
	"os"

	"github.com/spf13/cobra"

	"telltale/gateway/config"
	"telltale/gateway/record"
)

func newCheck() *cobra.Command {
	return &cobra.Command{
		Use: "check FILE", Short: "Tell every problem of a config file at once, each with its line",
		Args: oneConfig,
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := load(args[0], cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			_, err = fmt.Fprintln(cmd.OutOrStdout(), "Good: "+summary(c))
			return err
		},
	}
}

// load reads a config and writes all its problems; with warnings alone it is
// good.
func load(file string, out io.Writer) (*config.Config, error) {
	c, problems := config.Load(file, os.LookupEnv)
	for _, p := range problems {
		fmt.Fprintln(out, p)
	}
	if n := len(problems.Errors()); n > 0 && nothingYet(file) {
		fmt.Fprintf(out, "%s names no house yet: nothing would be watched. telltale watch %s helps to set one up on its page.\n", file, file)
		return nil, fmt.Errorf("%w: %s", errConfig, file)
	} else if n > 0 {
		fmt.Fprintf(out, "%s has %s; the watch cannot run with it.\n", file, count(n, "problem"))
		return nil, fmt.Errorf("%w: %s", errConfig, file)
	}
	return c, nil
}

func summary(c *config.Config) string {
	places, probes := 0, 0
	for _, h := range c.Plan.Houses {
		places += len(h.Places)
		for _, p := range h.Places {
			probes += len(p.Probes)
		}
	}
	return fmt.Sprintf("%s, %s, %s, %s to tell.", count(len(c.Plan.Houses), "house"), count(places, "place"),
		count(probes, "probe"), people(c.Reach.Hearers()))
}

func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return record.Thousands(uint64(n)) + " " + what + "s"
}

func people(n int) string {
	switch n {
	case 0:
		return "nobody"
	case 1:
		return "1 person"
	}
	return fmt.Sprintf("%d people", n)
}
