// Package loopback tells what only this machine can reach: there passwords may be
// left out, and texts that nobody else may read may go unprotected. A name other
// than localhost is not looked up: it counts as reachable by others.
package loopback

import (
	"net"
	"net/netip"
	"strings"
)

// Host reports whether host, a name or a number without port, is this machine.
func Host(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	ip, err := netip.ParseAddr(strings.Trim(host, "[]"))
	return err == nil && ip.Unmap().IsLoopback()
}

// Address reports whether address, host:port, is one of this machine.
func Address(address string) bool {
	host, _, err := net.SplitHostPort(address)
	return err == nil && Host(host)
}
