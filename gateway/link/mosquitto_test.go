package link

import (
	"bytes"
	"crypto/pbkdf2"
	"crypto/sha512"
	"encoding/base64"
	"encoding/json"
	"fmt"
	"net"
	"os"
	"os/exec"
	"os/user"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// mosquitto is a broker process of the test's own, with its own configuration
// and accounts, at a free loopback port.
type mosquitto struct {
	t      testing.TB
	dir    string
	addr   string
	binary string
	lines  []string // of its configuration
	cmd    *exec.Cmd
	log    *safeBuffer
}

// program finds a program of the broker's package. Without it the test is
// skipped, or fails where TELLTALE_REQUIRE_BROKER=1 says that it must run.
func program(t testing.TB, name string) string {
	t.Helper()
	for _, dir := range append(filepath.SplitList(os.Getenv("PATH")), "/usr/sbin", "/usr/local/sbin") {
		file := filepath.Join(dir, name)
		if s, err := os.Stat(file); err == nil && s.Mode()&0o111 != 0 {
			return file
		}
	}
	if os.Getenv("TELLTALE_REQUIRE_BROKER") == "1" {
		t.Fatalf("%s is not installed, and TELLTALE_REQUIRE_BROKER=1 asks for this test", name)
	}
	t.Skipf("%s is not installed: this test needs the Mosquitto broker (Debian: mosquitto)", name)
	return ""
}

// newMosquitto prepares a broker with the accounts telltale (everything),
// bench-1 (its own topics) and page (reads), all with the password "rain".
func newMosquitto(t testing.TB, lines ...string) *mosquitto {
	t.Helper()
	m := &mosquitto{t: t, dir: t.TempDir(), addr: freePort(t), binary: program(t, "mosquitto"), log: &safeBuffer{}}
	passwords, acl := filepath.Join(m.dir, "passwords"), filepath.Join(m.dir, "acl")
	tool := program(t, "mosquitto_passwd")
	if err := os.WriteFile(passwords, nil, 0o600); err != nil {
		t.Fatal(err)
	}
	for _, name := range []string{"telltale", "bench-1", "page"} {
		if out, err := exec.Command(tool, "-b", passwords, name, "rain").CombinedOutput(); err != nil {
			t.Fatalf("%v: %s", err, out)
		}
	}
	rights := "user telltale\ntopic readwrite #\ntopic read $SYS/#\n" +
		"user bench-1\ntopic write quarry-bank/long-house/bench-1/#\n" +
		"user page\ntopic read quarry-bank/#\ntopic write quarry-bank/page\n"
	if err := os.WriteFile(acl, []byte(rights), 0o600); err != nil {
		t.Fatal(err)
	}
	me, err := user.Current()
	if err != nil {
		t.Fatal(err)
	}
	_, port, _ := net.SplitHostPort(m.addr)
	m.lines = append([]string{
		"listener " + port + " 127.0.0.1", "allow_anonymous false", "password_file " + passwords, "acl_file " + acl,
		"user " + me.Username, "persistence true", "persistence_location " + m.dir + "/", "autosave_on_changes true", "autosave_interval 1",
		"max_queued_messages 100000", "log_dest stderr", "log_type all", "sys_interval 1",
	}, lines...)
	return m
}

func (m *mosquitto) start() {
	m.t.Helper()
	file := filepath.Join(m.dir, "mosquitto.conf")
	if err := os.WriteFile(file, []byte(strings.Join(m.lines, "\n")+"\n"), 0o600); err != nil {
		m.t.Fatal(err)
	}
	m.cmd = exec.Command(m.binary, "-c", file)
	m.cmd.Stderr = m.log
	if err := m.cmd.Start(); err != nil {
		m.t.Fatal(err)
	}
	m.t.Cleanup(m.kill)
	waitFor(m.t, "the broker to listen: "+m.log.String(), func() bool {
		c, err := net.Dial("tcp", m.addr)
		if err == nil {
			c.Close()
		}
		return err == nil
	})
}

// kill ends the process as a power cut would.
func (m *mosquitto) kill() {
	if m.cmd != nil && m.cmd.ProcessState == nil {
		_ = m.cmd.Process.Kill()
		_ = m.cmd.Wait()
	}
}

// stop ends the process in order: it writes down what it holds.
func (m *mosquitto) stop() {
	m.t.Helper()
	if err := m.cmd.Process.Signal(syscall.SIGTERM); err != nil {
		m.t.Fatal(err)
	}
	_ = m.cmd.Wait()
}

func (m *mosquitto) options() Options {
	return Options{Servers: []string{"mqtt://" + m.addr}, User: "telltale", Password: "rain", QoS: 1}
}

func (m *mosquitto) client(user string) mqtt.Client {
	m.t.Helper()
	return client(m.t, func(o *mqtt.ClientOptions) {
		o.AddBroker("mqtt://" + m.addr).SetUsername(user).SetPassword("rain")
	})
}

func startMosquitto(t testing.TB, lines ...string) *mosquitto {
	t.Helper()
	m := newMosquitto(t, lines...)
	m.start()
	return m
}

func TestMosquittoTLSAndAccounts(t *testing.T) {
	ca := newAuthority(t, "quarry-bank")
	cert, key := ca.valid("broker", "localhost")
	m := startMosquitto(t, "cafile "+ca.file, "certfile "+cert, "keyfile "+key)
	_, port, _ := net.SplitHostPort(m.addr)
	o := Options{Servers: []string{"mqtts://localhost:" + port}, User: "telltale", Password: "rain", CAFile: ca.file, QoS: 1}
	r := startLink(t, o)
	r.change(true)
	if err := r.Publish(t.Context(), "quarry-bank/x", []byte("1"), 1, false); err != nil {
		t.Fatal(err)
	}
	r.take(1)

	byAddress := o
	byAddress.Servers = []string{"mqtts://" + m.addr}
	wantSentence(t, startLink(t, byAddress).change(false).Why, "is for localhost, not for \"127.0.0.1\"")
	byAddress.ServerName, byAddress.ClientID = "localhost", "second"
	startLink(t, byAddress).change(true)
	wrong := o
	wrong.Password, wrong.ClientID = "sun", "third"
	wantSentence(t, startLink(t, wrong).change(false).Why, `refused the user name or password of the account "telltale"`)
	plain := o
	plain.Servers, plain.CAFile = []string{"mqtt://" + m.addr}, ""
	wantSentence(t, startLink(t, plain).change(false).Why, "mqtts://")
}

func TestMosquittoClientCertificate(t *testing.T) {
	ca, other := newAuthority(t, "quarry-bank"), newAuthority(t, "other")
	cert, key := ca.valid("broker", "127.0.0.1")
	m := startMosquitto(t, "cafile "+ca.file, "certfile "+cert, "keyfile "+key, "require_certificate true", "use_identity_as_username true")
	o := Options{Servers: []string{"mqtts://" + m.addr}, CAFile: ca.file, QoS: 1}
	wantSentence(t, startLink(t, o).change(false).Why, "client certificate")
	o.CertFile, o.KeyFile = other.valid("telltale")
	wantSentence(t, startLink(t, o).change(false).Why, "client certificate")
	o.CertFile, o.KeyFile = ca.valid("telltale") // the account by the certificate's name
	r := startLink(t, o)
	r.change(true)
	if err := r.Publish(t.Context(), "quarry-bank/x", []byte("1"), 1, false); err != nil {
		t.Fatal(err)
	}
	r.take(1)
}

// TestMosquittoLostAndBack: the broker goes twice while a publisher keeps
// trying at QoS 1: once in order, amid the stream, and once by a kill. Nothing
// is lost, and nothing is double once equal payloads count once. The kill
// comes when the broker has written down the session and owes nothing, since
// what it loses then is its own: it acknowledges before it writes to disk.
func TestMosquittoLostAndBack(t *testing.T) {
	noLeak(t)
	m := startMosquitto(t)
	o := m.options()
	o.Log = testLog(t)
	r := startLink(t, o)
	r.change(true)
	const n = 300
	p := &publisher{broker: m}
	published := make(chan error, 1)
	go func() { published <- p.run(n) }()
	seen := map[string]int{}
	takeUntil := func(n int) {
		for len(seen) < n {
			seen[string(r.take(1)[0].Payload)]++
		}
	}
	back := func() {
		wantSentence(t, r.change(false).Why, m.addr, "was lost")
		wantSentence(t, r.change(false).Why, "Nothing listens at "+m.addr)
		m.start()
		r.change(true)
	}
	takeUntil(100)
	m.stop()
	back()
	takeUntil(200)
	p.gate.Lock() // quiet now
	takeUntil(int(p.acknowledged.Load()))
	waitFor(t, "the session on the broker's disk", func() bool {
		db, _ := os.ReadFile(filepath.Join(m.dir, "mosquitto.db"))
		return bytes.Contains(db, []byte("quarry-bank/#"))
	})
	m.kill()
	p.gate.Unlock() // goes on trying before the broker is back
	back()
	takeUntil(n)
	if err := <-published; err != nil {
		t.Fatal(err)
	}
	if s := r.Stats(); s.Connects != 3 || s.Dropped != 0 || len(seen) != n {
		t.Errorf("%d different readings of %d; %+v", len(seen), n, s)
	}
	r.stop()
}

// publisher publishes different readings as bench-1, each until the broker
// acknowledges it.
type publisher struct {
	broker       *mosquitto
	gate         sync.Mutex // held while one reading is on its way
	acknowledged atomic.Int64
	client       mqtt.Client // nil: not connected
}

func (p *publisher) run(n int) error {
	for i := range n {
		p.gate.Lock()
		for end := time.Now().Add(2 * patience); !p.try(reading(i)); time.Sleep(5 * time.Millisecond) {
			if time.Now().After(end) {
				p.gate.Unlock()
				return fmt.Errorf("published only %d of %d", i, n)
			}
		}
		p.acknowledged.Add(1)
		p.gate.Unlock()
	}
	p.client.Disconnect(100)
	return nil
}

func (p *publisher) try(payload string) bool {
	if p.client == nil {
		c := mqtt.NewClient(mqtt.NewClientOptions().AddBroker("mqtt://" + p.broker.addr).SetProtocolVersion(4).SetClientID("bench-1").
			SetUsername("bench-1").SetPassword("rain").SetAutoReconnect(false).SetConnectTimeout(time.Second))
		if token := c.Connect(); !token.WaitTimeout(2*time.Second) || token.Error() != nil {
			return false
		}
		p.client = c
	}
	token := p.client.Publish("quarry-bank/long-house/bench-1/air", 1, false, payload)
	if token.WaitTimeout(time.Second) && token.Error() == nil {
		return true
	}
	p.client.Disconnect(10)
	p.client = nil
	return false
}

// TestMosquittoSession: what is published while the watch is away arrives
// later, and is marked as held until the mark has come back; a retained value
// is marked as retained.
func TestMosquittoSession(t *testing.T) {
	m := startMosquitto(t)
	pub := m.client("telltale")
	r := startLink(t, m.options())
	r.change(true)
	must(t, pub.Publish("quarry-bank/live", 1, false, "1"))
	if got := r.take(1)[0]; got.Held || got.Retained {
		t.Errorf("%+v must be live", got)
	}
	r.stop()
	const n = 500
	for i := range n {
		token := pub.Publish("quarry-bank/away", 1, false, reading(i))
		if i%100 == 99 {
			must(t, token)
		}
	}
	must(t, pub.Publish("quarry-bank/kept", 1, true, "19.5"))

	r = startLink(t, m.options())
	r.change(true)
	retained, held := 0, 0
	for _, msg := range r.take(n + 2) { // the kept one was queued, and comes again by the new subscription
		if msg.Retained {
			retained++
		}
		if msg.Held {
			held++
		}
	}
	if held != n+1 || retained != 1 {
		t.Errorf("%d held and %d retained, want %d and 1", held, retained, n+1)
	}
	// After the mark everything is live again.
	waitFor(t, "the mark", func() bool { return !r.current().mark.open.Load() })
	must(t, pub.Publish("quarry-bank/live", 1, false, "2"))
	if got := r.take(1)[0]; got.Held || got.Retained || string(got.Payload) != "2" {
		t.Errorf("%+v must be live", got)
	}
}

func TestMosquittoCleanSessionForgets(t *testing.T) {
	m := startMosquitto(t)
	pub := m.client("telltale")
	o := m.options()
	o.CleanSession = true
	r := startLink(t, o)
	r.change(true)
	r.stop()
	must(t, pub.Publish("quarry-bank/away", 1, false, "1"))
	r = startLink(t, o)
	r.change(true)
	must(t, pub.Publish("quarry-bank/live", 1, false, "2"))
	if got := r.take(1)[0]; got.Topic != "quarry-bank/live" || got.Held {
		t.Errorf("%+v, want the live one alone", got)
	}
}

// TestMosquittoRefusesSubscription uses the broker's access plugin, since its
// plain list of rights grants every filter and then lets nothing through.
func TestMosquittoRefusesSubscription(t *testing.T) {
	m := newMosquitto(t)
	access := filepath.Join(m.dir, "access.json")
	if err := os.WriteFile(access, accessPlugin(t, "page", "rain", "quarry-bank/#"), 0o600); err != nil {
		t.Fatal(err)
	}
	m.lines = slices.DeleteFunc(m.lines, func(l string) bool { return strings.Contains(l, "_file ") })
	m.lines = append(m.lines, "plugin "+pluginFile(t), "plugin_opt_config_file "+access)
	m.start()
	o := m.options()
	o.User, o.Filters = "page", []string{"low-house/#", "quarry-bank/#"}
	r := startLink(t, o)
	wantSentence(t, r.change(true).Why, `does not let the account "page" subscribe to low-house/#`, "Check the topic rights")
	if err := r.Publish(t.Context(), "quarry-bank/x", []byte("1"), 1, false); err != nil {
		t.Fatal(err)
	}
	r.take(1)
	o.Filters, o.ClientID = []string{"low-house/#"}, "deaf"
	wantSentence(t, startLink(t, o).change(false).Why, "subscribe to low-house/#")
}

func pluginFile(t *testing.T) string {
	t.Helper()
	for _, pattern := range []string{"/usr/lib/*/mosquitto_dynamic_security.so", "/usr/lib/mosquitto_dynamic_security.so", "/usr/local/lib/mosquitto_dynamic_security.so"} {
		if files, _ := filepath.Glob(pattern); len(files) > 0 {
			return files[0]
		}
	}
	if os.Getenv("TELLTALE_REQUIRE_BROKER") == "1" {
		t.Fatal("the broker's access plugin is not installed, and TELLTALE_REQUIRE_BROKER=1 asks for this test")
	}
	t.Skip("the broker's access plugin is not installed: this test needs mosquitto_dynamic_security.so (Debian: mosquitto)")
	return ""
}

// accessPlugin is the plugin's file for one account that may publish anything
// and subscribe to filter alone. The password is kept as PBKDF2 with SHA-512.
func accessPlugin(t *testing.T, name, password, filter string) []byte {
	t.Helper()
	salt := []byte("quarry-bank-")
	const rounds = 101
	sum, err := pbkdf2.Key(sha512.New, password, salt, rounds, 64)
	if err != nil {
		t.Fatal(err)
	}
	type object map[string]any
	role := object{"rolename": "reader", "acls": []object{
		{"acltype": "publishClientSend", "topic": "#", "allow": true},
		{"acltype": "publishClientReceive", "topic": "#", "allow": true},
		{"acltype": "subscribePattern", "topic": filter, "allow": true},
	}}
	out, err := json.Marshal(object{
		"clients": []object{{"username": name, "password": base64.StdEncoding.EncodeToString(sum),
			"salt": base64.StdEncoding.EncodeToString(salt), "iterations": rounds, "roles": []object{{"rolename": "reader"}}}},
		"roles":            []object{role},
		"defaultACLAccess": object{"publishClientSend": false, "publishClientReceive": true, "subscribe": false, "unsubscribe": true},
	})
	if err != nil {
		t.Fatal(err)
	}
	return out
}

// TestMosquittoWill: another client sees the watch's will when the link dies
// without a word.
func TestMosquittoWill(t *testing.T) {
	m := startMosquitto(t)
	got := make(chan string, 10)
	must(t, m.client("telltale").Subscribe(defaultStateTopic, 1, func(_ mqtt.Client, msg mqtt.Message) { got <- string(msg.Payload()) }))
	next := func(want string) {
		t.Helper()
		select {
		case s := <-got:
			if !strings.Contains(s, want) {
				t.Errorf("state %s, want %s", s, want)
			}
		case <-time.After(patience):
			t.Fatalf("no state came, want %s", want)
		}
	}
	r := startLink(t, m.options())
	r.change(true)
	next("watching")
	// A client with the same ID throws the link out, as a lost connection would.
	thief := client(t, func(o *mqtt.ClientOptions) {
		o.AddBroker("mqtt://" + m.addr).SetUsername("telltale").SetPassword("rain").SetClientID("telltale")
	})
	next("lost")
	thief.Disconnect(100)
	next("watching")
	r.stop()
	next("stopped")
}

// TestMosquittoOverlap states what this broker does with filters that overlap
// in part: nothing is lost, and a retained message comes once for each.
func TestMosquittoOverlap(t *testing.T) {
	m := startMosquitto(t)
	pub := m.client("telltale")
	must(t, pub.Publish("quarry-bank/bench-1/air", 1, true, "19.5"))
	o := m.options()
	o.Filters = []string{"quarry-bank/+/air", "quarry-bank/bench-1/+", "quarry-bank/bench-1/air"}
	r := startLink(t, o)
	r.change(true)
	for _, msg := range r.take(2) {
		if !msg.Retained {
			t.Errorf("%+v must be retained", msg)
		}
	}
	must(t, pub.Publish("quarry-bank/bench-1/air", 1, false, "20"))
	must(t, pub.Publish("quarry-bank/bench-1/end", 1, false, "1"))
	var live []string
	for !slices.Contains(live, "quarry-bank/bench-1/end") {
		live = append(live, r.take(1)[0].Topic)
	}
	if len(live) > 3 {
		t.Errorf("%d copies of one message: %q", len(live)-1, live)
	}
	t.Logf("copies by two filters that overlap in part: %d", len(live)-1)
}

// TestMosquittoDrops: that the broker drops messages for a client that is too
// slow is noticed by its own report.
func TestMosquittoDrops(t *testing.T) {
	m := newMosquitto(t)
	m.lines[slices.Index(m.lines, "max_queued_messages 100000")] = "max_queued_messages 10"
	m.start()
	r := startLink(t, m.options())
	r.change(true)
	// Another client with a session is away; its queue overflows.
	away := client(t, func(o *mqtt.ClientOptions) {
		o.AddBroker("mqtt://" + m.addr).SetUsername("telltale").SetPassword("rain").SetClientID("away").SetCleanSession(false)
	})
	must(t, away.Subscribe("low-house/#", 1, nil))
	away.Disconnect(100)
	waitFor(t, "the first report", func() bool {
		r.brokerDropped.mu.Lock()
		defer r.brokerDropped.mu.Unlock()
		return r.brokerDropped.known
	})
	pub := m.client("telltale")
	for i := range 50 {
		must(t, pub.Publish("low-house/x", 1, false, reading(i)))
	}
	waitFor(t, "the broker's report", func() bool { return r.Stats().BrokerDropped >= 40 })
	if r.Stats().Dropped != 0 {
		t.Errorf("%+v: the link itself dropped nothing", r.Stats())
	}
}
