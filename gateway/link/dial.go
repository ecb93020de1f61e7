package link

import (
	"bufio"
	"cmp"
	"context"
	"crypto/tls"
	"net"
	"sync"
	"sync/atomic"
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
	c, err := d.reach(ctx)
	if err != nil {
		return nil, err
	}
	// The client awaits CONNACK with a deadline of its own; the end of ctx must
	// not have to wait for that.
	d.release = context.AfterFunc(d.ctx, func() { _ = c.Close() })
	return &buffered{Conn: c, r: bufio.NewReaderSize(c, readBuffer)}, nil
}

func (d *dialer) reach(ctx context.Context) (net.Conn, error) {
	if b := d.link.opt.Broker; b != nil {
		return b.dial(ctx)
	}
	c, err := (&net.Dialer{}).DialContext(ctx, "tcp", d.server.addr)
	if err != nil || !d.server.secure {
		return c, err
	}
	return d.secure(ctx, c)
}

func (d *dialer) secure(ctx context.Context, c net.Conn) (net.Conn, error) {
	cfg, err := d.link.opt.tlsConfig()
	if err != nil {
		_ = c.Close()
		return nil, err
	}
	cfg.ServerName = cmp.Or(cfg.ServerName, d.server.host)
	t := tls.Client(c, cfg)
	if err := t.HandshakeContext(ctx); err != nil {
		_ = c.Close()
		return nil, err
	}
	return t, nil
}

// buffered reads ahead, which the client does not: it halves the cost of a
// message. Acknowledgements are written together, at the latest when there is
// nothing more to read; everything else is written at once. Every write has a
// deadline, so that a broker that takes nothing more cannot hold up the
// keep-alive.
type buffered struct {
	net.Conn
	r *bufio.Reader // used by the client's reading goroutine alone

	reading atomic.Bool // the reader waits for the network
	mu      sync.Mutex  // held while writing
	acks    []byte      // held back
}

const (
	ackPacket = 0x40    // first byte of PUBACK, MQTT 3.1.1 section 3.4.1
	ackBatch  = 256 * 4 // bytes; an acknowledgement has 4
)

func (b *buffered) Read(p []byte) (int, error) {
	if b.r.Buffered() > 0 {
		return b.r.Read(p)
	}
	b.reading.Store(true)
	defer b.reading.Store(false)
	if err := b.flushHeld(); err != nil {
		return 0, err
	}
	return b.r.Read(p)
}

func (b *buffered) Write(p []byte) (int, error) {
	if err := b.write(p); err != nil {
		return 0, err
	}
	// The reader may have begun to wait meanwhile.
	if b.reading.Load() {
		if err := b.flushHeld(); err != nil {
			return 0, err
		}
	}
	return len(p), nil
}

func (b *buffered) write(p []byte) error {
	b.mu.Lock()
	defer b.mu.Unlock()
	if len(p) > 0 && p[0] == ackPacket && !b.reading.Load() && len(b.acks) < ackBatch {
		b.acks = append(b.acks, p...)
		return nil
	}
	return b.flush(p)
}

// flushHeld writes what is held back. Where somebody else is writing it leaves
// that to them: a reader that waited for a writer, which waits for the broker
// to read, which waits to be read, would wait for ever.
func (b *buffered) flushHeld() error {
	if !b.mu.TryLock() {
		return nil
	}
	defer b.mu.Unlock()
	return b.flush(nil)
}

// flush writes what is held back and then p.
func (b *buffered) flush(p []byte) error {
	if len(b.acks)+len(p) == 0 {
		return nil
	}
	if err := b.Conn.SetWriteDeadline(time.Now().Add(writeTimeout)); err != nil {
		return err
	}
	b.acks = append(b.acks, p...)
	_, err := b.Conn.Write(b.acks)
	b.acks = b.acks[:0]
	return err
}
