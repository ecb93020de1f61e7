package main

import (
	"context"
	"errors"
	"fmt"
	"io"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/store"
	"telltale/gateway/store/copies"
)

func newBackup() *cobra.Command {
	return &cobra.Command{
		Use: "backup FILE DIR", Short: "Copy all that a watch keeps into a directory, while it runs or not",
		Long: "Copies the store of the watch that the config FILE describes into a new directory in DIR,\n" +
			"with the config, the secrets and certificates that it names, and the page's keys: all that\n" +
			"another machine needs. The watch may run. A copy has its name only once it was read back\n" +
			"and brought to life; of older ones of the same store as many stay as [copies] keep says, 7\n" +
			"if it says nothing. Whoever can read a copy can read the secrets: keep it accordingly.\n" +
			"A watch with [copies] in its config makes them by itself.",
		Args: needs(2, 2, "a config file, then of the directory for copies"),
		RunE: func(cmd *cobra.Command, args []string) error {
			c, err := load(args[0], cmd.ErrOrStderr())
			if err != nil {
				return err
			}
			ver, _ := build()
			made, err := copies.Make(cmd.Context(), gateway.CopySource(c), copies.Target{Dir: args[1], Keep: c.Copies.Keep, Version: ver, Now: time.Now})
			if made.Path == "" {
				return ofStore(err)
			}
			if err != nil {
				fmt.Fprintf(cmd.ErrOrStderr(), "telltale: %v\n", err)
			}
			return sayMade(cmd.OutOrStdout(), c, made)
		},
	}
}

func sayMade(out io.Writer, c *config.Config, made copies.Copy) error {
	until := "with nothing measured yet"
	if !made.Last.IsZero() {
		until = "with all until " + say.Of(&c.Plan).Moment(made.Last)
	}
	_, err := fmt.Fprintf(out, "Good: %s, %s, %s. It holds the config and %s that it names.\n",
		made.Path, copies.Megabytes(made.Bytes), until, count(len(made.Named()), "file"))
	if len(c.FromEnv) > 0 {
		_, err2 := fmt.Fprintf(out, "Not in it, because they stand in environment variables: %s.\n", strings.Join(c.FromEnv, ", "))
		err = errors.Join(err, err2)
	}
	return err
}

// ofStore marks what is wrong with the store for its exit code.
func ofStore(err error) error {
	if errors.Is(err, store.ErrNewer) || errors.Is(err, store.ErrNone) || errors.Is(err, store.ErrDamaged) || errors.Is(err, store.ErrInUse) {
		return storeFault{err}
	}
	return err
}

// storeFault is an error that is gateway.ErrStore too.
type storeFault struct{ error }

func (storeFault) Is(target error) bool { return target == gateway.ErrStore }

func newRestore() *cobra.Command {
	return &cobra.Command{
		Use: "restore COPY FILE", Short: "Put a copy that backup made in the place of the store",
		Long: "Reads COPY whole, then puts it in the place of the store of the config FILE. Config, secrets\n" +
			"and certificates are put where they are missing; what is there stays. A store that is there\n" +
			"is renamed, not removed; while a watch runs on it nothing is done. Messages that waited when\n" +
			"the copy was made are not sent. The watch tells at its next start what is missing.",
		Args: needs(2, 2, "a copy, then of the config file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return restore(cmd.Context(), args[0], args[1], cmd.OutOrStdout(), cmd.ErrOrStderr())
		},
	}
}

func restore(ctx context.Context, from, file string, out, errOut io.Writer) error {
	made, err := copies.Open(ctx, from)
	if err != nil {
		return err
	}
	placed, err := made.PutConfig(file, os.Getenv("CREDENTIALS_DIRECTORY"))
	for _, f := range placed.Written {
		fmt.Fprintf(out, "%s was missing and is put there.\n", f)
	}
	for _, f := range placed.Differ {
		fmt.Fprintf(out, "%s is there already, is not as in the copy, and stays.\n", f)
	}
	for _, f := range placed.Left {
		fmt.Fprintf(out, "%s is missing; it is %s in the copy: put it there yourself.\n", f.As, f.Path)
	}
	if err != nil {
		return err
	}
	c, err := load(file, errOut)
	if err != nil {
		return err
	}
	r, err := copies.PutBack(ctx, made, gateway.CopyInto(c, time.Now()))
	if err != nil {
		return ofStore(err)
	}
	if r.Aside != "" {
		fmt.Fprintf(out, "The store that was there is now %s. Remove it when you no longer want it.\n", r.Aside)
	}
	words := c.Plan.Words
	words.Tongue = tongue.English // as all that commands say
	_, err = fmt.Fprintf(out, "Good: %s. It is %s; start the watch, which will tell this too.\n", say.In(words).Kept(r.Words, time.Now()), c.Store.Directory)
	return err
}
