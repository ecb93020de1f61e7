package link

import (
	"bytes"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	"telltale/gateway/topic"
)

func TestMosquittoTLSAndAccounts(t *testing.T) {
	ca := newAuthority(t, "thimble-garth")
	cert, key := ca.valid("broker", "localhost")
	m := startMosquitto(t, "cafile "+ca.file, "certfile "+cert, "keyfile "+key)
	_, port, _ := net.SplitHostPort(m.addr)
	o := Options{Servers: []string{"mqtts://localhost:" + port}, User: "telltale", Password: "rain", CAFile: ca.file, QoS: 1}
	r := startLink(t, o)
	r.change(true)
	if err := r.Publish(t.Context(), "thimble-garth/x", []byte("1"), 1, false); err != nil {
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
	ca, other := newAuthority(t, "thimble-garth"), newAuthority(t, "other")
	cert, key := ca.valid("broker", "127.0.0.1")
	m := startMosquitto(t, "cafile "+ca.file, "certfile "+cert, "keyfile "+key, "require_certificate true", "use_identity_as_username true")
	o := Options{Servers: []string{"mqtts://" + m.addr}, CAFile: ca.file, QoS: 1}
	wantSentence(t, startLink(t, o).change(false).Why, "client certificate")
	o.CertFile, o.KeyFile = other.valid("telltale")
	wantSentence(t, startLink(t, o).change(false).Why, "client certificate")
	o.CertFile, o.KeyFile = ca.valid("telltale") // the account by the certificate's name
	r := startLink(t, o)
	r.change(true)
	if err := r.Publish(t.Context(), "thimble-garth/x", []byte("1"), 1, false); err != nil {
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
		return bytes.Contains(db, []byte("thimble-garth/#"))
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

// TestMosquittoSession: what is published while the watch is away arrives
// later, and is marked as held until the mark has come back; a retained value
// is marked as retained.
func TestMosquittoSession(t *testing.T) {
	m := startMosquitto(t)
	pub := m.client("telltale")
	r := startLink(t, m.options())
	r.change(true)
	must(t, pub.Publish("thimble-garth/live", 1, false, "1"))
	if got := r.take(1)[0]; got.Held || got.Retained {
		t.Errorf("%+v must be live", got)
	}
	r.stop()
	const n = 500
	for i := range n {
		token := pub.Publish("thimble-garth/away", 1, false, reading(i))
		if i%100 == 99 {
			must(t, token)
		}
	}
	must(t, pub.Publish("thimble-garth/kept", 1, true, "19.5"))

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
	must(t, pub.Publish("thimble-garth/live", 1, false, "2"))
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
	must(t, pub.Publish("thimble-garth/away", 1, false, "1"))
	r = startLink(t, o)
	r.change(true)
	must(t, pub.Publish("thimble-garth/live", 1, false, "2"))
	if got := r.take(1)[0]; got.Topic != "thimble-garth/live" || got.Held {
		t.Errorf("%+v, want the live one alone", got)
	}
}

// TestMosquittoRefusesSubscription uses the broker's access plugin, since its
// plain list of rights grants every filter and then lets nothing through.
func TestMosquittoRefusesSubscription(t *testing.T) {
	m := newMosquitto(t)
	access := filepath.Join(m.dir, "access.json")
	if err := os.WriteFile(access, accessPlugin(t, "page", "rain", "thimble-garth/#"), 0o600); err != nil {
		t.Fatal(err)
	}
	m.lines = slices.DeleteFunc(m.lines, func(l string) bool { return strings.Contains(l, "_file ") })
	m.lines = append(m.lines, "plugin "+pluginFile(t), "plugin_opt_config_file "+access)
	m.start()
	o := m.options()
	o.User, o.Filters = "page", []string{"low-house/#", "thimble-garth/#"}
	r := startLink(t, o)
	wantSentence(t, r.change(true).Why, `does not let the account "page" subscribe to low-house/#`, "Check the topic rights")
	if err := r.Publish(t.Context(), "thimble-garth/x", []byte("1"), 1, false); err != nil {
		t.Fatal(err)
	}
	r.take(1)
	o.Filters, o.ClientID = []string{"low-house/#"}, "deaf"
	wantSentence(t, startLink(t, o).change(false).Why, "subscribe to low-house/#")
}

// TestMosquittoWill: another client sees the watch's will when the link dies
// without a word.
func TestMosquittoWill(t *testing.T) {
	m := startMosquitto(t)
	got := make(chan string, 10)
	must(t, m.client("telltale").Subscribe(topic.Own+topic.State, 1, func(_ mqtt.Client, msg mqtt.Message) { got <- string(msg.Payload()) }))
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
	must(t, pub.Publish("thimble-garth/bench-1/air", 1, true, "19.5"))
	o := m.options()
	o.Filters = []string{"thimble-garth/+/air", "thimble-garth/bench-1/+", "thimble-garth/bench-1/air"}
	r := startLink(t, o)
	r.change(true)
	for _, msg := range r.take(2) {
		if !msg.Retained {
			t.Errorf("%+v must be retained", msg)
		}
	}
	must(t, pub.Publish("thimble-garth/bench-1/air", 1, false, "20"))
	must(t, pub.Publish("thimble-garth/bench-1/end", 1, false, "1"))
	var live []string
	for !slices.Contains(live, "thimble-garth/bench-1/end") {
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

// TestMosquittoWithoutStateRights: an account that may not publish the state
// still hears everything.
func TestMosquittoWithoutStateRights(t *testing.T) {
	m := startMosquitto(t)
	o := m.options()
	o.User, o.ClientID = "page", "page"
	r := startLink(t, o)
	t.Log(r.change(true).Why)
	must(t, m.client("telltale").Publish("thimble-garth/x", 1, false, "1"))
	r.take(1)
}
