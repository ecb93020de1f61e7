package authority

import (
	"net/netip"
	"slices"
	"strings"
)

// most names, or addresses, of one authority.
const most = 16

// Names are what an authority vouches for.
type Names struct {
	Hosts     []string     // in lower case, each with a dot in it
	Addresses []netip.Addr // single ones
}

// none reports whether there is nothing to vouch for.
func (n Names) none() bool { return len(n.Hosts) == 0 && len(n.Addresses) == 0 }

// NamesOf chooses among what a board is called and reached by. A name without a dot
// is left out: who may vouch for "garden" may vouch for all that ends in .garden, and
// such a domain exists. So are addresses that only the board itself has, those of one
// wire, and those of IPv6 beyond a network of one's own, which change by the day. A
// name that is an address is taken as one.
func NamesOf(hosts []string, addresses []netip.Addr) Names {
	var n Names
	for _, host := range hosts {
		host = strings.ToLower(strings.TrimSuffix(host, "."))
		if a, err := netip.ParseAddr(strings.Trim(host, "[]")); err == nil {
			addresses = append(slices.Clone(addresses), a)
		} else if isName(host) {
			n.Hosts = append(n.Hosts, host)
		}
	}
	for _, a := range addresses {
		if a = a.WithZone("").Unmap(); a.IsGlobalUnicast() && (a.Is4() || a.IsPrivate()) {
			n.Addresses = append(n.Addresses, a)
		}
	}
	slices.Sort(n.Hosts)
	slices.SortFunc(n.Addresses, netip.Addr.Compare)
	n.Hosts, n.Addresses = slices.Compact(n.Hosts), slices.Compact(n.Addresses)
	n.Hosts, n.Addresses = n.Hosts[:min(most, len(n.Hosts))], n.Addresses[:min(most, len(n.Addresses))]
	return n
}

// isName reports whether s is a host name of two labels at least (RFC 1123, section
// 2.1) that names no machine as such.
func isName(s string) bool {
	labels := strings.Split(s, ".")
	if len(labels) < 2 || len(s) > 253 || labels[0] == "localhost" || labels[len(labels)-1] == "localhost" {
		return false
	}
	for _, l := range labels {
		if l == "" || len(l) > 63 || l[0] == '-' || l[len(l)-1] == '-' || strings.Trim(l, "abcdefghijklmnopqrstuvwxyz0123456789-") != "" {
			return false
		}
	}
	return true
}

// Lacking are those of n for which other does not vouch.
func (n Names) Lacking(other Names) Names {
	var out Names
	for _, h := range n.Hosts {
		if !slices.Contains(other.Hosts, h) {
			out.Hosts = append(out.Hosts, h)
		}
	}
	for _, a := range n.Addresses {
		if !slices.Contains(other.Addresses, a) {
			out.Addresses = append(out.Addresses, a)
		}
	}
	return out
}

// Words are all of them, to be read.
func (n Names) Words() []string {
	out := slices.Clone(n.Hosts)
	for _, a := range n.Addresses {
		out = append(out, a.String())
	}
	return out
}
