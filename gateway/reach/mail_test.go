package reach

import (
	"context"
	"errors"
	"io"
	"mime"
	"mime/quotedprintable"
	netmail "net/mail"
	"strings"
	"testing"

	"telltale/alarms"
)

func decodeBody(t *testing.T, m *netmail.Message) string {
	t.Helper()
	kind, params, err := mime.ParseMediaType(m.Header.Get("Content-Type"))
	if err != nil || kind != "text/plain" || !strings.EqualFold(params["charset"], "utf-8") {
		t.Errorf("content type %q: %v", m.Header.Get("Content-Type"), err)
	}
	var r io.Reader = m.Body
	if strings.EqualFold(m.Header.Get("Content-Transfer-Encoding"), "quoted-printable") {
		r = quotedprintable.NewReader(m.Body)
	}
	b, err := io.ReadAll(r)
	if err != nil {
		t.Error(err)
	}
	return strings.ReplaceAll(string(b), "\r\n", "\n")
}

// mailTo makes a notifier for the server.
func mailTo(t *testing.T, s *mailServer, change ...func(*MailOptions)) *Mail {
	t.Helper()
	o := MailOptions{
		Host: "127.0.0.1", Port: s.port(), User: "watch", Password: "heron-and-sluice",
		From: "Telltale <telltale@example.org>", To: map[string]string{"Ada": "Ada <ada@example.org>"}, Roots: s.roots,
	}
	for _, c := range change {
		c(&o)
	}
	m, err := NewMail(o)
	if err != nil {
		t.Fatal(err)
	}
	return m
}

// TestMailArrives checks what is on the wire against RFC 5322 (Date, Message-ID),
// RFC 3834 (Auto-Submitted) and RFC 2047 (subject), with Go's own parsers.
func TestMailArrives(t *testing.T) {
	for _, security := range []Security{StartTLS, ImplicitTLS, PlainLocal} {
		t.Run(string(security), func(t *testing.T) {
			s := startMail(t, func(s *mailServer) { s.implicit = security == ImplicitTLS })
			m := mailTo(t, s, func(o *MailOptions) { o.Security = security })
			give := telling(garden(), "mail", tooHot(alarms.High))
			if err := m.Tell(t.Context(), give); err != nil {
				t.Fatal(err)
			}
			got := s.deliveries()
			if len(got) != 1 {
				t.Fatalf("%d mails arrived, want 1", len(got))
			}
			d := got[0]
			if d.secured != (security != PlainLocal) || d.login != "watch/heron-and-sluice" {
				t.Errorf("secured %v, login %q", d.secured, d.login)
			}
			if !strings.Contains(d.from, "<telltale@example.org>") || !strings.Contains(d.to, "<ada@example.org>") {
				t.Errorf("from %s to %s", d.from, d.to)
			}
			if d.body != Text(give) {
				t.Errorf("body:\n%s\nwant:\n%s", d.body, Text(give))
			}
			checkHeader(t, d.mail.Header, give)
		})
	}
}

func checkHeader(t *testing.T, h netmail.Header, give Telling) {
	t.Helper()
	subject, err := new(mime.WordDecoder).DecodeHeader(h.Get("Subject"))
	if err != nil || subject != "High: Long House, bench: too hot, 33.4 °C at 12:00" {
		t.Errorf("subject %q: %v", subject, err)
	}
	if at, err := h.Date(); err != nil || !at.Equal(give.At) {
		t.Errorf("date %q: %v", h.Get("Date"), err)
	}
	want := map[string]string{"Auto-Submitted": "auto-generated", "Importance": "high", "Telltale-Id": give.ID, "User-Agent": "", "X-Mailer": ""}
	for name, value := range want {
		if got := h.Get(name); got != value {
			t.Errorf("%s: got %q, want %q", name, got, value)
		}
	}
	id := h.Get("Message-Id")
	if !strings.HasPrefix(id, "<telltale.") || !strings.HasSuffix(id, "@example.org>") || len(h["Message-Id"]) != 1 {
		t.Errorf("Message-ID %q", id)
	}
	if ref := h.Get("References"); ref == "" || ref == id {
		t.Errorf("References %q", ref)
	}
}

// TestMailDoubles: the same telling has the same Message-ID, another has not.
func TestMailDoubles(t *testing.T) {
	s := startMail(t)
	m := mailTo(t, s)
	first := telling(garden(), "mail", tooHot(alarms.High))
	other := first
	other.ID = "something else"
	for _, give := range []Telling{first, first, other} {
		if err := m.Tell(t.Context(), give); err != nil {
			t.Fatal(err)
		}
	}
	var ids []string
	for _, d := range s.deliveries() {
		ids = append(ids, d.mail.Header.Get("Message-Id"))
	}
	if len(ids) != 3 || ids[0] != ids[1] || ids[1] == ids[2] {
		t.Errorf("Message-IDs %q", ids)
	}
}

