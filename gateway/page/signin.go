package page

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"math"
	"net/http"
	"sync"
	"time"

	"telltale/alarms"
)

type signInView struct {
	frame
	Wrong string
}

func (s *Server) signInPage(w http.ResponseWriter, r *http.Request) error {
	if !s.locked || s.sessions.signedIn(r) {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	return s.render(w, http.StatusOK, "signin", signInView{frame: s.frame(w, r, "Sign in")})
}

func (s *Server) signIn(w http.ResponseWriter, r *http.Request) error {
	if !s.locked {
		http.Redirect(w, r, "/", http.StatusSeeOther)
		return nil
	}
	ok, err := s.passwordFits(r, r.PostForm.Get("password"))
	if err != nil {
		return err
	}
	if !ok {
		return s.render(w, http.StatusUnauthorized, "signin",
			signInView{frame: s.frame(w, r, "Sign in"), Wrong: "That is not the password."})
	}
	s.sessions.signIn(w)
	http.Redirect(w, r, "/", http.StatusSeeOther)
	return nil
}

func (s *Server) signOut(w http.ResponseWriter, r *http.Request) error {
	s.sessions.signOut(w, r)
	http.Redirect(w, r, "/sign-in", http.StatusSeeOther)
	return nil
}

// passwordFits checks a password, slowly for who guesses.
func (s *Server) passwordFits(r *http.Request, password string) (bool, error) {
	client, now := clientOf(r), s.sessions.now()
	if wait := s.limiter.wait(client, now); wait > 0 {
		f := faultf(kindTooMany, "Too many wrong passwords. Try again in %s.", waitWords(wait))
		f.After = int(math.Ceil(wait.Seconds()))
		return false, f
	}
	if len(password) > 4*maxPassword {
		s.limiter.wrong(client, now)
		return false, nil
	}
	if err := s.takeTurn(r.Context()); err != nil {
		return false, err
	}
	defer func() { <-s.hashing }()
	if !s.lock.matches(password) {
		s.limiter.wrong(client, s.sessions.now())
		s.log.Warn().Str("client", client).Msg("a wrong password was given for the page")
		return false, nil
	}
	s.limiter.right(client)
	return true, nil
}

// takeTurn waits until no other password is being checked.
func (s *Server) takeTurn(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	select {
	case s.hashing <- struct{}{}:
		return nil
	case <-ctx.Done():
		return &fault{Kind: kindAway, Say: "Many people are signing in. Try again in a moment.", After: 10}
	}
}

func waitWords(d time.Duration) string {
	return alarms.Span((d + 5*time.Second - 1).Truncate(5 * time.Second))
}

// machine lets programs in that give the password by HTTP Basic authentication
// (RFC 7617, any user name), and people who are signed in. It is for reading.
func (s *Server) machine(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !s.locked || s.sessions.signedIn(r) {
			return h(w, r)
		}
		_, password, ok := r.BasicAuth()
		if !ok {
			w.Header().Set("WWW-Authenticate", `Basic realm="telltale", charset="UTF-8"`)
			return faultf(kindSignedOut, "Give the password.")
		}
		if s.basic.known(s.sessions.key, password) {
			return h(w, r)
		}
		fits, err := s.passwordFits(r, password)
		if err != nil {
			return err
		}
		if !fits {
			return faultf(kindSignedOut, "That is not the password.")
		}
		s.basic.remember(s.sessions.key, password)
		return h(w, r)
	}
}

// basicCache remembers the right password by a keyed hash, so that a program
// that reads every few seconds does not cost a slow hash each time.
type basicCache struct {
	mu  sync.Mutex
	sum []byte
}

func (c *basicCache) known(key []byte, password string) bool {
	c.mu.Lock()
	defer c.mu.Unlock()
	return c.sum != nil && hmac.Equal(c.sum, keyed(key, password))
}

func (c *basicCache) remember(key []byte, password string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.sum = keyed(key, password)
}

func keyed(key []byte, password string) []byte {
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte("basic:" + password))
	return mac.Sum(nil)
}
