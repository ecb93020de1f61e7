// Command telltale watches a greenhouse: see README.md.
package main

import (
	"context"
	"errors"
	"fmt"
	"os"
	"os/signal"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"telltale/gateway"
)

// Exit codes. A service manager must not restart the service on exitConfig.
const (
	exitStopped = 0 // asked to stop
	exitOther   = 1
	exitUsage   = 2 // bad command line
	exitConfig  = 3 // bad config
	exitStore   = 4 // cannot open the store
	exitAddress = 5 // address in use
)

// errUsage and errConfig mark errors for their exit codes.
var (
	errUsage  = errors.New("bad command line")
	errConfig = errors.New("bad config")
)

func main() {
	os.Exit(run(os.Args[1:]))
}

// apart is how long after the first interrupt another one counts as a second:
// a terminal, a shell and a service manager may each send one for one wish.
const apart = time.Second

// obey calls stop at the first signal, and end at the next one that is meant
// as another. It returns then, or when signals is closed.
func obey(signals <-chan os.Signal, stop, end func()) {
	if _, open := <-signals; !open {
		return
	}
	first := time.Now()
	stop()
	for range signals {
		if time.Since(first) >= apart {
			end()
			return
		}
	}
}

// run runs the program and returns its exit code. The first interrupt asks
// to stop, a second one ends at once.
func run(args []string) int {
	ctx, stop := context.WithCancel(context.Background())
	defer stop()
	signals := make(chan os.Signal, 2)
	signal.Notify(signals, os.Interrupt, syscall.SIGTERM)
	defer signal.Stop(signals)
	go obey(signals, stop, func() { os.Exit(exitOther) }) // lives as long as the process
	root := newRoot()
	root.SetArgs(args)
	err := root.ExecuteContext(ctx)
	if err != nil && !errors.Is(err, errConfig) { // config problems are printed in full already
		fmt.Fprintln(os.Stderr, "telltale: "+err.Error())
	}
	return exitCode(err)
}

func exitCode(err error) int {
	switch {
	case err == nil:
		return exitStopped
	case errors.Is(err, errUsage):
		return exitUsage
	case errors.Is(err, errConfig):
		return exitConfig
	case errors.Is(err, gateway.ErrStore):
		return exitStore
	case errors.Is(err, gateway.ErrAddress):
		return exitAddress
	}
	return exitOther
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "telltale",
		Short: "Watch a greenhouse from the house, beside its mechanical thermostat",
		Long: "Telltale watches a greenhouse from the house: it reads cheap probes over MQTT, warns\n" +
			"before heat or cold kills the plants, and says when it has itself gone blind.\n" +
			"It is a backup to the mechanical thermostat, never a replacement: it switches nothing.\n" +
			"It is no fire alarm and no alarm for the safety of people.",
		SilenceUsage: true, SilenceErrors: true,
		Args: aCommand,
		RunE: func(cmd *cobra.Command, _ []string) error {
			return cmd.Help()
		},
	}
	root.Version = versionLine() // gives the root command its flag
	root.SetVersionTemplate("{{.Version}}")
	root.CompletionOptions.DisableDefaultCmd = true
	root.SetHelpCommand(newHelp())
	root.SetFlagErrorFunc(aFlag)
	root.AddCommand(newDemo(), newWatch(), newCheck(), newReplay(), newGround(), newSimulate(), newReport(), newBackup(), newRestore(), newStore(), newPassword(), newVersion(), newNotices(), newManual(), newCompletion())
	for _, c := range append(root.Commands(), root) {
		if args := c.Args; args != nil {
			c.Args = func(cmd *cobra.Command, a []string) error { return usage(args(cmd, a)) }
		}
	}
	return root
}

func usage(err error) error {
	if err == nil {
		return nil
	}
	return fmt.Errorf("%w: %w (telltale help shows what there is)", errUsage, err)
}