// TestMailAnswers: by RFC 5321 section 4.2.1 a reply of 4yz asks to come again,
// and one of 5yz not to; 500, 501 and 555 say that it is wrongly written (section
// 4.2.2 and 4.2.4).
func TestMailAnswers(t *testing.T) {
	cases := []struct {
		verb, answer string
		kind         string
		want         string // part of the sentence; empty: delivered
	}{
		{"greeting", "421 4.3.2 closing down", "temporary", "cannot take the message now"},
		{"greeting", "554 5.3.2 no service here", "denied", "refuses this client; check user, password and port"},
		{"AUTH", "454 4.7.0 directory away", "temporary", "cannot take the message now"},
		{"AUTH", "535 5.7.8 wrong", "denied", "refuses this client; check user, password and port"},
		{"MAIL", "451 4.3.0 try later", "temporary", `451 "4.3.0 try later"`},
		{"MAIL", "553 5.1.8 bad sender", "denied", "refuses the message to Ada; check the address and the sender"},
		{"RCPT", "450 4.2.1 mailbox busy", "temporary", `450 "4.2.1 mailbox busy"`},
		{"RCPT", "550 5.1.1 no such user", "nobody there", `550 "5.1.1 no such user"`},
		{"RCPT", "552 5.2.2 mailbox full", "denied", `552 "5.2.2 mailbox full"`},
		{"RCPT", "501 5.1.3 no address", "permanent", `501 "5.1.3 no address"`},
		{"MAIL", "555 5.5.4 no such parameter", "permanent", `555 "5.5.4 no such parameter"`},
		{"end of data", "550 5.7.1 no such user", "nobody there", "no such user"},
		{"DATA", "452 4.3.1 disk full", "temporary", `452 "4.3.1 disk full"`},
		{"DATA", "554 5.6.0 no", "denied", `554 "5.6.0 no"`},
		{"end of data", "451 4.7.1 greylisted", "temporary", `451 "4.7.1 greylisted"`},
		{"end of data", "552 5.3.4 too big", "denied", `552 "5.3.4 too big"`},
		{"MAIL", "drop", "temporary", "could not be used; check host, port and security"},
		{"RSET", "502 5.5.1 not known here", "", ""},
		{"QUIT", "drop", "", ""},
	}
	for _, c := range cases {
		t.Run(c.verb+" "+c.answer, func(t *testing.T) {
			s := startMail(t)
			s.answer(c.verb, c.answer)
			err := mailTo(t, s).Tell(t.Context(), telling(garden(), "mail", tooHot(alarms.High)))
			if c.want == "" {
				if err != nil || len(s.deliveries()) != 1 {
					t.Errorf("accepted mail counts as lost: %v", err)
				}
				return
			}
			if got := kindOfError(err); got != c.kind || !strings.Contains(err.Error(), c.want) {
				t.Errorf("got %v (%s), want %q (%s)", err, got, c.want, c.kind)
			}
			if err != nil && (strings.ContainsAny(err.Error(), "\r\n") || strings.Contains(err.Error(), "heron")) {
				t.Errorf("the sentence holds a line break or the password: %q", err)
			}
		})
	}
}

// TestMailPassword: a password never goes over a plain connection.
func TestMailPassword(t *testing.T) {
	s := startMail(t, func(s *mailServer) { s.noTLS = true })
	err := mailTo(t, s).Tell(t.Context(), telling(garden(), "mail", tooHot(alarms.High)))
	if err == nil || !strings.Contains(err.Error(), "could not be used; check host, port and security") {
		t.Errorf("a server without STARTTLS: got %v", err)
	}
	if s.seen("AUTH") || s.seen("MAIL") {
		t.Errorf("went on without TLS: %q", s.verbs)
	}
	eventually(t, "the connection is closed", s.idle)
}

// TestMailCertificate: a server that nobody vouches for gets nothing.
func TestMailCertificate(t *testing.T) {
	for _, security := range []Security{StartTLS, ImplicitTLS} {
		s := startMail(t, func(s *mailServer) { s.implicit = security == ImplicitTLS })
		_, strangers := certificate(t)
		m := mailTo(t, s, func(o *MailOptions) { o.Roots, o.Security = strangers, security })
		err := m.Tell(t.Context(), telling(garden(), "mail", tooHot(alarms.High)))
		var final *Permanent
		if err == nil || errors.As(err, &final) || !strings.Contains(err.Error(), "check the host name and this machine's clock") {
			t.Errorf("%s: got %v", security, err)
		}
		if s.seen("AUTH") || s.seen("MAIL") {
			t.Errorf("%s: went on: %q", security, s.verbs)
		}
	}
}

// TestMailHeedsContext: a server that falls silent anywhere holds nothing up.
func TestMailHeedsContext(t *testing.T) {
	for _, verb := range []string{"EHLO", "AUTH", "MAIL", "DATA", "QUIT"} {
		s := startMail(t)
		s.answer(verb, "hang")
		ctx, cancel := context.WithCancel(t.Context())
		done := make(chan error, 1)
		go func() { done <- mailTo(t, s).Tell(ctx, telling(garden(), "mail", tooHot(alarms.High))) }()
		eventually(t, "the server has seen "+verb, func() bool { return s.seen(verb) })
		cancel()
		err := <-done
		eventually(t, "the connection is closed", s.idle)
		if verb == "QUIT" {
			if err != nil {
				t.Errorf("accepted mail counts as lost: %v", err)
			}
			continue
		}
		if !errors.Is(err, context.Canceled) || !strings.Contains(err.Error(), "did not take the message in time") {
			t.Errorf("%s: got %v", verb, err)
		}
	}
}

func TestNewMailChecks(t *testing.T) {
	_, err := NewMail(MailOptions{Security: "none", Host: "mail.example.org", User: "watch", Port: 70000, From: "telltale@example.org",
		To: map[string]string{"Ben": "ben at home", "Ada": "ada@example.org"}})
	want := `mail security "none" is only for a server on this machine (got host "mail.example.org"); use "starttls" or "tls"
the mail server's port must lie between 1 and 65535 (got 70000)
mail login needs both a user and a password, or neither
the address of Ben is no mail address (got "ben at home"): mail: no angle-addr`
	if err == nil || err.Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", err, want)
	}
	_, err = NewMail(MailOptions{Security: "ssl", From: "nobody"})
	want = `mail security must be "starttls", "tls" or "none" (got "ssl")
the mail server's host is missing
the sender "nobody" is no mail address: mail: missing '@' or angle-addr`
	if err == nil || err.Error() != want {
		t.Errorf("got:\n%v\nwant:\n%s", err, want)
	}
}
