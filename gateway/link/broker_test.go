package link

import (
	"context"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
	mochi "github.com/mochi-mqtt/server/v2"
	"github.com/mochi-mqtt/server/v2/packets"
	"github.com/rs/zerolog"
)

var houseAccounts = []Account{
	{User: "bench-1", Password: "rain", Publish: []string{"thimble-garth/long-house/bench-1/#"}},
	{User: "page", Password: "slate", Subscribe: []string{"thimble-garth/+/#", "telltale/#"}},
	{User: "greedy", Password: "moss", Publish: []string{"#"}, Subscribe: []string{"thimble-garth/#"}},
}

func login(b *Broker, user, password string) func(*mqtt.ClientOptions) {
	return func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())).SetUsername(user).SetPassword(password) }
}

func TestBrokerAddressInUse(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	_, err := StartBroker(BrokerOptions{Address: b.Addr().String()})
	if !errors.Is(err, ErrAddressInUse) {
		t.Fatalf("got %v, want ErrAddressInUse", err)
	}
	want := "embedded broker: cannot listen at " + b.Addr().String() + ": the address is in use by another program. Perhaps another broker or another watch is running: stop it, or choose another port"
	if err.Error() != want {
		t.Errorf("got  %q\nwant %q", err, want)
	}
}

func TestBrokerOptionsAreChecked(t *testing.T) {
	bad := filepath.Join(t.TempDir(), "bad.crt")
	if err := os.WriteFile(bad, []byte("no certificate"), 0o600); err != nil {
		t.Fatal(err)
	}
	for name, c := range map[string]struct {
		o    BrokerOptions
		want []string
	}{
		"open to all": {BrokerOptions{Address: "0.0.0.0:0"}, []string{"0.0.0.0:0 can be reached from other machines, but there are no accounts"}},
		"by name":     {BrokerOptions{Address: "broker.example.org:0"}, []string{"no accounts"}},
		"no port":     {BrokerOptions{Address: "127.0.0.1"}, []string{`address "127.0.0.1": want host:port`}},
		"accounts": {BrokerOptions{Address: "127.0.0.1:0", Accounts: []Account{
			{User: "a", Publish: []string{"x/#/y"}}, {User: "b", Password: "p"}, {User: "telltale", Password: "p", Publish: []string{"telltale/x"}}, {Password: "p", Publish: []string{"x"}},
		}}, []string{`account "a" has no password`, `account "a": what it may publish to must have # as its last level only (got "x/#/y")`, `account "b" may neither`, `account "telltale" exists twice, or is the watch's own`, "must not lie below \"telltale/\"", "without a user name"}},
		"bad certificate": {BrokerOptions{Address: "127.0.0.1:0", CertFile: bad, KeyFile: bad}, []string{bad}},
		"half a pair":     {BrokerOptions{Address: "127.0.0.1:0", CertFile: bad}, []string{"both are needed"}},
		"clients only":    {BrokerOptions{Address: "127.0.0.1:0", ClientCAFile: bad}, []string{"no certificate of its own"}},
	} {
		b, err := StartBroker(c.o)
		if err == nil {
			b.Close()
			t.Errorf("%s: started", name)
			continue
		}
		for _, w := range c.want {
			if !strings.Contains(err.Error(), w) {
				t.Errorf("%s: error lacks %q:\n%v", name, w, err)
			}
		}
	}
}

func TestBrokerRefusesLogins(t *testing.T) {
	var log safeBuffer
	b := embedded(t, BrokerOptions{Accounts: houseAccounts, Log: zerolog.New(&log)})
	holder := client(t, func(o *mqtt.ClientOptions) { login(b, "bench-1", "rain")(o); o.SetClientID("bench-1") })
	for name, change := range map[string]func(*mqtt.ClientOptions){
		"nobody":         func(o *mqtt.ClientOptions) {},
		"wrong password": func(o *mqtt.ClientOptions) { o.SetUsername("bench-1").SetPassword("sun") },
		"no password":    func(o *mqtt.ClientOptions) { o.SetUsername("bench-1") },
		"unknown user":   func(o *mqtt.ClientOptions) { o.SetUsername("bench-9").SetPassword("rain") },
		"will elsewhere": func(o *mqtt.ClientOptions) {
			o.SetUsername("bench-1").SetPassword("rain")
			o.SetWill("telltale/watch/state", "x", 0, true)
		},
		"another's client ID": func(o *mqtt.ClientOptions) { o.SetUsername("page").SetPassword("slate").SetClientID("bench-1") },
	} {
		o := mqtt.NewClientOptions().AddBroker(at(b.Addr())).SetProtocolVersion(4).SetClientID("x")
		change(o)
		token := mqtt.NewClient(o).Connect()
		if !token.WaitTimeout(patience) || token.Error() == nil {
			t.Errorf("%s: was let in", name)
		}
	}
	for _, id := range []string{"telltale", "telltale-look"} { // the watch is away
		o := mqtt.NewClientOptions().AddBroker(at(b.Addr())).SetProtocolVersion(4).SetClientID(id).SetUsername("page").SetPassword("slate")
		if token := mqtt.NewClient(o).Connect(); !token.WaitTimeout(patience) || token.Error() == nil {
			t.Errorf("another account was let in as %s", id)
		}
	}
	startLink(t, watchOf(b)).change(true)
	if !holder.IsConnected() {
		t.Error("another account threw out the client whose ID it used")
	}
	if n := b.Stats().RefusedLogins; n != 8 {
		t.Errorf("%d refused logins, want 8", n)
	}
	if strings.Contains(log.String(), "sun") || strings.Contains(log.String(), "slate") {
		t.Errorf("a password is in the log:\n%s", log.String())
	}
}

