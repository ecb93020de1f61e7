package main

import (
	"fmt"
	"io"
	"os"
	"path/filepath"

	"github.com/spf13/cobra"

	"telltale/gateway/config"
	"telltale/gateway/record"
	"telltale/gateway/store/copies"
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
			_, err = fmt.Fprintln(cmd.OutOrStdout(), "Good: "+summary(c)+copiesAdvice(c))
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

// copiesAdvice says where the copies are not what they could be.
func copiesAdvice(c *config.Config) string {
	dir, stored := c.Copies.Directory, c.Store.Directory
	info, err := os.Stat(dir)
	if _, err := os.Stat(stored); err != nil { // it is made there by the first run
		stored = filepath.Dir(stored)
	}
	switch {
	case dir == "":
		return "\nAdvice: no copies are made of what the watch keeps. Give [copies] a directory on another disk, or run telltale backup now and then."
	case err != nil || !info.IsDir():
		return "\nAdvice: " + dir + ", where copies go, is not there now; the watch makes no directory for them."
	case copies.SameDisk(dir, stored):
		return "\nAdvice: copies go to the disk of the store, and die with it: is " + dir + " to be another one, and not mounted?"
	}
	return ""
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
