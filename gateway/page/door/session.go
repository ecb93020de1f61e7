package door

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"strings"
	"sync"
	"time"
)

const (
	sessionLife = 30 * 24 * time.Hour // without a visit
	maxSessions = 64                  // of one account; the one longest unused is ended
	idBytes     = 32
)

// sessions knows who is signed in: signing in gives a browser a random ID in a
// cookie and puts it on the list. Only hashes of IDs are kept, here
// and in memory that outlives the watch.
type sessions struct {
	key    []byte // of marks
	Secure bool   // cookies over TLS only
	now    func() time.Time
	memory Memory            // may be nil
	failed func(error)       // hears that memory refused
	hashes map[string]string // of passwords, by account, as memory has them; set before the page is served

	mu     sync.Mutex
	seen   map[[sha256.Size]byte]session
	saving sync.Mutex // held while memory is written, so that the newest comes last
}

// session is one browser that is signed in.
type session struct {
	account string
	used    time.Time // last
	saved   time.Time // used, as memory has it
}

// newSessions returns sessions that mark browsers by key; without one, by a fresh one.
func newSessions(secure bool, key []byte) *sessions {
	if len(key) == 0 {
		key = randomBytes()
	}
	return &sessions{key: key, Secure: secure, now: time.Now, seen: map[[sha256.Size]byte]session{},
		hashes: map[string]string{}, failed: func(error) {}}
}

// randomBytes returns a fresh secret. crypto/rand never fails: it ends the
// process where the system has no random numbers.
func randomBytes() []byte {
	b := make([]byte, idBytes)
	_, _ = rand.Read(b)
	return b
}

func (s *sessions) cookieName() string {
	if s.Secure {
		return "__Host-telltale"
	}
	return "telltale"
}

// visitor returns the ID of r's cookie, or "".
func (s *sessions) visitor(r *http.Request) string {
	c, err := r.Cookie(s.cookieName())
	if err != nil {
		return ""
	}
	if raw, err := base64.RawURLEncoding.DecodeString(c.Value); err != nil || len(raw) != idBytes {
		return ""
	}
	return c.Value
}

// Cookie is one of this page for so long; it is gone where life is negative.
func (s *sessions) Cookie(name, value string, life time.Duration) *http.Cookie {
	return &http.Cookie{Name: name, Value: value, Path: "/", MaxAge: int(life / time.Second),
		HttpOnly: true, Secure: s.Secure, SameSite: http.SameSiteLaxMode}
}

func (s *sessions) setCookie(w http.ResponseWriter, id string, life time.Duration) {
	http.SetCookie(w, s.Cookie(s.cookieName(), id, life))
}

// knownLife is how long a browser is known after somebody signed in there.
const knownLife = 365 * 24 * time.Hour

// know marks a browser in which somebody has signed in to an account.
func (s *sessions) know(w http.ResponseWriter, account string) {
	nonce := base64.RawURLEncoding.EncodeToString(randomBytes())
	http.SetCookie(w, s.Cookie(s.cookieName()+"-known", nonce+"."+s.knownMark(nonce, account), knownLife))
}

// known returns what r's browser is called if somebody has signed in there to
// an account, else "". It lets nobody in.
func (s *sessions) known(r *http.Request, account string) string {
	c, err := r.Cookie(s.cookieName() + "-known")
	if err != nil {
		return ""
	}
	nonce, mark, _ := strings.Cut(c.Value, ".")
	if !hmac.Equal([]byte(mark), []byte(s.knownMark(nonce, account))) {
		return ""
	}
	return nonce
}

func (s *sessions) knownMark(nonce, account string) string {
	return base64.RawURLEncoding.EncodeToString(keyed(s.key, "known:"+nonce+":"+account))
}

// SignedIn reports whether r comes from somebody signed in, and keeps the
// session alive.
func (s *sessions) SignedIn(r *http.Request) bool {
	_, ok := s.of(r)
	return ok
}

// of returns the account that is signed in in r's browser, and keeps the
// session alive.
func (s *sessions) of(r *http.Request) (account string, ok bool) {
	id := s.visitor(r)
	if id == "" {
		return "", false
	}
	h, now := sha256.Sum256([]byte(id)), s.now()
	s.mu.Lock()
	one, ok := s.seen[h]
	if ok && now.Sub(one.used) > sessionLife {
		delete(s.seen, h)
		ok = false
	}
	if !ok {
		s.mu.Unlock()
		return "", false
	}
	late := now.Sub(one.saved) >= saveUsedAfter
	one.used = now
	if late {
		one.saved = now
	}
	s.seen[h] = one
	s.mu.Unlock()
	if late {
		s.save()
	}
	return one.account, true
}

// SignIn starts a session of an account under a fresh ID.
func (s *sessions) SignIn(w http.ResponseWriter, account string) {
	id := base64.RawURLEncoding.EncodeToString(randomBytes())
	s.mu.Lock()
	s.makeRoomLocked(account)
	now := s.now()
	s.seen[sha256.Sum256([]byte(id))] = session{account: account, used: now, saved: now}
	s.mu.Unlock()
	s.setCookie(w, id, sessionLife)
	s.know(w, account)
	s.save()
}

func (s *sessions) makeRoomLocked(account string) {
	var oldest [sha256.Size]byte
	n := 0
	for h, one := range s.seen {
		if one.account != account {
			continue
		}
		if n++; n == 1 || one.used.Before(s.seen[oldest].used) {
			oldest = h
		}
	}
	if n >= maxSessions {
		delete(s.seen, oldest)
	}
}

// SignOut ends r's session.
func (s *sessions) SignOut(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	delete(s.seen, sha256.Sum256([]byte(s.visitor(r))))
	s.mu.Unlock()
	s.setCookie(w, "", -time.Second)
	s.save()
}

// SignOutAll ends every session of an account.
func (s *sessions) SignOutAll(w http.ResponseWriter, account string) {
	s.drop(account)
	s.setCookie(w, "", -time.Second)
	s.save()
}

func (s *sessions) drop(account string) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for h, one := range s.seen {
		if one.account == account {
			delete(s.seen, h)
		}
	}
}

// Count returns how many browsers are signed in as an account.
func (s *sessions) Count(account string) (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, one := range s.seen {
		if one.account == account && s.now().Sub(one.used) <= sessionLife {
			n++
		}
	}
	return n
}
