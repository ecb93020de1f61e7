package link

import (
	"bufio"
	"context"
	"crypto/tls"
	"net"
	"time"
)

const (
	readBuffer   = 64 << 10
	writeTimeout = 10 * time.Second
)

// dialer opens the network connection of one session. ctx bounds it, and cuts
// the wait for the broker's answer to CONNECT.
type dialer struct {
	link   *Link
	server server
	ctx    context.Context
	// release lets go of the connection: the end of ctx no longer closes it.
	release func() bool
}

func (d *dialer) dial() (net.Conn, error) {
	ctx, cancel := context.WithTimeout(d.ctx, connectTimeout)
	defer cancel()
	c, err := (&net.Dialer{}).DialContext(ctx, "tcp", d.server.addr)
	if err != nil {
		return nil, err
	}
	if d.server.secure {
		if c, err = d.secure(ctx, c); err != nil {
			return nil, err
		}
	}
	// The client awaits CONNACK with a deadline of its own; the end of ctx must
	// not have to wait for that.
	d.release = context.AfterFunc(d.ctx, func() { _ = c.Close() })
	return &buffered{Conn: c, r: bufio.NewReaderSize(c, readBuffer)}, nil
}

func (d *dialer) secure(ctx context.Context, c net.Conn) (net.Conn, error) {
	cfg, err := d.link.opt.tlsConfig()
	if err != nil {
		_ = c.Close()
		return nil, err
	}
	if cfg.ServerName == "" {
		cfg.ServerName = d.server.host
	}
	t := tls.Client(c, cfg)
	if err := t.HandshakeContext(ctx); err != nil {
		_ = c.Close()
		return nil, err
	}
	return t, nil
}

// buffered reads ahead, which the client does not: it halves the cost of a
// message. Every write has a deadline, so that a broker that takes nothing
// more cannot hold up the keep-alive.
type buffered struct {
	net.Conn
	r *bufio.Reader
}

func (b *buffered) Read(p []byte) (int, error) { return b.r.Read(p) }

func (b *buffered) Write(p []byte) (int, error) {
	if err := b.Conn.SetWriteDeadline(time.Now().Add(writeTimeout)); err != nil {
		return 0, err
	}
	return b.Conn.Write(p)
}
