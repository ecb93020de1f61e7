package page

import (
	"net"
	"net/http"
	"net/netip"
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
	allTries    = 30               // a minute, of all clients together
)

// limiter slows down guessing, by client or by account. One client is an IPv4
// address or an IPv6 /64. Who is signed in already is not held up.
type limiter struct {
	free    int // wrong tries before waiting
	mu      sync.Mutex
	clients map[string]*tries
	minute  time.Time
	count   int
}

type tries struct {
	wrong int
	until time.Time // must wait until then
	last  time.Time
}

func newLimiter(free int) *limiter { return &limiter{free: free, clients: map[string]*tries{}} }

// wait returns how long client must still wait before its next try, and
// counts the try when that is zero.
func (l *limiter) wait(client string, now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	if t := l.clients[client]; t != nil && now.Before(t.until) {
		return t.until.Sub(now)
	}
	if now.Sub(l.minute) >= time.Minute {
		l.minute, l.count = now, 0
	}
	if l.count >= allTries {
		return l.minute.Add(time.Minute).Sub(now)
	}
	l.count++
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

// clientOf names the client of r for limits and logs.
func clientOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	addr, err := netip.ParseAddr(host)
	if err != nil || addr.Unmap().Is4() {
		return host
	}
	net64, err := addr.WithZone("").Prefix(64)
	if err != nil {
		return host
	}
	return net64.String()
}
