package config

import (
	"net"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/loopback"
	"telltale/gateway/topic"
)

// Broker is the broker that the watch runs itself.
type Broker struct {
	Run      bool
	Address  string // host:port
	Accounts []Account
	CertFile string // PEM; with KeyFile: TLS
	KeyFile  string
	// ClientCAFile makes clients show a certificate that it signed.
	ClientCAFile string
}

// Account is one user of the watch's own broker.
type Account struct {
	User     string
	Password Secret
	MaySend  []string // topic filters
	MayRead  []string // topic filters
}

// Link says which other broker to use. Servers is empty when Broker.Run.
type Link struct {
	Servers      []string // mqtt://host:port, or mqtts:// with TLS
	ClientID     string   // empty: one of the watch's own making
	User         string
	Password     Secret
	CAFile       string
	CertFile     string
	KeyFile      string
	ServerName   string
	QoS          byte
	CleanSession bool
	KeepAlive    time.Duration
	QueueSize    int
}

// WatchUser is the account of the watch at its own broker.
const WatchUser = "telltale"

const defaultBroker = "127.0.0.1:1883"

// readBrokers reads [own-broker] or [broker]; with neither the watch runs its own.
func readBrokers(root *table) (Broker, Link) {
	own, other := root.table("own-broker"), root.table("broker")
	if own.seen && other.seen {
		root.problem(other.at, "is one broker too many: [own-broker] is there too (line %d); keep one of them", own.at.line)
	}
	link := readLink(other)
	broker := readOwnBroker(own)
	broker.Run = !other.seen
	return broker, link
}

func readOwnBroker(t *table) Broker {
	defer t.done()
	address := t.address("address", defaultBroker)
	b := Broker{Address: address.or(defaultBroker), ClientCAFile: t.authority("client-authority-file").V}
	b.CertFile, b.KeyFile = t.pair()
	if t.has("client-authority-file") && !t.has("certificate-file") {
		t.problem(t.spot("client-authority-file"), "needs TLS: give certificate-file and key-file too")
	}
	b.Accounts = walk.Each(t.children("account"), readAccount)
	if !address.Set || loopback.Address(address.V) {
		return b
	}
	if len(b.Accounts) == 0 {
		t.problem(address.at, "lets other machines connect, so it needs accounts: add [own-broker.account.NAME] for each probe, or listen on 127.0.0.1 (got %q)", address.V)
	} else if b.CertFile == "" {
		t.warn(address.at, "lets passwords and readings cross the network unprotected; give certificate-file and key-file, or keep the probes on a network of their own")
	}
	return b
}

// leastProbePassword is how long the password of a probe must be: it is typed
// into small devices, and the broker takes some guesses a minute.
const leastProbePassword = 8

func readAccount(t *table) Account {
	defer t.done()
	switch t.name {
	case WatchUser:
		t.problem(t.at, "is the watch's own account; give this one another name")
	case "":
		t.problem(t.at, "must have a name, with which its probe connects")
	}
	password := need(t, t.secret("password"), "every account needs a password")
	a := Account{User: t.name, Password: password.V}
	if n := utf8.RuneCountInString(password.V.Reveal()); password.Set && n < leastProbePassword {
		t.problem(password.at, "must hold at least %d characters (got %d): who guesses it can send false readings", leastProbePassword, n)
	}
	a.MaySend, a.MayRead = t.filters("may-send", topic.CheckForAccount), t.filters("may-read", topic.CheckFilter)
	if !t.has("may-send") && !t.has("may-read") {
		t.problem(t.at, "may do nothing: give may-send or may-read, a list of topic filters")
	}
	return a
}

