package reach

import (
	"context"
	"crypto/tls"
	"net"

	"github.com/wneessen/go-mail"
)

// mailLine is the connection of one delivery. The library heeds its context
// only while dialling, and leaves the connection open when the greeting or the
// login fails; so the line closes it itself, when the delivery's context ends
// and after the delivery.
type mailLine struct {
	m    *Mail
	conn net.Conn
	stop func() bool
}

// dialer returns what connects, and for ImplicitTLS shakes hands, within the
// context of the delivery.
func (l *mailLine) dialer(delivery context.Context) mail.DialContextFunc {
	return func(ctx context.Context, network, address string) (net.Conn, error) {
		conn, err := (&net.Dialer{}).DialContext(ctx, network, address)
		if err != nil {
			return nil, err
		}
		l.conn = conn
		l.stop = context.AfterFunc(delivery, func() { conn.Close() })
		if l.m.o.Security != ImplicitTLS {
			return conn, nil
		}
		secured := tls.Client(conn, l.m.tls())
		return secured, secured.HandshakeContext(ctx)
	}
}

func (l *mailLine) close() {
	if l.conn != nil {
		l.stop()
		l.conn.Close()
	}
}
