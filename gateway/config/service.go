package config

import (
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"time"

	"telltale/alarms"
)

// Store says where and for how long things are kept.
type Store struct {
	Directory    string
	IDFile       string        // which says that there is a store; "": beside the directory
	KeepReadings time.Duration // 0: default of the store
	KeepAverages time.Duration
	KeepLog      time.Duration
}

// Page is how the page is served.
type Page struct {
	Name         string // of the garden; empty: default
	Address      string // host:port
	Password     Secret // as people type it
	PasswordHash Secret // instead: an Argon2id hash, which begins with $argon2id$
	CertFile     string // PEM; with KeyFile: TLS
	KeyFile      string
	ProxyTLS     bool          // a proxy in front speaks TLS
	Hosts        []string      // names by which browsers reach the page
	URL          string        // where people find it, for messages; may be empty
	LinksFor     time.Duration // for which a link in a message can acknowledge
	Accounts     []PageAccount // instead of the password
	DegreesGiven bool          // the unit of temperature was chosen in the file
}

// Metrics is where the figures for a scraper are served.
type Metrics struct {
	OnPage  bool   // at /metrics of the page, under its password
	Address string // host:port of a server of their own; empty: none
}

// Export hands readings on in line protocol.
type Export struct {
	File ExportFile
	HTTP ExportHTTP
}

// ExportFile appends to files in a directory.
type ExportFile struct {
	Path string // empty: none
}

// ExportHTTP posts to a write endpoint.
type ExportHTTP struct {
	URL   string // empty: none
	Token Secret
	Every time.Duration // between posts
}

// Heartbeat shows somebody elsewhere that the watch lives.
type Heartbeat struct {
	URL   Secret // it may hold a token; not given: no heartbeat
	Every time.Duration
}

// Log says how much the service writes about itself.
type Log struct {
	Level string // debug, info, warn or error
}

const (
	defaultPage  = "127.0.0.1:8470"
	defaultStore = "/var/lib/telltale"
	// stateDirectory is the variable in which the service manager names the
	// directory it made for the service, and perhaps a second one.
	stateDirectory = "STATE_DIRECTORY"
)

func (r *reader) store(root *table) Store {
	t := root.table("store")
	defer t.done()
	s := Store{Directory: defaultStore, KeepReadings: t.span("keep-readings", day, 3650*day).V,
		KeepAverages: t.span("keep-averages", 7*day, 36500*day).V, KeepLog: t.span("keep-log", 30*day, 36500*day).V}
	if dir, ok := r.env(stateDirectory); ok && dir != "" {
		var beside string
		s.Directory, beside, _ = strings.Cut(dir, ":")
		if beside, _, _ = strings.Cut(beside, ":"); beside != "" {
			s.IDFile = filepath.Join(beside, "store.id")
		}
	}
	if dir := t.text("directory"); dir.Set {
		s.Directory, s.IDFile = r.path(dir.V), ""
	}
	if s.KeepAverages > 0 && s.KeepReadings > s.KeepAverages {
		r.problem(t.spot("keep-averages"), "must not be shorter than keep-readings (got %s, keep-readings is %s)",
			span(s.KeepAverages), span(s.KeepReadings))
	}
	return s
}

func (r *reader) page(root *table) (Page, Metrics) {
	t := root.table("page")
	defer t.done()
	address := t.address("address", defaultPage)
	p := Page{Name: t.text("name").V, Address: address.or(defaultPage), ProxyTLS: t.flag("behind-tls-proxy").V, URL: t.text("link").V}
	p.CertFile, p.KeyFile = t.pair()
	if p.URL != "" {
		r.checkURL(t.spot("link"), p.URL, true)
	}
	hosts := t.texts("hosts")
	p.Hosts = hosts.V
	for _, h := range hosts.V {
		if strings.ContainsAny(h, "/: ") {
			r.problem(hosts.at, "must be plain names such as \"garden.example.org\", without scheme or port (got %q)", h)
		}
	}
	password := t.secret("password")
	p.Password, p.PasswordHash = r.passwordOrHash(password)
	p.LinksFor = r.pageLinks(t, p.URL)
	r.pageReach(t, p, address, password.Seen || root.has("account"))
	return p, r.metrics(root)
}

