package main

import (
	"errors"
	"fmt"
	"maps"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"telltale/alarms"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/offline"
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
	return fmt.Errorf("there is no command %q%s", args[0], config.Meant(args[0], walk.Each(root.Commands(), (*cobra.Command).Name)))
}

// aFlag adds to the error of a flag that there is not which one may be meant.
func aFlag(cmd *cobra.Command, err error) error {
	var named interface {
		error
		GetSpecifiedName() string
	}
	if !errors.As(err, &named) || cmd.Flags().Lookup(named.GetSpecifiedName()) != nil {
		return usage(err)
	}
	var known []string
	cmd.Flags().VisitAll(func(f *pflag.Flag) { known = append(known, f.Name) })
	return usage(fmt.Errorf("%w%s", err, config.Meant(named.GetSpecifiedName(), known)))
}

// asAsked marks what is wrong with what was asked for as a bad command line.
func asAsked(err error) error {
	if errors.Is(err, offline.ErrAsked) {
		return usage(err)
	}
	return err
}

// oneOf is what a word stands for; one that is not among all is an error with the
// nearest of them. An empty one is zero.
func oneOf[T any](flag, word string, all map[string]T) (v T, err error) {
	v, ok := all[word]
	if known := slices.Sorted(maps.Keys(all)); !ok && word != "" {
		err = usage(fmt.Errorf("%s is %q, want %s%s", flag, word, alarms.Either(known), config.Meant(word, known)))
	}
	return v, err
}