func TestBrokerTopicRights(t *testing.T) {
	b := embedded(t, BrokerOptions{Accounts: houseAccounts, Log: testLog(t)})
	o := watchOf(b)
	o.Filters = []string{"#"}
	r := startLink(t, o)
	r.change(true)
	publish := func(user, password, topic string, qos byte) {
		t.Helper()
		c := client(t, login(b, user, password))
		c.Publish(topic, qos, false, topic).WaitTimeout(time.Second) // at QoS 1 a refused client is cut off
		c.Disconnect(100)
	}
	publish("bench-1", "rain", "thimble-garth/long-house/bench-2", 0)
	publish("bench-1", "rain", "thimble-garth/long-house/bench-2", 1)
	publish("page", "slate", "thimble-garth/x", 0)
	publish("greedy", "moss", "telltale/watch/ack", 0)
	publish("greedy", "moss", "elsewhere", 0)
	publish("bench-1", "rain", "thimble-garth/long-house/bench-1/air", 1)
	got := r.take(2) // of two clients, so in any order
	topics := []string{got[0].Topic, got[1].Topic}
	slices.Sort(topics)
	if !slices.Equal(topics, []string{"elsewhere", "thimble-garth/long-house/bench-1/air"}) {
		t.Errorf("got %q; the refused ones must not come", topics)
	}

	for _, c := range []struct {
		user, password, filter string
		want                   bool
	}{
		{"bench-1", "rain", "thimble-garth/long-house/bench-1/#", false},
		{"page", "slate", "thimble-garth/+/+", true}, {"page", "slate", "thimble-garth/#", false},
		{"page", "slate", "telltale/watch/state", true}, {"page", "slate", "#", false}, {"page", "slate", "$SYS/#", false},
		{"greedy", "moss", "thimble-garth/#", true},
	} {
		token := client(t, login(b, c.user, c.password)).Subscribe(c.filter, 0, nil).(*mqtt.SubscribeToken)
		token.WaitTimeout(patience)
		if granted := token.Result()[c.filter] <= 2; granted != c.want {
			t.Errorf("%s subscribes to %s: granted %v, want %v", c.user, c.filter, granted, c.want)
		}
	}
	waitFor(t, "at least 8 refused topics", func() bool { return b.Stats().RefusedTopics >= 8 })
}

// TestBrokerClosesWithSilentConnection: Close must not wait for clients that
// never said who they are.
func TestBrokerClosesWithSilentConnection(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	c, err := net.Dial("tcp", b.Addr().String())
	if err != nil {
		t.Fatal(err)
	}
	defer c.Close()
	waitFor(t, "the connection to be accepted", func() bool {
		b.listen.mu.Lock()
		defer b.listen.mu.Unlock()
		return len(b.listen.open) == 1
	})
	done := make(chan struct{})
	go func() { b.Close(); close(done) }()
	select {
	case <-done:
	case <-time.After(helloTimeout - 2*time.Second):
		t.Error("Close waits for a client that says nothing")
	}
}

// TestBrokerClosesWhileClientsLeave: clients that leave at the very moment must
// not lock it up.
func TestBrokerClosesWhileClientsLeave(t *testing.T) {
	const brokers, clients = 100, 16
	for range brokers {
		b := embedded(t, BrokerOptions{})
		var inside, gone sync.WaitGroup
		leave := make(chan struct{})
		for i := range clients {
			inside.Add(1)
			gone.Go(func() {
				c, err := net.Dial("tcp", b.Addr().String())
				if err == nil {
					defer c.Close()
					// CONNECT of MQTT 3.1.1 (OASIS, 3.1), clean session, one letter for a name
					_, _ = c.Write([]byte{0x10, 13, 0, 4, 'M', 'Q', 'T', 'T', 4, 2, 0, 60, 0, 1, byte('a' + i)})
					_, err = io.ReadFull(c, make([]byte, 4)) // CONNACK
				}
				if err != nil {
					t.Error(err)
				}
				inside.Done()
				<-leave
			})
		}
		inside.Wait()
		done := make(chan struct{})
		close(leave)
		go func() { _ = b.Close(); close(done) }()
		select {
		case <-done:
		case <-time.After(patience):
			t.Fatal("Close hangs when clients leave as it works")
		}
		gone.Wait()
	}
}

