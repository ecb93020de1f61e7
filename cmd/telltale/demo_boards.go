package main

import (
	"io"
	"net"
	"sync"
	"time"

	"telltale/gateway"
)

// together is the garden's clock, which waits for both boards: on fast time, and on a
// slow machine, neither falls behind the other.
type together struct {
	*gateway.Clock
	p *pair
}

// longestTogether is how long, in real time, the garden waits for a board at each step.
const longestTogether = 5 * time.Second

// Step moves the clock by a little at a time, so that each question has its turn.
func (t together) Step(by time.Duration) {
	for by > 0 {
		some := min(by, 2*time.Second)
		by -= some
		t.Clock.Step(some)
		t.p.away.Step(some)
		for end := time.Now().Add(longestTogether); !t.p.settled() && time.Now().Before(end); {
			time.Sleep(time.Millisecond)
		}
	}
}

// settled reports whether both know all that is due, and of one another.
func (p *pair) settled() bool {
	p.mu.Lock()
	defer p.mu.Unlock()
	all := p.second.Settled() && !p.starts
	if p.first != nil {
		all = all && p.first.Settled() && p.away.Core().Sub(p.second.First()) < 10*time.Second
	}
	return all
}

// cable is the way from a board to the broker, which can be cut.
type cable struct {
	net.Listener
	to string

	mu    sync.Mutex
	open  bool
	conns map[net.Conn]bool
}

func lay(to string) (*cable, error) {
	l, err := net.Listen("tcp", "127.0.0.1:0")
	if err != nil {
		return nil, err
	}
	c := &cable{Listener: l, to: to, open: true, conns: map[net.Conn]bool{}}
	go c.carry()
	return c, nil
}

func (c *cable) carry() {
	for {
		near, err := c.Accept()
		if err != nil {
			return // it was closed
		}
		far, err := net.Dial("tcp", c.to)
		if err != nil || !c.hold(near, far) {
			near.Close()
			if err == nil {
				far.Close()
			}
			continue
		}
		go c.pass(near, far)
		go c.pass(far, near)
	}
}

// hold notes an open connection; not while the cable is cut.
func (c *cable) hold(near, far net.Conn) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	if c.open {
		c.conns[near], c.conns[far] = true, true
	}
	return c.open
}

func (c *cable) pass(to, from net.Conn) {
	_, _ = io.Copy(to, from) // it ends as the connection does
	c.mu.Lock()
	defer c.mu.Unlock()
	for _, one := range []net.Conn{to, from} {
		one.Close()
		delete(c.conns, one)
	}
}

func (c *cable) cut() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.open = false
	for one := range c.conns {
		one.Close()
	}
}

func (c *cable) mend() {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.open = true
}

func (c *cable) close() {
	c.Close()
	c.cut()
}
