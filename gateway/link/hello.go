package link

import (
	"errors"
	"io"
	"net"
	"sync"
)

// Bounds on connections that have not yet said who they are.
const (
	helloMost      = 8 << 10 // bytes of the first packet: names, password and a will
	hellosOfEach   = 64      // of one address
	hellosMost     = 256     // of all
	hellosReserved = 64      // of these for addresses from which somebody signed in before
	hellosKnown    = 1024    // such addresses
)

var errHello = errors.New("it does not begin with a connect packet of some kilobytes at most")

// readHello reads the first packet of a client, which must be CONNECT (MQTT
// 3.1.1, sections 2.2 and 3.1), and returns it with its header.
func readHello(c net.Conn) ([]byte, error) {
	head := make([]byte, 0, 64)
	size := 0
	for shift := 0; ; shift += 7 {
		var b [1]byte
		if len(head) == 0 { // the type comes first
			if _, err := io.ReadFull(c, b[:]); err != nil {
				return nil, err
			}
			if head = append(head, b[0]); b[0] != 0x10 {
				return nil, errHello
			}
		}
		if _, err := io.ReadFull(c, b[:]); err != nil {
			return nil, err
		}
		head = append(head, b[0])
		if size |= int(b[0]&0x7f) << shift; size > helloMost || shift > 14 { // three bytes are more than it may be
			return nil, errHello
		}
		if b[0] < 0x80 {
			break
		}
	}
	packet := append(head, make([]byte, size)...)
	_, err := io.ReadFull(c, packet[len(head):])
	return packet, err
}

// greeted is a connection whose first packet was read; it reads as if not.
type greeted struct {
	net.Conn
	hello []byte
}

func (g *greeted) Read(p []byte) (int, error) {
	if len(g.hello) > 0 {
		n := copy(p, g.hello)
		g.hello = g.hello[n:]
		return n, nil
	}
	return g.Conn.Read(p)
}

// hellos counts who has not yet said who it is.
type hellos struct {
	mu    sync.Mutex
	from  map[string]int
	all   int
	known map[string]struct{}
}

func newHellos() *hellos { return &hellos{from: map[string]int{}, known: map[string]struct{}{}} }

// begin reports whether one more of host may begin; if so, end must follow.
func (h *hellos) begin(host string) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	most := hellosMost - hellosReserved
	if _, known := h.known[host]; known {
		most = hellosMost
	}
	if h.all >= most || h.from[host] >= hellosOfEach {
		return false
	}
	h.all++
	h.from[host]++
	return true
}

// end is when it has said so, or will not.
func (h *hellos) end(host string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.all--
	if h.from[host]--; h.from[host] == 0 {
		delete(h.from, host)
	}
}

// know notes that somebody signed in from host.
func (h *hellos) know(host string) {
	h.mu.Lock()
	defer h.mu.Unlock()
	if len(h.known) >= hellosKnown {
		clear(h.known)
	}
	h.known[host] = struct{}{}
}
