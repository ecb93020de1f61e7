package page

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

// sessions knows who is signed in. Every visitor has a random ID in a cookie;
// signing in puts a fresh one on the list. Only hashes of IDs are kept, here
// and in memory that outlives the watch.
type sessions struct {
	key    []byte // of tokens
	secure bool   // cookies over TLS only
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

// newSessions returns sessions with tokens by key; without one, by a fresh one.
func newSessions(secure bool, key []byte) *sessions {
	if len(key) == 0 {
		key = randomBytes()
	}
	return &sessions{key: key, secure: secure, now: time.Now, seen: map[[sha256.Size]byte]session{},
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
	if s.secure {
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

// greet returns the visitor's ID and gives one to a visitor without.
func (s *sessions) greet(w http.ResponseWriter, r *http.Request) string {
	if id := s.visitor(r); id != "" {
		return id
	}
	id := base64.RawURLEncoding.EncodeToString(randomBytes())
	s.setCookie(w, id, int(sessionLife/time.Second))
	return id
}

func (s *sessions) setCookie(w http.ResponseWriter, id string, maxAge int) {
	http.SetCookie(w, &http.Cookie{Name: s.cookieName(), Value: id, Path: "/", MaxAge: maxAge,
		HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteStrictMode})
}

// knownLife is how long a browser is known after somebody signed in there.
const knownLife = 365 * 24 * time.Hour

// know marks a browser in which somebody has signed in to an account.
func (s *sessions) know(w http.ResponseWriter, account string) {
	nonce := base64.RawURLEncoding.EncodeToString(randomBytes())
	http.SetCookie(w, &http.Cookie{Name: s.cookieName() + "-known", Value: nonce + "." + s.knownMark(nonce, account), Path: "/",
		MaxAge: int(knownLife / time.Second), HttpOnly: true, Secure: s.secure, SameSite: http.SameSiteStrictMode})
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

// token returns what a form of this visitor must carry.
func (s *sessions) token(id string) string {
	return base64.RawURLEncoding.EncodeToString(keyed(s.key, "form:"+id))
}

// tokenFits compares in constant time; no visitor has no token.
func (s *sessions) tokenFits(id, token string) bool {
	return id != "" && hmac.Equal([]byte(s.token(id)), []byte(token))
}

// signedIn reports whether r comes from somebody signed in, and keeps the
// session alive.
func (s *sessions) signedIn(r *http.Request) bool {
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

// signIn starts a session of an account under a fresh ID.
func (s *sessions) signIn(w http.ResponseWriter, account string) {
	id := base64.RawURLEncoding.EncodeToString(randomBytes())
	s.mu.Lock()
	s.makeRoomLocked(account)
	now := s.now()
	s.seen[sha256.Sum256([]byte(id))] = session{account: account, used: now, saved: now}
	s.mu.Unlock()
	s.setCookie(w, id, int(sessionLife/time.Second))
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

// signOut ends r's session.
func (s *sessions) signOut(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	delete(s.seen, sha256.Sum256([]byte(s.visitor(r))))
	s.mu.Unlock()
	s.setCookie(w, "", -1)
	s.save()
}

// signOutAll ends every session of an account.
func (s *sessions) signOutAll(w http.ResponseWriter, account string) {
	s.drop(account)
	s.setCookie(w, "", -1)
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

// count returns how many browsers are signed in as an account.
func (s *sessions) count(account string) (n int) {
	s.mu.Lock()
	defer s.mu.Unlock()
	for _, one := range s.seen {
		if one.account == account && s.now().Sub(one.used) <= sessionLife {
			n++
		}
	}
	return n
}
