package link

import (
	"sync"
	"time"
)

// Wrong passwords a minute at the embedded broker.
const (
	triesOfUser  = 10   // for one user name from one address
	triesOfHost  = 60   // from one address, for names that never signed in from there
	triesCounted = 4096 // names and addresses; beyond, every name not seen before waits
)

// guesses slows down guessing at passwords. A probe whose own password is right
// is held up by no other behind the same address.
type guesses struct {
	mu     sync.Mutex
	minute time.Time
	wrong  map[string]int      // of a host, or of a user at a host
	known  map[string]struct{} // users that signed in from a host
}

// mayTry reports whether a password of user from host is looked at.
func (g *guesses) mayTry(user, host string, now time.Time) bool {
	g.mu.Lock()
	defer g.mu.Unlock()
	if now.Sub(g.minute) >= time.Minute || now.Before(g.minute) {
		g.minute, g.wrong = now, map[string]int{}
	}
	who := user + "\x00" + host
	_, known := g.known[who]
	return g.wrong[who] < triesOfUser && (known || g.wrong[host] < triesOfHost && len(g.wrong) < triesCounted)
}

// note notes how it went.
func (g *guesses) note(user, host string, right bool) {
	g.mu.Lock()
	defer g.mu.Unlock()
	who := user + "\x00" + host
	if !right {
		g.wrong[who]++
		g.wrong[host]++
		return
	}
	if g.known == nil || len(g.known) >= triesCounted {
		g.known = map[string]struct{}{}
	}
	g.known[who] = struct{}{}
}
