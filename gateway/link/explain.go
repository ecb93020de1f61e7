package link

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"io"
	"net"
	"os"
	"slices"
	"strings"
	"syscall"
	"time"

	"github.com/eclipse/paho.mqtt.golang/packets"
)

// explain says in one or two sentences why no connection to srv came about,
// and what to check.
func (l *Link) explain(srv server, err error) string {
	for _, explain := range []func(server, error) string{l.explainRefusal, l.explainCertificate, explainTLS, explainNetwork} {
		if s := explain(srv, err); s != "" {
			return s
		}
	}
	return fmt.Sprintf("No connection to the broker at %s: %v.", srv.addr, inner(err))
}

// inner returns what the client library has wrapped in "network Error".
func inner(err error) error {
	if several, ok := err.(interface{ Unwrap() []error }); ok && errors.Is(err, packets.ErrorNetworkError) {
		all := several.Unwrap()
		return all[len(all)-1]
	}
	return err
}

// explainRefusal is for what the broker answered itself, see MQTT 3.1.1
// section 3.2.2.3.
func (l *Link) explainRefusal(srv server, err error) string {
	switch {
	case errors.Is(err, packets.ErrorRefusedBadUsernameOrPassword), errors.Is(err, packets.ErrorRefusedNotAuthorised):
		if l.opt.User == "" {
			return fmt.Sprintf("The broker at %s does not let in anyone without a user name. Give the watch an account there, and its user name and password here.", srv.addr)
		}
		return fmt.Sprintf("The broker at %s refused the user name or password of the account %q. Check both, and that the account exists and may connect.", srv.addr, l.opt.User)
	case errors.Is(err, packets.ErrorRefusedIDRejected):
		return fmt.Sprintf("The broker at %s refused the client ID %q. Choose another, of at most 23 letters and digits.", srv.addr, l.opt.ClientID)
	case errors.Is(err, packets.ErrorRefusedServerUnavailable):
		return fmt.Sprintf("The broker at %s says that it is not available now. It may be starting, or full: check its log.", srv.addr)
	case errors.Is(err, packets.ErrorRefusedBadProtocolVersion):
		return fmt.Sprintf("The broker at %s does not speak MQTT 3.1.1. Check its settings.", srv.addr)
	}
	return ""
}

// explainCertificate is for a certificate of the broker that does not convince.
func (l *Link) explainCertificate(srv server, err error) string {
	var name x509.HostnameError
	var authority x509.UnknownAuthorityError
	var invalid x509.CertificateInvalidError
	switch {
	case errors.As(err, &name):
		return fmt.Sprintf("The certificate of the broker at %s is for %s, not for %q. Use that name in the address, or give it as server name.",
			srv.addr, names(name.Certificate), name.Host)
	case errors.As(err, &authority):
		if l.opt.CAFile == "" {
			return fmt.Sprintf("The certificate of the broker at %s is signed by an authority that this machine does not know. Give the authority's certificate as CA file.", srv.addr)
		}
		return fmt.Sprintf("The certificate of the broker at %s is not signed by the authority in %s. Check that it is the right file.", srv.addr, l.opt.CAFile)
	case errors.As(err, &invalid) && invalid.Reason == x509.Expired:
		return fmt.Sprintf("The certificate of the broker at %s holds from %s to %s, and this machine's clock says %s. Renew the certificate, or set the clock.",
			srv.addr, day(invalid.Cert.NotBefore), day(invalid.Cert.NotAfter), day(time.Now()))
	case errors.As(err, &invalid):
		return fmt.Sprintf("The certificate of the broker at %s cannot be used: %v.", srv.addr, invalid)
	}
	return ""
}

func day(t time.Time) string { return t.UTC().Format("2006-01-02 15:04 UTC") }

func names(c *x509.Certificate) string {
	var all []string
	all = append(all, c.DNSNames...)
	for _, ip := range c.IPAddresses {
		all = append(all, ip.String())
	}
	if len(all) == 0 {
		return "no name at all"
	}
	return strings.Join(all, ", ")
}

// explainTLS is for a TLS connection that failed for other reasons.
func explainTLS(srv server, err error) string {
	var record tls.RecordHeaderError
	var op *net.OpError
	switch {
	case errors.As(err, &record):
		return fmt.Sprintf("What answers at %s does not speak TLS. Use mqtt:// for a broker without TLS, or the broker's TLS port.", srv.addr)
	case errors.As(err, &op) && op.Op == "remote error":
		return fmt.Sprintf("The broker at %s ended the TLS handshake (%v). It may want a client certificate, or not trust the one given.", srv.addr, op.Err)
	}
	return ""
}

// explainNetwork is for a broker that is not reached at all.
func explainNetwork(srv server, err error) string {
	var dns *net.DNSError
	var timeout net.Error
	switch {
	case errors.As(err, &dns) && dns.IsNotFound:
		return fmt.Sprintf("The name %q of the broker is not known. Check the spelling and the name server, or give the address in digits.", srv.host)
	case errors.As(err, &dns):
		return fmt.Sprintf("The name %q of the broker cannot be looked up now: the name server does not answer. Check the network, or give the address in digits.", srv.host)
	case errors.Is(err, syscall.ECONNREFUSED):
		return fmt.Sprintf("Nothing listens at %s (connection refused). Check that the broker runs, and its address and port.", srv.addr)
	case errors.Is(err, syscall.EHOSTUNREACH), errors.Is(err, syscall.ENETUNREACH):
		return fmt.Sprintf("There is no way to the broker at %s. Check the network, and that its machine is on.", srv.addr)
	case errors.Is(err, os.ErrDeadlineExceeded), errors.Is(err, context.DeadlineExceeded), errors.As(err, &timeout) && timeout.Timeout():
		return fmt.Sprintf("The broker at %s does not answer. Check that its machine is on, and that no firewall is in between.", srv.addr)
	case errors.Is(err, net.ErrClosed):
		return fmt.Sprintf("The embedded broker at %s has been stopped.", srv.addr)
	case closed(err):
		hint := "Check that this is the broker's port without TLS, or use mqtts://."
		if srv.secure {
			hint = "Check that this is the broker's port with TLS. It may also want a client certificate, or not trust the one given."
		}
		return fmt.Sprintf("What answers at %s closed the connection without a word. %s", srv.addr, hint)
	}
	return ""
}

// explainLost says why a connection that had been made ended.
func (l *Link) explainLost(srv server, err error) string {
	switch {
	case closed(err):
		return fmt.Sprintf("The connection to the broker at %s was lost: the broker closed it. It was stopped, or another program took the watch's place there by connecting with its client ID, %q.",
			srv.addr, l.opt.ClientID)
	case errors.Is(err, context.DeadlineExceeded):
		return fmt.Sprintf("The broker at %s does not answer the subscription.", srv.addr)
	case errors.Is(err, os.ErrDeadlineExceeded):
		return fmt.Sprintf("The connection to the broker at %s was lost: it takes nothing more. Check the network.", srv.addr)
	}
	// The library's keep-alive has no error of its own.
	return fmt.Sprintf("The connection to the broker at %s was lost: it does not answer any more, or not as it should (%v). Check the network and the broker.", srv.addr, err)
}

// closed reports whether the other side has ended the connection.
func closed(err error) bool {
	ends := []error{io.EOF, io.ErrUnexpectedEOF, io.ErrClosedPipe, syscall.ECONNRESET, syscall.EPIPE}
	return slices.ContainsFunc(ends, func(end error) bool { return errors.Is(err, end) })
}
