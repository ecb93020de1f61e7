package main

import (
	"fmt"
	"io"
	"net/netip"
	"os"

	"telltale/gateway"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
)

// nothingYet reports whether a file is good but for having nothing to watch.
func nothingYet(file string) bool {
	c, _ := config.LoadToSetUp(file, os.LookupEnv)
	return c != nil
}

// checkFirstAt says what is wrong with the flag --first-at.
func checkFirstAt(at string) error {
	if _, err := netip.ParseAddrPort(at); at != "" && at != gateway.Nowhere && err != nil {
		return fmt.Errorf("--first-at must be an address of this machine with a port, such as 192.168.1.9:8470, or %s (got %q)", gateway.Nowhere, at)
	}
	return nil
}

// loadOrBegin is load for a watch: a file that is not there is begun, and one
// without a house can be set up on the page.
func loadOrBegin(file string, out io.Writer) (*config.Config, error) {
	if _, err := os.Stat(file); os.IsNotExist(err) {
		made, err := edit.Begin(file, os.LookupEnv)
		if err != nil {
			fmt.Fprintf(out, "%s is not there and cannot be begun: %v\n"+
				"Write it first, or set the garden up where telltale watch may write, and copy what it wrote.\n", file, err)
			return nil, fmt.Errorf("%w: %s", errConfig, file)
		}
		if made {
			fmt.Fprintf(out, "%s was not there and was begun.\n", file)
		}
	}
	c, problems := config.LoadToSetUp(file, os.LookupEnv)
	if c == nil {
		return load(file, out)
	}
	for _, p := range problems {
		fmt.Fprintln(out, p)
	}
	return c, nil
}
