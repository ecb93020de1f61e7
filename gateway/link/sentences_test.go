package link

import (
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// TestSentences provokes each failure to connect and reads what is said.
func TestSentences(t *testing.T) {
	ca, other := newAuthority(t, "thimble-garth"), newAuthority(t, "other")
	secure := func(cert, key string) string {
		return "mqtts://" + embedded(t, BrokerOptions{CertFile: cert, KeyFile: key}).Addr().String()
	}
	good := secure(ca.valid("broker", "127.0.0.1"))
	wrongName := secure(ca.valid("shed", "shed.example.org"))
	expired := secure(ca.issue("expired", time.Now().Add(-48*time.Hour), time.Now().Add(-24*time.Hour), "127.0.0.1"))
	plain := embedded(t, BrokerOptions{Accounts: houseAccounts}).Addr().String()
	rude, _ := fake(t, func(c net.Conn) { _, _ = c.Read(make([]byte, 1)) })
	for name, c := range map[string]struct {
		o    Options
		want []string
	}{
		"unknown authority": {Options{Servers: []string{good}}, []string{"an authority that this machine does not know", "CA file"}},
		"wrong authority":   {Options{Servers: []string{good}, CAFile: other.file}, []string{"not signed by the authority in " + other.file}},
		"wrong name":        {Options{Servers: []string{wrongName}, CAFile: ca.file, ServerName: "barn.example.org"}, []string{"is for shed.example.org, not for \"barn.example.org\""}},
		"wrong address":     {Options{Servers: []string{wrongName}, CAFile: ca.file}, []string{"not for \"127.0.0.1\""}},
		"expired":           {Options{Servers: []string{expired}, CAFile: ca.file}, []string{"Renew the certificate, or set the clock"}},
		"no TLS there":      {Options{Servers: []string{"mqtts://" + plain}, CAFile: ca.file}, []string{"closed the connection without a word"}},
		"TLS there":         {Options{Servers: []string{strings.Replace(good, "mqtts", "mqtt", 1)}}, []string{"closed the connection without a word", "mqtts://"}},
		"no account":        {Options{Servers: []string{"mqtt://" + plain}}, []string{"without a user name"}},
		"wrong password":    {Options{Servers: []string{"mqtt://" + plain}, User: "telltale", Password: "wrong"}, []string{`refused the user name or password of the account "telltale"`}},
		"rude":              {Options{Servers: []string{"mqtt://" + rude}}, []string{"closed the connection without a word"}},
	} {
		t.Run(name, func(t *testing.T) {
			r := startLink(t, c.o)
			why := r.change(false).Why
			wantSentence(t, why, c.want...)
			if strings.Contains(why, "network Error") || c.o.Password != "" && strings.Contains(why, c.o.Password+`"`) {
				t.Errorf("the sentence shows inner text: %s", why)
			}
		})
	}
}

// TestSentencesOfTheNetwork are those that no loopback address provokes.
func TestSentencesOfTheNetwork(t *testing.T) {
	srv, err := parseServer("mqtt://broker.example.org")
	if err != nil {
		t.Fatal(err)
	}
	l := &Link{opt: Options{ClientID: "the watch"}}
	for _, c := range []struct {
		err  error
		want string
	}{
		{&net.DNSError{IsNotFound: true}, `The name "broker.example.org" of the broker is not known. Check the spelling and the name server, or give the address in digits.`},
		{&net.DNSError{IsTimeout: true}, `The name "broker.example.org" of the broker cannot be looked up now: the name server does not answer. Check the network, or give the address in digits.`},
		{&net.OpError{Op: "dial", Err: syscall.EHOSTUNREACH}, "There is no way to the broker at broker.example.org:1883. Check the network, and that its machine is on."},
		{&net.OpError{Op: "dial", Err: os.ErrDeadlineExceeded}, "The broker at broker.example.org:1883 does not answer. Check that its machine is on, and that no firewall is in between."},
		{packets.ErrorRefusedIDRejected, `The broker at broker.example.org:1883 refused the client ID "the watch". Choose another, of at most 23 letters and digits.`},
		{packets.ErrorRefusedServerUnavailable, "The broker at broker.example.org:1883 says that it is not available now. It may be starting, or full: check its log."},
		{packets.ErrorRefusedBadProtocolVersion, "The broker at broker.example.org:1883 does not speak MQTT 3.1.1. Check its settings."},
		{errors.New("odd"), "No connection to the broker at broker.example.org:1883: odd."},
	} {
		if got := l.explain(srv, fmt.Errorf("%w : %w", packets.ErrorNetworkError, c.err)); got != c.want {
			t.Errorf("%v\ngot  %s\nwant %s", c.err, got, c.want)
		}
	}
}

// TestMuteBroker: the end must not have to wait for a broker that takes the
// connection and then says nothing.
func TestMuteBroker(t *testing.T) {
	addr, came := fake(t, func(c net.Conn) { _, _ = io.Copy(io.Discard, c) })
	noLeak(t)
	r := startLink(t, Options{Servers: []string{"mqtt://" + addr}})
	<-came
	began := time.Now()
	r.stop()
	if took := time.Since(began); took > connectTimeout/2 {
		t.Errorf("Run took %v to end", took)
	}
}

// fake listens and handles each connection with talk.
func fake(t *testing.T, talk func(net.Conn)) (addr string, came chan struct{}) {
	t.Helper()
	ln, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	came = make(chan struct{}, 100)
	done := make(chan struct{})
	go func() {
		defer close(done)
		for {
			c, err := ln.Accept()
			if err != nil {
				return
			}
			go func() { defer c.Close(); came <- struct{}{}; talk(c) }()
		}
	}()
	t.Cleanup(func() { ln.Close(); <-done })
	return ln.Addr().String(), came
}

// TestBrokerStopsAnswering: a broker that keeps the connection and says
// nothing more is noticed by the keep-alive.
func TestBrokerStopsAnswering(t *testing.T) {
	noLeak(t)
	addr, _ := fake(t, func(c net.Conn) {
		for {
			cp, err := packets.ReadPacket(c)
			if err != nil {
				return
			}
			switch p := cp.(type) {
			case *packets.ConnectPacket:
				_ = packets.NewControlPacket(packets.Connack).Write(c)
			case *packets.SubscribePacket:
				a := packets.NewControlPacket(packets.Suback).(*packets.SubackPacket)
				a.MessageID, a.ReturnCodes = p.MessageID, p.Qoss
				_ = a.Write(c)
			} // and no answer to a ping
		}
	})
	l, err := New(Options{Servers: []string{"mqtt://" + addr}, Filters: []string{"thimble-garth/#"}})
	if err != nil {
		t.Fatal(err)
	}
	l.opt.KeepAlive, l.pingTimeout = time.Second, 100*time.Millisecond
	r := run(t, l)
	// The state is published before the change and never acknowledged.
	r.change(true)
	wantSentence(t, r.change(false).Why, addr, "does not answer any more")
	r.stop()
}
