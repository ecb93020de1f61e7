package main

import (
	"fmt"
	"runtime"
	"runtime/debug"

	"github.com/spf13/cobra"

	"telltale/deploy"
)

// version is set by the linker for a release: -ldflags "-X main.version=1.2.3".
var version = ""

// build returns version and revision, as far as they are known.
func build() (ver, revision string) {
	ver = version
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return ver, ""
	}
	for _, s := range info.Settings {
		if s.Key == "vcs.revision" {
			revision = s.Value
		}
	}
	if ver == "" {
		ver = info.Main.Version
	}
	return ver, revision
}

func newVersion() *cobra.Command {
	return &cobra.Command{
		Use: "version", Short: "Print version, revision and Go version", Args: alone,
		RunE: func(cmd *cobra.Command, _ []string) error {
			ver, revision := build()
			if revision == "" {
				revision = "unknown revision"
			}
			_, err := fmt.Fprintf(cmd.OutOrStdout(), "telltale %s (%s, %s %s/%s)\n", ver, revision, runtime.Version(), runtime.GOOS, runtime.GOARCH)
			return err
		},
	}
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