func TestBrokerTLSAndClientCertificate(t *testing.T) {
	ca := newAuthority(t, "thimble-garth")
	cert, key := ca.valid("broker", "127.0.0.1")
	clientCert, clientKey := ca.valid("watch")
	b := embedded(t, BrokerOptions{CertFile: cert, KeyFile: key, ClientCAFile: ca.file, Accounts: houseAccounts})
	user, password := b.Login()
	o := Options{Servers: []string{"mqtts://" + b.Addr().String()}, User: user, Password: password, CAFile: ca.file}
	without := startLink(t, o)
	wantSentence(t, without.change(false).Why, "client certificate")
	o.CertFile, o.KeyFile = clientCert, clientKey
	with := startLink(t, o)
	with.change(true)
	if err := with.Publish(context.Background(), "thimble-garth/x", []byte("1"), 1, false); err != nil {
		t.Error(err)
	}
	with.take(1)
}

// TestBrokerKeepsABurst: the raised limits hold a burst that the library's own
// lose, for a client that is away.
func TestBrokerKeepsABurst(t *testing.T) {
	b := embedded(t, BrokerOptions{})
	o := watchOf(b)
	o.QueueSize = 20000
	r := startLink(t, o)
	r.change(true)
	r.stop()
	pub := client(t, func(o *mqtt.ClientOptions) { o.AddBroker(at(b.Addr())) })
	const n = 12000 // above the library's 8,192
	for i := range n {
		token := pub.Publish(fmt.Sprintf("thimble-garth/%d", i%12), 1, false, reading(i))
		if i%500 == 499 {
			must(t, token)
		}
	}
	settle(t, pub)
	r = startLink(t, o)
	seen := map[string]bool{}
	for _, m := range r.take(n) {
		seen[string(m.Payload)] = true
	}
	if len(seen) != n || b.Stats().Dropped != 0 {
		t.Errorf("%d different messages of %d; broker dropped %d", len(seen), n, b.Stats().Dropped)
	}
}

// TestLinkWithinTheProcess: the watch reaches its own broker whatever the
// certificate says, and at the broker's end is told.
func TestLinkWithinTheProcess(t *testing.T) {
	noLeak(t)
	ca := newAuthority(t, "thimble-garth")
	cert, key := ca.valid("broker", "broker.example.org")
	b := embedded(t, BrokerOptions{CertFile: cert, KeyFile: key, ClientCAFile: ca.file, Accounts: houseAccounts})
	r := startLink(t, Options{Broker: b, QoS: 1})
	if c := r.change(true); !strings.Contains(c.Why, b.Addr().String()) {
		t.Error(c.Why)
	}
	const n = 2000
	for i := range n {
		if err := r.Publish(t.Context(), "thimble-garth/x", []byte(reading(i)), 1, false); err != nil {
			t.Fatal(err)
		}
	}
	for i, m := range r.take(n) {
		if string(m.Payload) != reading(i) {
			t.Fatalf("message %d is %s", i, m.Payload)
		}
	}
	if err := b.Close(); err != nil {
		t.Error(err)
	}
	wantSentence(t, r.change(false).Why, "was lost")
	wantSentence(t, r.change(false).Why, "has been stopped")
	r.stop()
	if _, err := New(Options{Broker: b, Servers: []string{"mqtt://h"}, Filters: []string{"a"}}); err == nil || !strings.Contains(err.Error(), "want one of them") {
		t.Errorf("two brokers: %v", err)
	}
}

// TestWhatIsDroppedOnItsWayToTheWatchIsLost: of all that the broker drops only
// that is.
func TestWhatIsDroppedOnItsWayToTheWatchIsLost(t *testing.T) {
	b, err := StartBroker(BrokerOptions{Address: "127.0.0.1:0"})
	if err != nil {
		t.Fatal(err)
	}
	defer b.Close()
	dropped := func(id string) { b.gate.OnPublishDropped(&mochi.Client{ID: id}, packets.Packet{TopicName: "g"}) }
	dropped("watch")
	if _, err := New(Options{Broker: b, ClientID: "watch", Filters: []string{"g"}}); err != nil {
		t.Fatal(err)
	}
	dropped("watch")
	dropped("lamp")
	if n := b.Stats().Lost; n != 1 {
		t.Errorf("%d are lost, want 1", n)
	}
}
