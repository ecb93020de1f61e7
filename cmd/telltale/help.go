package main

import "github.com/spf13/cobra"

func newHelp() *cobra.Command {
	return &cobra.Command{
		Use: "help [COMMAND]", Short: "Show what a command does, and its flags",
		RunE: func(cmd *cobra.Command, args []string) error {
			about, rest, err := cmd.Root().Find(args)
			if err == nil && len(rest) > 0 {
				err = aCommand(cmd.Root(), rest)
			}
			if err != nil {
				return usage(err)
			}
			about.InitDefaultHelpFlag()
			return about.Help()
		},
	}
}
