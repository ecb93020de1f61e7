package page

import (
	"crypto/hmac"
	"crypto/rand"
	"crypto/sha256"
	"encoding/base64"
	"net/http"
	"sync"
	"time"
)

const (
	sessionLife = 30 * 24 * time.Hour // without a visit
	maxSessions = 64                  // signed in; the one longest unused is ended
	idBytes     = 32
)

// sessions knows who is signed in. Every visitor has a random ID in a cookie;
// signing in puts a fresh one on the list. Only hashes of IDs are kept.
type sessions struct {
	key    []byte // of tokens; new at every start
	secure bool   // cookies over TLS only
	now    func() time.Time

	mu   sync.Mutex
	seen map[[sha256.Size]byte]time.Time // when last used
}

func newSessions(secure bool) *sessions {
	return &sessions{key: randomBytes(), secure: secure, now: time.Now, seen: map[[sha256.Size]byte]time.Time{}}
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

// token returns what a form of this visitor must carry.
func (s *sessions) token(id string) string {
	mac := hmac.New(sha256.New, s.key)
	mac.Write([]byte("form:" + id))
	return base64.RawURLEncoding.EncodeToString(mac.Sum(nil))
}

// tokenFits compares in constant time; no visitor has no token.
func (s *sessions) tokenFits(id, token string) bool {
	return id != "" && hmac.Equal([]byte(s.token(id)), []byte(token))
}

// signedIn reports whether r comes from somebody signed in, and keeps the
// session alive.
func (s *sessions) signedIn(r *http.Request) bool {
	id := s.visitor(r)
	if id == "" {
		return false
	}
	s.mu.Lock()
	defer s.mu.Unlock()
	h, now := sha256.Sum256([]byte(id)), s.now()
	last, ok := s.seen[h]
	if !ok {
		return false
	}
	if now.Sub(last) > sessionLife {
		delete(s.seen, h)
		return false
	}
	s.seen[h] = now
	return true
}

// signIn starts a session under a fresh ID.
func (s *sessions) signIn(w http.ResponseWriter) {
	id := base64.RawURLEncoding.EncodeToString(randomBytes())
	s.mu.Lock()
	defer s.mu.Unlock()
	if len(s.seen) >= maxSessions {
		var oldest [sha256.Size]byte
		first := true
		for h, t := range s.seen {
			if first || t.Before(s.seen[oldest]) {
				oldest, first = h, false
			}
		}
		delete(s.seen, oldest)
	}
	s.seen[sha256.Sum256([]byte(id))] = s.now()
	s.setCookie(w, id, int(sessionLife/time.Second))
}

// signOut ends r's session.
func (s *sessions) signOut(w http.ResponseWriter, r *http.Request) {
	s.mu.Lock()
	defer s.mu.Unlock()
	delete(s.seen, sha256.Sum256([]byte(s.visitor(r))))
	s.setCookie(w, "", -1)
}
