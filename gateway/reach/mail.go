package reach

import (
	"cmp"
	"context"
	"crypto/sha256"
	"crypto/tls"
	"crypto/x509"
	"encoding/hex"
	"errors"
	"fmt"
	"maps"
	"net"
	netmail "net/mail"
	"net/textproto"
	"slices"
	"strings"
	"time"

	"github.com/wneessen/go-mail"

	"telltale/alarms"
	"telltale/gateway/loopback"
)

// Security is how the connection to a mail server is protected.
type Security string

// Kinds of protection.
const (
	StartTLS    Security = "starttls" // turned on after connecting (RFC 3207); never without
	ImplicitTLS Security = "tls"      // from the first byte (RFC 8314)
	PlainLocal  Security = "none"     // only to a mail server on this machine
)

const mailWaits = 45 * time.Second // for one whole delivery

// MailOptions say how mail is sent.
type MailOptions struct {
	Host     string
	Port     int      // default 587, 465 or 25 by Security
	Security Security // default StartTLS
	User     string   // empty: no login
	Password string
	From     string            // address, with or without a name
	To       map[string]string // person -> address
	Roots    *x509.CertPool    // who may vouch for the server; nil: the system's
}

// Mail sends each telling as one plain-text mail over SMTP (RFC 5321). An answer
// of 4xx, a lost connection and a certificate that is not accepted are worth
// another try. Of the answers of 5xx to a message 500, 501 and 555 say that it
// was made badly, and are permanent; by all others it is denied: servers give
// them for a full mailbox, a list of bad senders or a fault of their own too. A password never travels over an
// unprotected connection except inside this machine. The Message-ID comes from
// the telling's ID: a double shows as one mail, or as two with the same ID.
type Mail struct {
	o      MailOptions
	domain string // of the sender, for Message-IDs
}

// NewMail checks o; no network yet.
func NewMail(o MailOptions) (*Mail, error) {
	ports := map[Security]int{StartTLS: 587, ImplicitTLS: 465, PlainLocal: 25}
	o.Security = cmp.Or(o.Security, StartTLS)
	var wrong []error
	if ports[o.Security] == 0 {
		wrong = append(wrong, fmt.Errorf("mail security must be %q, %q or %q (got %q)", StartTLS, ImplicitTLS, PlainLocal, o.Security))
	}
	if o.Host == "" {
		wrong = append(wrong, errors.New("the mail server's host is missing"))
	}
	if o.Security == PlainLocal && !loopback.Host(o.Host) {
		wrong = append(wrong, fmt.Errorf("mail security %q is only for a server on this machine (got host %q); use %q or %q", PlainLocal, o.Host, StartTLS, ImplicitTLS))
	}
	if o.Port == 0 {
		o.Port = ports[o.Security]
	}
	if o.Port < 0 || o.Port > 65535 {
		wrong = append(wrong, fmt.Errorf("the mail server's port must lie between 1 and 65535 (got %d)", o.Port))
	}
	if (o.User == "") != (o.Password == "") {
		wrong = append(wrong, errors.New("mail login needs both a user and a password, or neither"))
	}
	from, err := netmail.ParseAddress(o.From)
	if err != nil {
		return nil, errors.Join(append(wrong, fmt.Errorf("the sender %q is no mail address: %w", o.From, err))...)
	}
	for _, person := range slices.Sorted(maps.Keys(o.To)) {
		if _, err := netmail.ParseAddress(o.To[person]); err != nil {
			wrong = append(wrong, fmt.Errorf("the address of %s is no mail address (got %q): %w", person, o.To[person], err))
		}
	}
	_, domain, _ := strings.Cut(from.Address, "@")
	return &Mail{o: o, domain: domain}, errors.Join(wrong...)
}

// Tell sends t.
func (m *Mail) Tell(ctx context.Context, t Telling) error {
	ctx, cancel := context.WithTimeout(ctx, mailWaits)
	defer cancel()
	msg, err := m.write(t)
	if err != nil {
		return err
	}
	line := &mailLine{m: m}
	defer line.close()
	client, err := mail.NewClient(m.o.Host, m.settings(line.dialer(ctx))...)
	if err != nil {
		return refuse("mail cannot be set up with these settings: %w", err)
	}
	err = client.DialAndSendWithContext(ctx, msg)
	if err == nil || msg.IsDelivered() { // accepted is accepted, even if the goodbye fails
		return nil
	}
	if ctx.Err() != nil {
		return fmt.Errorf("the mail server %s did not take the message in time; check that it is up and can be reached: %w", m.server(), ctx.Err())
	}
	return m.explain(err, t.Person)
}