// pageReach tells a page that others can reach and that nothing protects.
func (r *reader) pageReach(t *table, p Page, address value[string], locked bool) {
	open := address.Set && !loopback(address.V)
	switch {
	case open && !locked:
		r.problem(address.at, "lets other machines in, so the page needs a password: give password-file or accounts, or listen on 127.0.0.1 (got %q)", address.V)
	case len(p.Hosts) > 0 && !locked:
		r.problem(t.spot("hosts"), "lets others in, so the page needs a password: give password-file or accounts")
	case p.ProxyTLS && !locked:
		r.problem(t.spot("behind-tls-proxy"), "says that others come in through a proxy, so the page needs a password: give password-file or accounts")
	case p.URL != "" && !locked && !ownMachine(p.URL):
		r.problem(t.spot("link"), "says that others reach the page there, so it needs a password: give password-file or accounts (got %q)", p.URL)
	case open && p.CertFile == "" && !p.ProxyTLS:
		r.warn(address.at, "lets the password cross the network unprotected; give certificate-file and key-file, or put a TLS proxy in front and say behind-tls-proxy = true")
	}
}

// ownMachine reports whether address, which is sound or was complained of, is
// of this machine alone.
func ownMachine(address string) bool {
	u, err := url.Parse(address)
	return err != nil || u.Host == "" || loopbackHost(u.Hostname())
}

func (r *reader) metrics(root *table) Metrics {
	t := root.table("metrics")
	defer t.done()
	address := t.address("address", "127.0.0.1:8471")
	m := Metrics{OnPage: t.flag("on-page").or(!address.Seen), Address: address.V}
	if address.Set && !loopback(address.V) {
		r.warn(address.at, "lets everybody on the network read the figures; there is no password on this address")
	}
	return m
}

func (r *reader) export(root *table) Export {
	t := root.table("export")
	defer t.done()
	var e Export
	if file := t.text("file"); file.Set {
		e.File.Path = r.path(file.V)
		r.checkFile(file.at, e.File.Path)
	}
	h := t.table("http")
	defer h.done()
	e.HTTP = ExportHTTP{URL: h.text("url").V, Every: h.span("every", time.Second, time.Hour).or(10 * time.Second)}
	token := h.secret("token")
	e.HTTP.Token = token.V
	plain := h.flag("plain-http").V
	if h.seen && !h.has("url") {
		r.problem(h.spot("url"), "is missing: give the address to write to")
	}
	if e.HTTP.URL != "" {
		r.checkURL(h.spot("url"), e.HTTP.URL, plain)
	}
	return e
}

func (r *reader) heartbeat(root *table) Heartbeat {
	t := root.table("heartbeat")
	defer t.done()
	b := Heartbeat{Every: t.span("every", 10*time.Second, day).or(time.Minute)}
	plain := t.flag("plain-http").V
	if t.seen {
		b.URL = r.hiddenURL(t, plain)
		return b
	}
	if root.has("heartbeat") {
		return b // it is no table, which was told
	}
	r.warn(place{}, "there is no [heartbeat]: nobody elsewhere would notice if this machine or the watch stopped")
	return b
}

func (r *reader) log(root *table) Log {
	t := root.table("log")
	defer t.done()
	return Log{Level: t.oneOf("level", "debug", "info", "warn", "error").or("info")}
}

func (r *reader) chatter(root *table) alarms.ChatterRule {
	t := root.table("chatter")
	defer t.done()
	return alarms.ChatterRule{Raises: t.count("raises", 2, 100).V, Within: t.span("within", time.Minute, day).V,
		Hold: t.span("hold", time.Minute, day).V}
}

func (r *reader) reminders(root *table) alarms.Reminders {
	t := root.table("reminders")
	defer t.done()
	after := func(key string) time.Duration { return t.spanOr(key, "never", time.Minute, 30*day).V }
	again := func(key string) time.Duration { return t.spanOr(key, "never", 3*time.Minute, day).V }
	return alarms.Reminders{Low: after("low"), Medium: after("medium"), High: after("high"),
		RepeatHigh: again("repeat-high"), RepeatMedium: again("repeat-medium")}
}

// checkAddresses tells two servers of the watch on one port.
func (r *reader) checkAddresses(c *Config, root *table) {
	type server struct{ table, address string }
	servers := []server{{"page", c.Page.Address}, {"metrics", c.Metrics.Address}}
	if c.Broker.Run {
		servers = append(servers, server{"own-broker", c.Broker.Address})
	}
	for i, a := range servers {
		for _, b := range servers[:i] {
			if a.address != "" && samePort(a.address, b.address) {
				here, there := a, b
				if !root.table(here.table).has("address") {
					here, there = b, a // tell it where something is written
				}
				r.problem(root.table(here.table).spot("address"), "is the port of [%s] too (got %q, there %q)",
					there.table, here.address, there.address)
			}
		}
	}
}

func samePort(a, b string) bool {
	_, pa, errA := net.SplitHostPort(a)
	_, pb, errB := net.SplitHostPort(b)
	return errA == nil && errB == nil && pa == pb && pa != "0"
}
