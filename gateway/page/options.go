package page

import (
	"errors"
	"fmt"
	"net"
	"net/http"
	"net/netip"
	"slices"
	"strings"

	"github.com/rs/zerolog"

	"telltale/alarms"
)

// Options say what to serve and to whom.
type Options struct {
	Watch Watch
	First First // sets up what is watched; nil: that is not offered

	Words alarms.Words
	// DegreesGiven says that the garden chose the unit in Words; else a browser
	// from a region that reads °F is shown °F, and others °C.
	DegreesGiven bool
	Name         string // of the garden, on top of the page; default "Telltale"
	Address      string // host:port; default 127.0.0.1:8470; port 0 takes a free one

	// One password for everybody, or accounts, protect the page; neither:
	// loopback only.
	Password     string // as people type it
	PasswordHash string // as HashPassword returns it
	Accounts     []Account
	Key          []byte // of form tokens; nil: a fresh one
	Memory       Memory // of who is signed in; nil: until the watch stops

	// CertFile and KeyFile, both or none, make the server speak TLS.
	CertFile, KeyFile string
	// ProxyTLS says that a proxy in front speaks TLS, so that cookies may be
	// marked for TLS only.
	ProxyTLS bool
	// Hosts are the names, without port, by which browsers reach the page.
	// Given, other names are refused. A loopback listener always refuses names
	// that are neither here nor its own.
	Hosts []string

	Tending   Tending      // probes, tellings, log and loop; nil: no such pages
	Untold    Untold       // of what nobody is told
	Forms     []Form       // of the houses, to draw them; a house without is a list
	Course    Course       // the past of the houses; nil: no look back
	Reports   Reports      // what was, summed up; nil: no reports
	Downloads Downloads    // readings to take along; nil: none
	Push      Push         // devices that take alarms; nil: none can be registered
	Modem     Modem        // text messages and calls; nil: none
	Taps      *Taps        // links that acknowledge with one tap; nil: none
	Metrics   http.Handler // served at /metrics to who is signed in; may be nil
	MaxLive   int          // browsers followed live at once; default 128
	// MayTap says whose links are still good, by the name in them; nil: all.
	MayTap func(person string) bool
	Log    zerolog.Logger
}

const defaultAddress = "127.0.0.1:8470"

// Errors of New and Listen; each says what to do.
var (
	// ErrPasswordNeeded: no password, but an address others can reach.
	ErrPasswordNeeded = errors.New("the page needs a password before it may listen on anything but this machine: " +
		"set one, or listen on 127.0.0.1")
	// ErrAddressInUse: somebody else listens there.
	ErrAddressInUse = errors.New("the page's address is already in use")
)

// check fills defaults and reports all problems at once.
func (o *Options) check() error {
	var problems []error
	add := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	if o.Watch == nil {
		add("the page has no watch to show")
	}
	if o.Name == "" {
		o.Name = "Telltale"
	}
	if o.Address == "" {
		o.Address = defaultAddress
	}
	if o.MaxLive == 0 {
		o.MaxLive = 128
	}
	if o.MaxLive < 0 {
		add("the page's number of live browsers must be positive, got %d", o.MaxLive)
	}
	if (o.CertFile == "") != (o.KeyFile == "") {
		add("the page's certificate and key files must be given both or not at all")
	}
	if o.Password != "" && o.PasswordHash != "" {
		add("the page has both a password and a password hash: give one of them")
	}
	problems = append(problems, o.checkAccounts()...)
	o.Hosts = slices.Clone(o.Hosts)
	for i, h := range o.Hosts {
		o.Hosts[i] = strings.ToLower(strings.TrimSpace(h))
		if h == "" || strings.ContainsAny(h, "/: ") {
			add("the page's host names must be plain names like garden.example.org, got %q", h)
		}
	}
	problems = append(problems, o.checkReach())
	return errors.Join(problems...)
}

// checkReach refuses to be reached from elsewhere without a password.
func (o *Options) checkReach() error {
	host, _, err := net.SplitHostPort(o.Address)
	if err != nil {
		return fmt.Errorf("the page's address must be host:port like %s, got %q: %w", defaultAddress, o.Address, err)
	}
	if o.Password != "" || o.PasswordHash != "" || len(o.Accounts) > 0 {
		return nil
	}
	if !loopbackHost(host) {
		return fmt.Errorf("%w (got the address %q)", ErrPasswordNeeded, o.Address)
	}
	if len(o.Hosts) > 0 {
		return fmt.Errorf("%w (the host name %q lets others in)", ErrPasswordNeeded, o.Hosts[0])
	}
	return nil
}

// loopbackHost reports whether host names this machine alone.
func loopbackHost(host string) bool {
	if strings.EqualFold(host, "localhost") {
		return true
	}
	addr, err := netip.ParseAddr(strings.Trim(host, "[]"))
	return err == nil && addr.Unmap().IsLoopback()
}