// write makes the mail.
func (m *Mail) write(t Telling) (*mail.Msg, error) {
	address, ok := m.o.To[t.Person]
	if !ok {
		return nil, refuse("no mail address is known for %q; add it to the config", t.Person)
	}
	if len(t.Events) == 0 {
		return nil, refuse("telling %s holds no event; there is nothing to tell", t.ID)
	}
	msg := mail.NewMsg(mail.WithNoDefaultUserAgent())
	if err := errors.Join(msg.From(m.o.From), msg.To(address)); err != nil {
		return nil, refuse("a mail address cannot be used: %w", err)
	}
	msg.Subject(Subject(t))
	msg.SetDateWithValue(t.At)
	msg.SetMessageIDWithValue(m.messageID(t.ID))
	msg.SetGenHeader("Auto-Submitted", "auto-generated") // RFC 3834
	msg.SetGenHeader("Telltale-Id", oneLine(t.ID))
	if one := story(t.Events[0]); !t.Test && about(t) == one { // mails about one alarm stay together
		msg.SetGenHeader(mail.HeaderReferences, "<"+m.messageID(Telling{Garden: t.Garden}.of(one))+">")
	}
	if t.Worst() >= alarms.High {
		msg.SetGenHeader(mail.HeaderImportance, "high")
	}
	msg.SetBodyString(mail.TypeTextPlain, Text(t))
	return msg, nil
}

func (m *Mail) messageID(of string) string {
	sum := sha256.Sum256([]byte(of))
	return "telltale." + hex.EncodeToString(sum[:16]) + "@" + m.domain
}

func (m *Mail) settings(dial mail.DialContextFunc) []mail.Option {
	set := []mail.Option{
		mail.WithPort(m.o.Port), mail.WithTimeout(mailWaits), mail.WithTLSConfig(m.tls()),
		mail.WithDialContextFunc(dial), mail.WithoutNoop(), mail.WithTLSPolicy(mail.NoTLS),
	}
	if m.o.Security == StartTLS {
		set = append(set, mail.WithTLSPolicy(mail.TLSMandatory))
	}
	if m.o.User != "" {
		set = append(set, mail.WithUsername(m.o.User), mail.WithPassword(m.o.Password),
			mail.WithOpportunisticSMTPAuth(mail.SMTPAuthPlain, mail.SMTPAuthLogin, mail.SMTPAuthSCRAMSHA256))
	}
	return set
}

func (m *Mail) tls() *tls.Config {
	return &tls.Config{ServerName: m.o.Host, RootCAs: m.o.Roots, MinVersion: tls.VersionTLS12}
}

func (m *Mail) server() string { return net.JoinHostPort(m.o.Host, fmt.Sprint(m.o.Port)) }

// explain turns a delivery error into a sentence, and says what 5xx means.
func (m *Mail) explain(err error, person string) error {
	var sending *mail.SendError
	var answer *textproto.Error
	code := 0
	switch {
	case errors.As(err, &sending):
		code = sending.ErrorCode()
		text, _, _ := strings.Cut(sending.Error(), ", affected")
		err = errors.New(oneLine(text))
	case errors.As(err, &answer):
		code = answer.Code
	}
	var untrusted *tls.CertificateVerificationError
	switch {
	case code >= 500 && sending != nil:
		err = fmt.Errorf("the mail server %s refuses the message to %s; check the address and the sender: %w", m.server(), person, err)
		if code == 500 || code == 501 || code == 555 {
			return &Permanent{Err: err}
		}
		return &Denied{Err: err, Address: sending.Reason != mail.ErrSMTPMailFrom && (code == 550 || code == 551 || code == 553)}
	case code >= 500:
		return deny("the mail server %s refuses this client; check user, password and port: %w", m.server(), err)
	case code >= 400:
		return fmt.Errorf("the mail server %s cannot take the message now: %w", m.server(), err)
	case errors.As(err, &untrusted):
		return fmt.Errorf("the certificate of the mail server %s was not accepted; check the host name and this machine's clock: %w", m.server(), err)
	}
	return fmt.Errorf("the mail server %s could not be used; check host, port and security: %w", m.server(), err)
}
