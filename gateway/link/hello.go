package link

import (
	"errors"
	"io"
	"net"
	"slices"
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

// hellos are the connections that have not yet said who they are.
type hellos struct {
	mu    sync.Mutex
	from  map[string][]net.Conn // by address, oldest first
	all   int
	known map[string]struct{}
}

func newHellos() *hellos { return &hellos{from: map[string][]net.Conn{}, known: map[string]struct{}{}} }

// begin reports whether one more of host may begin; if so, end must follow. Who
// says nothing makes room for who comes after it from the same address.
func (h *hellos) begin(host string, c net.Conn) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	most := hellosMost - hellosReserved
	if _, known := h.known[host]; known {
		most = hellosMost
	}
	if len(h.from[host]) >= hellosOfEach {
		oldest := h.from[host][0]
		_ = oldest.Close() // whoever reads from it hears of that
		h.drop(host, oldest)
	}
	if h.all >= most {
		return false
	}
	h.all++
	h.from[host] = append(h.from[host], c)
	return true
}

// drop is called with mu held.
func (h *hellos) drop(host string, c net.Conn) {
	i := slices.Index(h.from[host], c)
	if i < 0 {
		return
	}
	h.all--
	if h.from[host] = slices.Delete(h.from[host], i, i+1); len(h.from[host]) == 0 {
		delete(h.from, host)
	}
}

// end is when it has said so, or will not.
func (h *hellos) end(host string, c net.Conn) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.drop(host, c)
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
