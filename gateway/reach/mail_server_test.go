package reach

import (
	"bytes"
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"io"
	"net"
	"net/mail"
	"net/textproto"
	"slices"
	"strings"
	"sync"
	"testing"
)

// mailServer is a small SMTP server (RFC 5321, 3207, 4954) for one test.
type mailServer struct {
	t        *testing.T
	listener net.Listener
	tls      *tls.Config
	roots    *x509.CertPool
	work     sync.WaitGroup

	mu       sync.Mutex
	open     map[net.Conn]bool
	answers  map[string]string // verb -> answer instead of the usual one; "hang": none
	noTLS    bool              // does not offer STARTTLS
	implicit bool              // TLS from the first byte
	got      []delivery
	verbs    []string // as received, over all connections
}

// delivery is one accepted mail.
type delivery struct {
	from, to string
	secured  bool
	login    string // user, a slash and the password; empty without login
	mail     *mail.Message
	body     string
}

// startMail starts a server; setup may change it before the first connection.
func startMail(t *testing.T, setup ...func(*mailServer)) *mailServer {
	t.Helper()
	cert, roots := certificate(t)
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		t.Fatal(err)
	}
	s := &mailServer{t: t, listener: listener, roots: roots, answers: map[string]string{}, open: map[net.Conn]bool{},
		tls: &tls.Config{Certificates: []tls.Certificate{cert}}}
	for _, change := range setup {
		change(s)
	}
	s.work.Go(s.accept)
	t.Cleanup(s.close)
	return s
}

func (s *mailServer) port() int { return s.listener.Addr().(*net.TCPAddr).Port }

func (s *mailServer) accept() {
	for {
		conn, err := s.listener.Accept()
		if err != nil {
			return
		}
		s.mu.Lock()
		s.open[conn] = true
		s.mu.Unlock()
		s.work.Go(func() {
			s.serve(conn)
			conn.Close()
			s.mu.Lock()
			delete(s.open, conn)
			s.mu.Unlock()
		})
	}
}

func (s *mailServer) close() {
	s.listener.Close()
	s.mu.Lock()
	for conn := range s.open {
		conn.Close()
	}
	s.mu.Unlock()
	s.work.Wait()
}

// answer sets what the server says to a verb from now on; empty: as usual.
func (s *mailServer) answer(verb, line string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.answers[verb] = line
}

func (s *mailServer) special(verb string) string {
	s.mu.Lock()
	defer s.mu.Unlock()
	s.verbs = append(s.verbs, verb)
	return s.answers[verb]
}

func (s *mailServer) seen(verb string) bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Contains(s.verbs, verb)
}

// idle reports whether no connection is open.
func (s *mailServer) idle() bool {
	s.mu.Lock()
	defer s.mu.Unlock()
	return len(s.open) == 0
}

func (s *mailServer) deliveries() []delivery {
	s.mu.Lock()
	defer s.mu.Unlock()
	return slices.Clone(s.got)
}

// talk is one conversation.
type talk struct {
	*textproto.Conn
	delivery
}

func (s *mailServer) serve(conn net.Conn) {
	k := &talk{}
	if s.implicit {
		conn = tls.Server(conn, s.tls)
		k.secured = true
	}
	k.Conn = textproto.NewConn(conn)
	if line := s.special("greeting"); line != "" {
		k.say(line)
		return
	}
	k.say("220 mail.example.org ready")
	for {
		line, err := k.ReadLine()
		if err != nil {
			return
		}
		verb, rest, _ := strings.Cut(line, " ")
		verb = strings.ToUpper(verb)
		switch special := s.special(verb); {
		case special == "hang":
			_, _ = k.ReadLine() // until the other side goes
			return
		case special == "drop":
			return
		case special != "":
			k.say(special)
			continue
		}
		if verb == "STARTTLS" {
			k.say("220 go ahead")
			conn = tls.Server(conn, s.tls)
			k.Conn, k.secured = textproto.NewConn(conn), true
			continue
		}
		if s.usual(k, verb, rest) {
			return
		}
	}
}

// usual answers a verb as a willing server does, and reports the end.
func (s *mailServer) usual(k *talk, verb, rest string) (end bool) {
	switch verb {
	case "EHLO":
		k.say("250-mail.example.org")
		if !k.secured && !s.noTLS {
			k.say("250-STARTTLS")
		}
		k.say("250 AUTH PLAIN")
	case "AUTH":
		_, encoded, _ := strings.Cut(rest, " ")
		plain, _ := base64.StdEncoding.DecodeString(encoded)
		parts := strings.Split(string(plain), "\x00")
		if len(parts) != 3 || parts[2] != "heron-and-sluice" {
			k.say("535 5.7.8 user or password wrong")
			break
		}
		k.login = parts[1] + "/" + parts[2]
		k.say("235 2.7.0 welcome")
	case "MAIL":
		k.from = rest
		k.say("250 ok")
	case "RCPT":
		k.to = rest
		k.say("250 ok")
	case "DATA":
		k.say("354 go on")
		raw, err := io.ReadAll(k.DotReader())
		if err != nil {
			return true
		}
		if line := s.special("end of data"); line != "" {
			k.say(line)
			break
		}
		s.take(k, raw)
		k.say("250 2.0.0 taken")
	case "QUIT":
		k.say("221 goodbye")
		return true
	default:
		k.say("250 ok")
	}
	return false
}

func (s *mailServer) take(k *talk, raw []byte) {
	d := k.delivery
	message, err := mail.ReadMessage(bytes.NewReader(raw))
	if err != nil {
		s.t.Errorf("what arrived is no mail: %v\n%s", err, raw)
		return
	}
	d.mail, d.body = message, decodeBody(s.t, message)
	s.mu.Lock()
	defer s.mu.Unlock()
	s.got = append(s.got, d)
}

func (k *talk) say(line string) { _ = k.PrintfLine("%s", line) }
