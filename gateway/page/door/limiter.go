package door

import (
	"net"
	"net/http"
	"net/netip"
	"strings"
	"sync"
	"time"
)

// Limits on guessing passwords.
const (
	freeTries   = 5                // wrong ones of one client before it must wait
	freeForName = 10               // wrong ones for one account, of all clients
	longestWait = 5 * time.Minute  // after doubling from two seconds
	forgetAfter = 30 * time.Minute // without a try
	maxClients  = 256              // remembered; the one longest ago is forgotten
	allTries    = 30               // a minute, of all clients that are not known
)

// limiter slows down guessing, by client or by account. One client is an IPv4
// address or an IPv6 /64. Who is signed in already is not held up; nor, by the
// wrong tries of others, is a browser in which somebody was signed in before.
type limiter struct {
	free    int // wrong tries before waiting
	mu      sync.Mutex
	clients map[string]*tries
	minute  time.Time
	tried   int // in that minute
}

type tries struct {
	wrong int
	until time.Time // must wait until then
	last  time.Time
}

func newLimiter(free int) *limiter { return &limiter{free: free, clients: map[string]*tries{}} }

// wait returns how long client must still wait before its next try.
func (l *limiter) wait(client string, now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	if t := l.clients[client]; t != nil && now.Before(t.until) {
		return t.until.Sub(now)
	}
	return 0
}

// count counts a try of anybody; it returns how long to wait when there were
// too many in this minute.
func (l *limiter) count(now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	if now.Sub(l.minute) >= time.Minute {
		l.minute, l.tried = now, 0
	}
	if l.tried >= allTries {
		return l.minute.Add(time.Minute).Sub(now)
	}
	l.tried++
	return 0
}

// wrong notes a wrong password.
func (l *limiter) wrong(client string, now time.Time) {
	l.mu.Lock()
	defer l.mu.Unlock()
	t := l.clients[client]
	if t == nil || now.Sub(t.last) > forgetAfter {
		l.makeRoomLocked()
		t = &tries{}
		l.clients[client] = t
	}
	t.wrong++
	t.last = now
	if over := t.wrong - l.free; over >= 0 {
		t.until = now.Add(min(longestWait, 2*time.Second<<min(over, 10)))
	}
}

// right forgets the client's wrong tries.
func (l *limiter) right(client string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	delete(l.clients, client)
}

func (l *limiter) makeRoomLocked() {
	if len(l.clients) < maxClients {
		return
	}
	oldest := ""
	for c, t := range l.clients {
		if oldest == "" || t.last.Before(l.clients[oldest].last) {
			oldest = c
		}
	}
	delete(l.clients, oldest)
}

// ClientOf names the client of r for limits and logs. Behind a proxy of ours
// that is whom the proxy names last in X-Forwarded-For: what stands before it
// anybody can write. A proxy of ours is on this machine or in its network.
func (d *Door) ClientOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	addr, err := netip.ParseAddr(host)
	if err != nil {
		return host
	}
	if d.proxied && nearby(addr) {
		named := strings.Join(r.Header.Values("X-Forwarded-For"), ",")
		if last, err := netip.ParseAddr(strings.TrimSpace(named[strings.LastIndexByte(named, ',')+1:])); err == nil {
			addr = last
		}
	}
	return whole(addr)
}

// whole names what of an address is one client's: an IPv4 address or an IPv6 /64.
func whole(addr netip.Addr) string {
	if addr = addr.Unmap().WithZone(""); addr.Is6() {
		if net64, err := addr.Prefix(64); err == nil {
			return net64.String()
		}
	}
	return addr.String()
}

func nearby(a netip.Addr) bool {
	a = a.Unmap()
	return a.IsLoopback() || a.IsPrivate() || a.IsLinkLocalUnicast()
}

// How many connections the page holds at once. A browser opens six to one host,
// and one more to follow.
const (
	maxConnections    = 1024
	connectionsOfEach = 64 // client; this machine and a proxy of ours are not bound by it
)

// Connections counts connections, and closes those that are too many.
type Connections struct {
	proxied bool
	mu      sync.Mutex
	from    map[string]int
	all     int
}

func NewConnections(proxied bool) *Connections {
	return &Connections{proxied: proxied, from: map[string]int{}}
}

func (c *Connections) free(a netip.Addr) bool {
	return a.Unmap().IsLoopback() || c.proxied && nearby(a)
}

// State follows a connection; it is a http.Server's ConnState.
func (c *Connections) State(conn net.Conn, to http.ConnState) {
	addr, _ := netip.ParseAddrPort(conn.RemoteAddr().String())
	client := whole(addr.Addr())
	c.mu.Lock()
	defer c.mu.Unlock()
	switch to {
	case http.StateNew:
		c.all++
		c.from[client]++
		if c.all > maxConnections || c.from[client] > connectionsOfEach && !c.free(addr.Addr()) {
			_ = conn.Close() // its end is told here too
		}
	case http.StateClosed, http.StateHijacked:
		c.all--
		if c.from[client]--; c.from[client] == 0 {
			delete(c.from, client)
		}
	}
}
