package main

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"
)

// alone demands that nothing follows the command but flags.
func alone(cmd *cobra.Command, args []string) error {
	if len(args) > 0 {
		return fmt.Errorf("%s takes flags alone (got %q)", cmd.Name(), strings.Join(args, " "))
	}
	return nil
}

// needs demands as many names behind the command as what it needs has.
func needs(least, most int, what string) cobra.PositionalArgs {
	return func(cmd *cobra.Command, args []string) error {
		if len(args) < least || len(args) > most {
			return fmt.Errorf("%s needs the name of %s (%s)", cmd.Name(), what, given(args))
		}
		return nil
	}
}

var oneConfig = needs(1, 1, "one config file")

// someData demands what is to be judged, perhaps behind the name of a config.
func someData(cmd *cobra.Command, args []string) error {
	if len(args) == 0 || len(args) == 1 && strings.HasSuffix(args[0], ".toml") {
		return fmt.Errorf("%s needs the name of one file or more with readings, perhaps behind that of a config (%s)", cmd.Name(), given(args))
	}
	return nil
}

func given(args []string) string {
	if len(args) == 0 {
		return "none is given"
	}
	return fmt.Sprintf("got %q", strings.Join(args, " "))
}

// aCommand says that the first word is no command, and which one may be meant.
func aCommand(root *cobra.Command, args []string) error {
	if len(args) == 0 {
		return nil
	}
	text := fmt.Sprintf("there is no command %q", args[0])
	if near := root.SuggestionsFor(args[0]); len(near) > 0 {
		text += fmt.Sprintf("; did you mean %q?", near[0])
	}
	return errors.New(text)
}
