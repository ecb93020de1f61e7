package page

import (
	"cmp"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"slices"
	"strings"
	"time"

	"telltale/gateway/loopback"

	"github.com/rs/zerolog"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
	"telltale/gateway/page/door"
	"telltale/gateway/page/service"
)

// Options say what to serve and to whom.
type Options struct {
	Watch service.Watch
	First First // sets up what is watched; nil: that is not offered
	// Changes changes what is set up; nil: that is not offered.
	Changes Changes

	Words alarms.Words
	// Plan is what the watch judges by: what is kept of it can be said again in a
	// visitor's locale. Nil: it stays as it was kept.
	Plan *alarms.Plan
	// DegreesGiven says that the garden chose the unit in Words; else a browser
	// from a region that reads °F is shown °F, and others °C.
	DegreesGiven bool
	Played       func(tongue.Tongue) string // in a language, what is played, where nothing of it is real; nil: all is
	Name         string                     // of the garden, on top of the page; default "Telltale"
	Address      string                     // host:port; default 127.0.0.1:8470; port 0 takes a free one

	// One password for everybody, or accounts, protect the page; neither:
	// loopback only.
	Password     string // as people type it
	PasswordHash string // as passwords.Hash writes it
	Accounts     []door.Account
	Key          []byte      // by which browsers are known again; nil: a fresh one
	Memory       door.Memory // of who is signed in; nil: until the watch stops

	// CertFile and KeyFile, both or none, make the server speak TLS.
	CertFile, KeyFile string
	// Certificate does so too, and gives one for each connection; nil: the files.
	Certificate func(*tls.ClientHelloInfo) (*tls.Certificate, error)
	// Authority lets devices know the page; nil: that is not offered.
	Authority Authority
	// ProxyTLS says that a proxy in front speaks TLS, so that cookies may be
	// marked for TLS only.
	ProxyTLS bool
	// Hosts are the names, without port, by which browsers reach the page.
	// Given, other names are refused. A loopback listener always refuses names
	// that are neither here nor its own.
	Hosts []string

	Companion service.Companion // for another watch that accompanies this one; nil: there is nothing to accompany
	// Accompanies says, on every page, which watch this one accompanies, how that is and who
	// tells now; nil: it accompanies none.
	Accompanies func(say.Locale) string
	Tending     service.Tending   // probes, tellings, log and loop; nil: no such pages
	Untold      service.Untold    // of what nobody is told
	Drill       service.Drill     // of the start of a season; nil: none
	Letters     service.Letters   // of the week; nil: none
	Line        service.Line      // who is told, and at hand; nil: that is not shown
	Forms       []service.Form    // of the houses, to draw them; a house without is a list
	Course      service.Course    // the past of the houses; nil: no look back
	Reports     service.Reports   // what was, summed up; nil: no reports
	Downloads   service.Downloads // readings to take along; nil: none
	// Copies says when the newest good copy of all that is kept was made, zero for
	// none yet, and why the last try failed, if it did; nil: no copies are made.
	Copies   func() (made time.Time, fault string)
	Push     Push           // devices that take alarms; nil: none can be registered
	Modem    Modem          // text messages and calls; nil: none
	AckLinks *door.AckLinks // links that acknowledge with one tap; nil: none
	Metrics  http.Handler   // served at /metrics to who is signed in; may be nil
	maxLive  int            // browsers followed live at once; default 128, for tests
	// MayAcknowledge says whose links are still good, by the name in them; nil: all.
	MayAcknowledge func(person string) bool
	Log            zerolog.Logger
}

const defaultAddress = "127.0.0.1:8470"

// Errors of New and Listen; each says what to do.
var (
	// errPasswordNeeded: no password, but an address others can reach.
	errPasswordNeeded = errors.New("the page needs a password before it may listen on anything but this machine: " +
		"set one, or listen on 127.0.0.1")
	// ErrAddressInUse: somebody else listens there.
	ErrAddressInUse = errors.New("the page's address is already in use")
)

// Check fills defaults and reports all problems at once.
func (o *Options) Check() error {
	var problems []error
	add := func(format string, args ...any) { problems = append(problems, fmt.Errorf(format, args...)) }
	if o.Watch == nil {
		add("the page has no watch to show")
	}
	o.Name = cmp.Or(o.Name, "Telltale")
	o.Address = cmp.Or(o.Address, defaultAddress)
	o.maxLive = cmp.Or(o.maxLive, 128)
	if (o.CertFile == "") != (o.KeyFile == "") {
		add("the page's certificate and key files must be given both or not at all")
	}
	if o.CertFile != "" && o.Certificate != nil {
		add("the page has a certificate from two sides")
	}
	o.Hosts = slices.Clone(o.Hosts)
	for i, h := range o.Hosts {
		o.Hosts[i] = strings.ToLower(strings.TrimSpace(h))
		if h == "" || strings.ContainsAny(h, "/: ") {
			add("the page's host names must be plain names like garden.example.org, got %q", h)
		}
	}
	problems = append(problems, o.checkReach(), o.door().Check())
	return errors.Join(problems...)
}

// door is what of o is about who is let in.
func (o *Options) door() door.Options {
	return door.Options{Password: o.Password, PasswordHash: o.PasswordHash, Accounts: o.Accounts, Key: o.Key, Memory: o.Memory,
		Hosts: o.Hosts, TLS: o.CertFile != "" || o.Certificate != nil, Promises: o.CertFile != "", ProxyTLS: o.ProxyTLS, Log: o.Log}
}

// forgetSecrets keeps nothing longer than needed.
func (o *Options) forgetSecrets() {
	o.Password, o.PasswordHash, o.Accounts, o.Key = "", "", nil, nil
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
	if !loopback.Host(host) {
		return fmt.Errorf("%w (got the address %q)", errPasswordNeeded, o.Address)
	}
	if len(o.Hosts) > 0 {
		return fmt.Errorf("%w (the host name %q lets others in)", errPasswordNeeded, o.Hosts[0])
	}
	return nil
}
