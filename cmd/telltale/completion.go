package main

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"telltale/gateway/config"
)

// shells are those that can complete our commands, each with how its script is
// written.
var shells = []struct {
	name  string
	write func(root *cobra.Command, to io.Writer) error
}{
	{"bash", func(root *cobra.Command, to io.Writer) error { return root.GenBashCompletionV2(to, true) }},
	{"zsh", func(root *cobra.Command, to io.Writer) error { return root.GenZshCompletion(to) }},
	{"fish", func(root *cobra.Command, to io.Writer) error { return root.GenFishCompletion(to, true) }},
	{"powershell", func(root *cobra.Command, to io.Writer) error { return root.GenPowerShellCompletionWithDesc(to) }},
}

func newCompletion() *cobra.Command {
	var known []string
	for _, s := range shells {
		known = append(known, s.name)
	}
	return &cobra.Command{
		Use: "completion SHELL", Short: "Print a script by which a shell completes our commands and flags",
		Long: "Print a script by which a shell completes our commands and flags: " + strings.Join(known, ", ") + ".\n" +
			"Have the shell read it when it starts.",
		Example:   "  source <(telltale completion bash)\n  telltale completion fish | source",
		ValidArgs: known,
		Args:      needs(1, 1, "one shell: "+strings.Join(known, ", ")),
		RunE: func(cmd *cobra.Command, args []string) error {
			for _, s := range shells {
				if s.name == args[0] {
					return s.write(cmd.Root(), cmd.OutOrStdout())
				}
			}
			return usage(fmt.Errorf("completion for the shell %q is not known%s", args[0], config.OrList(args[0], known, "shells")))
		},
	}
}
