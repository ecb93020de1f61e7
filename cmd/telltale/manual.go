package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/manual"
)

func newManual() *cobra.Command {
	find := ""
	cmd := &cobra.Command{
		Use: "manual [TOPIC]", Short: "Show the manual: its topics, or one of them",
		Args: cobra.MaximumNArgs(1),
		RunE: func(cmd *cobra.Command, args []string) error {
			switch {
			case find != "" && len(args) > 0:
				return usage(fmt.Errorf("--find searches all topics: leave out %q", args[0]))
			case find != "":
				return printFound(cmd.OutOrStdout(), find)
			case len(args) == 0:
				return printTopics(cmd.OutOrStdout())
			}
			text, err := manual.English.Text(args[0])
			if err != nil {
				return usage(fmt.Errorf("%w%s", err, config.Meant(args[0], walk.Each(manual.English.Topics(), func(t manual.Topic) string { return t.Name }))))
			}
			_, err = fmt.Fprint(cmd.OutOrStdout(), text)
			return err
		},
		ValidArgsFunction: func(*cobra.Command, []string, string) ([]string, cobra.ShellCompDirective) {
			names := walk.Each(manual.English.Topics(), func(t manual.Topic) string { return t.Name + "\t" + t.Title })
			return names, cobra.ShellCompDirectiveNoFileComp
		},
	}
	cmd.Flags().StringVar(&find, "find", "", "show the passages that hold all of these words")
	return cmd
}

func printTopics(w io.Writer) error {
	var b strings.Builder
	for _, t := range manual.English.Topics() {
		fmt.Fprintf(&b, "%-12s %s\n", t.Name, t.Title)
	}
	_, err := fmt.Fprintf(w, "%s\ntelltale manual TOPIC shows one, telltale manual --find WORDS what holds some words.\n", b.String())
	return err
}

func printFound(w io.Writer, words string) error {
	found := manual.English.Find(words)
	if len(found) == 0 {
		return fmt.Errorf("nothing in the manual holds all of %q: try fewer words", words)
	}
	for _, p := range found {
		if _, err := fmt.Fprintf(w, "%s, %s:\n    %s\n\n", p.Name, p.Heading, p.Text); err != nil {
			return err
		}
	}
	return nil
}
