package link

import (
	"errors"
	"net"
	"sync"
	"time"
)

// errTakesNothing ends a client for which too much waits.
var errTakesNothing = errors.New("it does not take its messages")

// flushFor is how long a connection that is being closed may take to send what
// was written to it, such as why it is refused.
const flushFor = 2 * time.Second

// ahead is a connection to which writing never blocks. The library holds a
// client's lock while it writes, and asks for that lock while it passes a
// message on: one reader that takes nothing would hold up every probe. What is
// not yet taken waits here, up to a bound; beyond it the connection ends.
type ahead struct {
	net.Conn
	most int // bytes

	mu      sync.Mutex
	more    *sync.Cond
	waiting []byte
	err     error // of writing; nil: goes on
	closing bool
}

func newAhead(c net.Conn, most int) *ahead {
	a := &ahead{Conn: c, most: most}
	a.more = sync.NewCond(&a.mu)
	return a
}

// Write takes all of p or nothing.
func (a *ahead) Write(p []byte) (int, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	switch {
	case a.err != nil:
		return 0, a.err
	case a.closing:
		return 0, net.ErrClosed
	case len(a.waiting)+len(p) > a.most:
		a.err = errTakesNothing
		a.more.Signal()
		return 0, errors.Join(a.err, a.Conn.Close())
	}
	a.waiting = append(a.waiting, p...)
	a.more.Signal()
	return len(p), nil
}

// Close lets what waits be sent, for a moment, and then ends the connection.
func (a *ahead) Close() error {
	a.mu.Lock()
	defer a.mu.Unlock()
	if !a.closing {
		a.closing = true
		a.more.Signal()
		return a.Conn.SetDeadline(time.Now().Add(flushFor))
	}
	return nil
}

// run sends until the connection is to end.
func (a *ahead) run() {
	defer a.Conn.Close()
	for {
		next, ok := a.next()
		if !ok {
			return
		}
		if _, err := a.Conn.Write(next); err != nil {
			a.mu.Lock()
			a.err = err
			a.mu.Unlock()
			return
		}
	}
}

// next waits for what is to be sent; ok is false when there will be no more.
func (a *ahead) next() (p []byte, ok bool) {
	a.mu.Lock()
	defer a.mu.Unlock()
	for len(a.waiting) == 0 && a.err == nil && !a.closing {
		a.more.Wait()
	}
	if a.err != nil || len(a.waiting) == 0 {
		return nil, false
	}
	p, a.waiting = a.waiting, nil
	return p, true
}
