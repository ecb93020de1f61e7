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

// oneConfig demands the name of a config.
func oneConfig(cmd *cobra.Command, args []string) error {
	if len(args) != 1 {
		return fmt.Errorf("%s needs the name of one config file (%s)", cmd.Name(), given(args))
	}
	return nil
}

// configAndData demands the name of a config and of what is to be judged.
func configAndData(cmd *cobra.Command, args []string) error {
	if len(args) < 2 {
		return fmt.Errorf("%s needs the name of a config file, then of one file or more with readings (%s)", cmd.Name(), given(args))
	}
	return nil
}

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
