package main

import (
	"cmp"
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"telltale/deploy"
)

// version and revision are set by the linker for what is handed out:
// -ldflags "-X main.version=1.2.3 -X main.revision=0123abcd".
var version, revision string

// build returns version and revision, as far as they are known.
func build() (ver, rev string) {
	ver, rev = version, revision
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ver, rev
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" && rev == "" {
			rev = s.Value
		}
	}
	ver = cmp.Or(ver, info.Main.Version)
	return ver, rev
}

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use: "version", Short: "Print version, revision and Go version", Args: alone,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(cmd.OutOrStdout(), versionLine())
			return err
		},
	}
}

// versionLine is what version and --version print.
func versionLine() string {
	ver, revision := build()
	revision = cmp.Or(revision, "unknown revision")
	return fmt.Sprintf("telltale %s (%s, %s %s/%s)\n", ver, revision, runtime.Version(), runtime.GOOS, runtime.GOARCH)
}

func newNotices() *cobra.Command {
	return &cobra.Command{
		Use: "notices", Short: "Print the licences of what this program is put together from", Args: alone,
		RunE: func(cmd *cobra.Command, _ []string) error {
			_, err := fmt.Fprint(cmd.OutOrStdout(), deploy.Notices)
			return err
		},
	}
}
