package config

import (
	"net"
	"net/url"
	"path/filepath"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/loopback"
)

// Store says where and for how long things are kept.
type Store struct {
	Directory    string
	IDFile       string        // which says that there is a store; "": beside the directory
	KeepReadings time.Duration // 0: default of the store
	KeepAverages time.Duration
	KeepLog      time.Duration
}

// Copies says where copies of the store go while the watch runs.
type Copies struct {
	Directory string // empty: none are made
	Every     time.Duration
	Keep      int           // copies
	LateAfter time.Duration // without a good one people are told
}

// Named is a file that the configuration names, as a secret or a certificate.
type Named struct {
	As   string // in the file
	Path string
}

// Page is how the page is served.
type Page struct {
	Name         string // of the garden; empty: default
	Address      string // host:port
	Password     Secret // as people type it
	PasswordHash Secret // instead: an Argon2id hash, which begins with $argon2id$
	CertFile     string // PEM; with KeyFile: TLS
	KeyFile      string
	OwnAuthority bool          // TLS with certificates of the board's own authority
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
	// StateDirectory is the variable in which the service manager names the
	// directory it made for the service, and perhaps a second one.
	StateDirectory = "STATE_DIRECTORY"
)

// storeAt is where the store lies, and the second directory of the service manager,
// if there is one; own is the directory that the file names, "" for none.
func (r *reader) storeAt(own string) (dir, beside string) {
	if own != "" {
		return r.path(own), ""
	}
	dir, _ = r.env(StateDirectory)
	dir, beside, _ = strings.Cut(dir, ":")
	beside, _, _ = strings.Cut(beside, ":")
	if dir == "" {
		return defaultStore, ""
	}
	return dir, beside
}

func readStore(root *table) Store {
	t := root.table("store")
	defer t.done()
	s := Store{KeepReadings: t.span("keep-readings", day, 3650*day).V,
		KeepAverages: t.span("keep-averages", 7*day, 36500*day).V, KeepLog: t.span("keep-log", 30*day, 36500*day).V}
	dir, beside := root.r.storeAt(t.text("directory").V)
	if s.Directory = dir; beside != "" {
		s.IDFile = filepath.Join(beside, "store.id")
	}
	if s.KeepAverages > 0 && s.KeepReadings > s.KeepAverages {
		root.problem(t.spot("keep-averages"), "must not be shorter than keep-readings (got %s, keep-readings is %s)",
			span(s.KeepAverages), span(s.KeepReadings))
	}
	return s
}

func readCopies(root *table, s Store) Copies {
	t := root.table("copies")
	defer t.done()
	c := Copies{Every: t.span("every", time.Hour, 30*day).or(day), Keep: t.count("keep", 1, 1000).or(7)}
	late := t.span("late-after", time.Hour, 365*day)
	c.LateAfter = late.or(3 * c.Every)
	if c.LateAfter < 2*c.Every {
		root.problem(late.at, "must be at least twice as long as every, so that one try may fail (got %s, every is %s)", span(c.LateAfter), span(c.Every))
	}
	if !t.seen {
		return c
	}
	dir := need(t, t.text("directory"), "say where copies go, best on another disk")
	if dir.Set {
		c.Directory = root.r.path(dir.V)
		if rel, err := filepath.Rel(s.Directory, c.Directory); err == nil && filepath.IsLocal(rel) {
			root.problem(dir.at, "must not be inside the store, with which it would be lost (got %q, the store is %s)", dir.V, s.Directory)
		}
	}
	return c
}

func readPage(root *table) (Page, Metrics) {
	t := root.table("page")
	defer t.done()
	address := t.address("address", defaultPage)
	p := Page{Name: t.text("name").V, Address: address.or(defaultPage), ProxyTLS: t.flag("behind-tls-proxy").V, URL: t.text("link").V}
	p.CertFile, p.KeyFile = t.pair()
	p.OwnAuthority = t.ownAuthority(p)
	if p.URL != "" {
		t.checkURL(t.spot("link"), p.URL, true)
	}
	hosts := t.texts("hosts")
	p.Hosts = hosts.V
	for _, h := range hosts.V {
		if strings.ContainsAny(h, "/: ") {
			root.problem(hosts.at, "must be plain names such as \"garden.example.org\", without scheme or port (got %q)", h)
		}
	}
	password := t.secret("password")
	p.Password, p.PasswordHash = t.passwordOrHash(password)
	p.LinksFor = readLinks(t, p.URL)
	checkPageReach(t, p, address, password.Seen || root.has("account"))
	return p, readMetrics(root)
}

