package link

import (
	"context"
	"errors"
	"fmt"
	"net"
	"net/url"
	"strings"
	"sync/atomic"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

const (
	connectTimeout   = 10 * time.Second // to reach a broker, and again for its answer
	subscribeTimeout = 15 * time.Second
	goodbyeTimeout   = 2 * time.Second
)

// session is one connection from CONNECT to its end. Each has a client of its
// own, so that nothing of an ended connection reaches into the next one.
type session struct {
	link   *Link
	server server
	client mqtt.Client
	lost   chan struct{} // closed when the connection was lost; why is then set
	why    error
	gone   chan struct{} // closed when the session is given up
	since  time.Time     // by Options.Now
	mark   marker
	heard  atomic.Bool // a message came: the broker is well
}

// open connects to one server. The error is a sentence.
func (l *Link) open(ctx context.Context, text string) (*session, error) {
	srv, err := parseServer(text)
	if err != nil {
		return nil, err
	}
	s := &session{link: l, server: srv, lost: make(chan struct{}), gone: make(chan struct{}), since: l.opt.Now()}
	s.mark.begin(!l.opt.CleanSession && !l.opt.PublishOnly)

	ctx, cancel := context.WithTimeout(ctx, 2*connectTimeout)
	defer cancel()
	d := &dialer{link: l, server: srv, ctx: ctx}
	opts, err := s.clientOptions(text, d)
	if err != nil {
		return nil, err
	}
	s.client = mqtt.NewClient(opts)
	token := s.client.Connect().(*mqtt.ConnectToken)
	<-token.Done() // ends with ctx, see dialer
	if err := token.Error(); err != nil {
		close(s.gone)
		return nil, errors.New(l.explain(srv, err))
	}
	d.release()
	if !token.SessionPresent() {
		s.mark.end()
	}
	return s, nil
}

func (s *session) clientOptions(text string, d *dialer) (*mqtt.ClientOptions, error) {
	o := &s.link.opt
	will, err := s.will()
	if err != nil {
		return nil, err
	}
	c := mqtt.NewClientOptions().AddBroker(text).SetClientID(o.ClientID).
		SetUsername(o.User).SetPassword(o.Password).
		SetProtocolVersion(4).SetCleanSession(o.CleanSession || o.PublishOnly).
		SetKeepAlive(o.KeepAlive).SetPingTimeout(s.link.pingTimeout).
		SetConnectTimeout(connectTimeout).SetWriteTimeout(writeTimeout).
		SetAutoReconnect(false).SetConnectRetry(false). // Run does both
		SetOrderMatters(true).SetAutoAckDisabled(true). // take acknowledges
		SetDefaultPublishHandler(s.take).
		SetConnectionLostHandler(func(_ mqtt.Client, err error) { s.why = err; close(s.lost) }).
		SetCustomOpenConnectionFn(func(*url.URL, mqtt.ClientOptions) (net.Conn, error) { return d.dial() })
	if !o.silent {
		c.SetBinaryWill(will.Topic, will.Payload, 1, true)
	}
	return c, nil
}

// serve subscribes and waits for the end of the connection or of ctx. It
// returns why the connection ended.
func (s *session) serve(ctx context.Context) string {
	l := s.link
	var refused []string
	if !l.opt.PublishOnly {
		var err error
		if refused, err = s.subscribe(ctx, l.filters); err != nil {
			return l.explainLost(s.server, err)
		}
		if !l.opt.silent {
			s.listenToBroker(ctx)
		}
	}
	l.setCurrent(s)
	defer l.setCurrent(nil)
	if len(refused) == 0 {
		s.tellRefused(nil)
	}
	s.tellState(ctx, Watching)
	err := s.wait(ctx, refused)
	if ctx.Err() != nil {
		s.goodbye()
		return ""
	}
	return l.explainLost(s.server, err)
}

// wait is the life of the connection: it asks again for what was refused and
// for the end of what the broker held, until the connection or ctx ends; it
// returns why.
func (s *session) wait(ctx context.Context, refused []string) error {
	l := s.link
	pauses := &pace{least: l.opt.retryMin, most: l.opt.retryMax, random: l.opt.random}
	var again <-chan time.Time
	if len(refused) > 0 {
		again = time.After(pauses.next())
	}
	mark := time.NewTicker(markEvery)
	defer mark.Stop()
	for {
		select {
		case <-ctx.Done():
			return ctx.Err()
		case <-s.lost:
			return s.why
		case <-mark.C:
			s.mark.again(s)
		case <-again:
			var err error
			if refused, err = s.subscribe(ctx, refused); err != nil {
				return err
			}
			s.tellRefused(refused)
			again = nil
			if len(refused) > 0 {
				again = time.After(pauses.next())
			}
		}
	}
}

// tellRefused reports that the link is up, and what the broker does not let the
// watch hear. A refusal is told only when it comes twice: the embedded broker
// gives one by mistake when it still holds messages for the watch.
func (s *session) tellRefused(refused []string) {
	l := s.link
	if len(refused) == 0 {
		l.tell(true, fmt.Sprintf("Connected to the broker at %s.", s.server.addr))
		return
	}
	all := len(refused) == len(l.filters)
	l.tell(!all, fmt.Sprintf("The broker at %s does not let the account %q subscribe to %s. Check the topic rights of this account.",
		s.server.addr, l.opt.User, strings.Join(refused, ", ")))
}

// subscribe asks for filters and returns those that the broker refused.
func (s *session) subscribe(ctx context.Context, filters []string) (refused []string, err error) {
	want := make(map[string]byte, len(filters))
	for _, f := range filters {
		want[f] = s.link.opt.QoS
	}
	token := s.client.SubscribeMultiple(want, nil).(*mqtt.SubscribeToken)
	ctx, cancel := context.WithTimeout(ctx, subscribeTimeout)
	defer cancel()
	if err := s.await(ctx, token); err != nil {
		return nil, err
	}
	for f, code := range token.Result() {
		if code > 2 {
			refused = append(refused, f)
		}
	}
	return inOrder(filters, refused), nil
}

// await waits for token, the end of the connection or of ctx.
func (s *session) await(ctx context.Context, token mqtt.Token) error {
	select {
	case <-token.Done():
		return token.Error()
	case <-s.lost:
		return s.why
	case <-s.gone:
		return ErrDown
	case <-ctx.Done():
		return ctx.Err()
	}
}

func (s *session) publish(ctx context.Context, topic string, payload []byte, qos byte, retain bool) error {
	err := s.await(ctx, s.client.Publish(topic, qos, retain, payload))
	if err == nil || ctx.Err() != nil {
		return err
	}
	return fmt.Errorf("%w (%w)", ErrDown, err)
}

// goodbye leaves a state that says the watch was stopped by intention.
func (s *session) goodbye() {
	ctx, cancel := context.WithTimeout(context.Background(), goodbyeTimeout)
	defer cancel()
	s.tellState(ctx, Stopped)
}

// end closes the connection, with DISCONNECT where it is still open, and
// waits for the client's goroutines.
func (s *session) end() {
	close(s.gone)
	s.client.Disconnect(uint(goodbyeTimeout.Milliseconds()))
}