func readLink(t *table) Link {
	defer t.done()
	l := Link{ClientID: t.text("client-id").V, User: t.text("user").V, QueueSize: t.count("queue", 16, 1_000_000).V}
	password := t.secret("password")
	l.Password = password.V
	l.CAFile, l.ServerName = t.authority("authority-file").V, t.text("server-name").V
	l.CertFile, l.KeyFile = t.pair()
	l.QoS = byte(t.count("qos", 0, 1).or(1))
	l.CleanSession = !t.flag("keep-session").or(true)
	l.KeepAlive = t.span("keep-alive", 5*time.Second, 18*time.Hour).or(30 * time.Second)
	if l.KeepAlive%time.Second != 0 {
		t.problem(t.spot("keep-alive"), "must be whole seconds (got %s)", span(l.KeepAlive))
	}
	servers := t.texts("servers")
	if t.seen {
		need(t, servers, "name the broker, for example servers = [\"mqtt://127.0.0.1:1883\"]")
	}
	secure, far := false, false
	for _, s := range servers.V {
		tls, remote := t.server(servers.at, s)
		secure, far = secure || tls, far || remote && !tls
	}
	l.Servers = servers.V
	checkLink(t, l, password, secure, far)
	return l
}

func checkLink(t *table, l Link, password value[Secret], secure, far bool) {
	if password.Seen && l.User == "" {
		t.problem(password.at, "needs a user too: MQTT 3.1.1 knows no password without one")
	}
	files := []string{"authority-file", "certificate-file", "key-file", "server-name"}
	i := slices.IndexFunc(files, t.has)
	if i >= 0 && !secure && len(l.Servers) > 0 {
		t.problem(t.spot(files[i]), "needs TLS, and no server uses it: write mqtts:// in servers")
	}
	if far && password.Seen {
		t.warn(t.spot("servers"), "sends the password across the network unprotected; use mqtts:// if the broker knows TLS")
	}
}

// server checks one broker address. It never repeats one that holds a password.
func (t *table) server(at place, text string) (secure, remote bool) {
	u, err := url.Parse(text)
	if err == nil && u.User != nil || err != nil && strings.Contains(text, "@") {
		t.problem(at, "must not hold a user name or password; give user and password-file")
		return false, false
	}
	if err == nil {
		switch u.Scheme {
		case "mqtts", "ssl", "tls":
			secure = true
		case "mqtt", "tcp":
		default:
			err = url.InvalidHostError(text)
		}
	}
	if err != nil || u.Hostname() == "" || u.Path != "" && u.Path != "/" || u.RawQuery != "" || u.Fragment != "" || !goodPort(u.Port(), true) {
		t.problem(at, "must be addresses such as \"mqtt://127.0.0.1:1883\", or \"mqtts://broker.example.org:8883\" with TLS (got %q)", text)
		return false, false
	}
	return secure, !loopback.Host(u.Hostname())
}

// readLinkRule reads how the loss of the broker is told.
func readLinkRule(root *table) alarms.LinkRule {
	t := root.table("broker-loss")
	defer t.done()
	return alarms.LinkRule{Delay: none(t.span("told-after", 0, 12*time.Hour)), Priority: t.priority("priority")}
}

// filter reads the filter of topics to which a probe writes.
func (t *table) filter(key string) value[string] {
	return read(t, key, func(raw any) (string, error) {
		s, ok := raw.(string)
		if !ok {
			return "", tongue.Put("must be text in quotes (got %s)", got(raw))
		}
		if err := topic.CheckForOthers(s); err != nil {
			return "", err
		}
		return s, nil
	})
}

// filters reads a list of topic filters, of which each must pass check.
func (t *table) filters(key string, check func(string) error) []string {
	v := t.texts(key)
	for _, f := range v.V {
		if err := check(f); err != nil {
			t.wrong(v.at, err)
		}
	}
	return v.V
}

// address reads host:port.
func (t *table) address(key, example string) value[string] {
	return read(t, key, func(raw any) (string, error) {
		s, ok := raw.(string)
		_, port, err := net.SplitHostPort(s)
		if !ok || err != nil || !goodPort(port, false) {
			return "", tongue.Put("must be host:port such as %q (got %s)", example, got(raw))
		}
		return s, nil
	})
}

func goodPort(port string, optional bool) bool {
	n, err := strconv.Atoi(port)
	return optional && port == "" || err == nil && n >= 0 && n <= 65535
}