// checkPageReach tells a page that others can reach and that nothing protects.
func checkPageReach(t *table, p Page, address value[string], locked bool) {
	open := address.Set && !loopback.Address(address.V)
	switch {
	case open && !locked:
		t.problem(address.at, "lets other machines in, so the page needs a password: give password-file or accounts, or listen on 127.0.0.1 (got %q)", address.V)
	case len(p.Hosts) > 0 && !locked:
		t.problem(t.spot("hosts"), "lets others in, so the page needs a password: give password-file or accounts")
	case p.ProxyTLS && !locked:
		t.problem(t.spot("behind-tls-proxy"), "says that others come in through a proxy, so the page needs a password: give password-file or accounts")
	case p.URL != "" && !locked && !ownMachine(p.URL):
		t.problem(t.spot("link"), "says that others reach the page there, so it needs a password: give password-file or accounts (got %q)", p.URL)
	case open && !p.TLS() && !p.ProxyTLS:
		t.warn(address.at, "lets the password cross the network unprotected; say own-authority = true, give certificate-file and key-file, or put a TLS proxy in front and say behind-tls-proxy = true")
	}
}

// ownMachine reports whether address, which is sound or was complained of, is
// of this machine alone.
func ownMachine(address string) bool {
	u, err := url.Parse(address)
	return err != nil || u.Host == "" || loopback.Host(u.Hostname())
}

func readMetrics(root *table) Metrics {
	t := root.table("metrics")
	defer t.done()
	address := t.address("address", "127.0.0.1:8471")
	m := Metrics{OnPage: t.flag("on-page").or(!address.Seen), Address: address.V}
	if address.Set && !loopback.Address(address.V) {
		root.warn(address.at, "lets everybody on the network read the figures; there is no password on this address")
	}
	return m
}

func readExport(root *table) Export {
	t := root.table("export")
	defer t.done()
	var e Export
	if file := t.text("file"); file.Set {
		e.File.Path = root.r.path(file.V)
		root.r.checkFile(file.at, e.File.Path)
	}
	h := t.table("http")
	defer h.done()
	e.HTTP = ExportHTTP{URL: h.text("url").V, Every: h.span("every", time.Second, time.Hour).or(10 * time.Second)}
	token := h.secret("token")
	e.HTTP.Token = token.V
	plain := h.flag("plain-http").V
	if h.seen && !h.has("url") {
		root.problem(h.spot("url"), "is missing: give the address to write to")
	}
	if e.HTTP.URL != "" {
		t.checkURL(h.spot("url"), e.HTTP.URL, plain)
	}
	return e
}

func readHeartbeat(root *table) Heartbeat {
	t := root.table("heartbeat")
	defer t.done()
	b := Heartbeat{Every: t.span("every", 10*time.Second, day).or(time.Minute)}
	plain := t.flag("plain-http").V
	if t.seen {
		b.URL = t.hiddenURL(plain)
		return b
	}
	if root.has("heartbeat") {
		return b // it is no table, which was told
	}
	root.warn(place{}, "there is no [heartbeat]: nobody elsewhere would notice if this machine or the watch stopped")
	return b
}

func readLog(root *table) Log {
	t := root.table("log")
	defer t.done()
	return Log{Level: t.oneOf("level", "debug", "info", "warn", "error").or("info")}
}

func readChatter(root *table) alarms.ChatterRule {
	t := root.table("chatter")
	defer t.done()
	return alarms.ChatterRule{Raises: t.count("raises", 2, 100).V, Within: t.span("within", time.Minute, day).V,
		Hold: t.span("hold", time.Minute, day).V}
}

func readReminders(root *table) alarms.Reminders {
	t := root.table("reminders")
	defer t.done()
	after := func(key string) time.Duration { return t.spanOr(key, "never", time.Minute, 30*day).V }
	again := func(key string) time.Duration { return t.spanOr(key, "never", 3*time.Minute, day).V }
	return alarms.Reminders{Low: after("low"), Medium: after("medium"), High: after("high"),
		RepeatHigh: again("repeat-high"), RepeatMedium: again("repeat-medium")}
}

// checkAddresses tells two servers of the watch on one port.
func checkAddresses(c *Config, root *table) {
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
				root.problem(root.table(here.table).spot("address"), "is the port of [%s] too (got %q, there %q)",
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
