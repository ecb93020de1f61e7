package page

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"net/http"
	"strings"
	"time"

	"telltale/alarms"
)

// proven returns the account that a name and a password belong to; nil: they
// do not belong together. It is slow for who guesses, and takes the same time
// and says the same whether there is such an account or not.
func (s *Server) proven(r *http.Request, name, password string) (*keeper, error) {
	id := s.accountID(name)
	known, err := s.mayTry(r, id)
	if err != nil {
		return nil, err
	}
	if err := s.takeTurn(r.Context()); err != nil {
		return nil, err
	}
	defer func() { <-s.hashing }()
	k := s.keys[id]
	if len(password) <= 4*maxPassword && s.lockOf(id).matches(password) && k != nil && k.lock != nil {
		s.limiter.right(s.trier(r, known))
		s.byName.right(limiterName(id))
		return k, nil
	}
	s.limiter.wrong(s.trier(r, known), s.sessions.now())
	if known == "" {
		s.byName.wrong(limiterName(id), s.sessions.now())
	}
	s.log.Warn().Str("client", s.clientOf(r)).Msg("a wrong password was given for the page")
	return nil, nil
}

// mayTry returns the error for who must wait before a password is tried for
// the account id. A browser in which somebody was signed in to that account
// before is known: it is limited by itself alone, so that nobody else can keep
// its owner out.
func (s *Server) mayTry(r *http.Request, id string) (known string, err error) {
	known, now := s.sessions.known(r, id), s.sessions.now()
	if err := tooMany(s.limiter.wait(s.trier(r, known), now)); err != nil || known != "" {
		return known, err
	}
	if err := tooMany(s.byName.wait(limiterName(id), now)); err != nil && !s.keys.shared() {
		return "", err
	}
	return "", tooMany(s.limiter.count(now))
}

// trier is whose tries are counted together: those of a known browser, or of a
// client.
func (s *Server) trier(r *http.Request, known string) string {
	if known != "" {
		return "browser " + known
	}
	return s.clientOf(r)
}

// lockOf is the hash by which a password for id is checked. For an account that
// is not there it is the settings of one that is, always the same one, with a
// key that nothing fits: so it takes as long.
func (s *Server) lockOf(id string) hash {
	if k := s.keys[id]; k != nil && k.lock != nil {
		return *k.lock
	}
	var locks []hash
	for _, k := range s.keys.ordered() {
		if k.lock != nil {
			locks = append(locks, *k.lock)
		}
	}
	h := hash{memory: hashMemory, passes: hashPasses, lanes: hashLanes}
	sum := keyed(s.sessions.key, "no account:"+id)
	if len(locks) > 0 {
		h = locks[int(sum[0])%len(locks)]
	}
	h.salt, h.key = sum[:hashSaltLen], randomBytes()
	return h
}

// limiterName bounds what is kept of a name that somebody typed.
func limiterName(id string) string {
	sum := sha256.Sum256([]byte(id))
	return hex.EncodeToString(sum[:8])
}

// tooMany is the error for who must wait so long.
func tooMany(wait time.Duration) error {
	if wait <= 0 {
		return nil
	}
	f := faultf(kindTooMany, "Too many wrong passwords. Try again in %s.", waitWords(wait))
	f.After = int(math.Ceil(wait.Seconds()))
	return f
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

// proof is how a request showed whose it is.
type proof uint8

const (
	byNothing proof = iota // nobody need show anything
	bySession              // a cookie, which browsers send by themselves
	byPassword
	byToken
)

// caller returns whose request r is: of a browser that is signed in, or of a
// program with a bearer token (RFC 6750) or with name and password (RFC 7617;
// any name where one password is for all). Its account is nil by byNothing.
func (s *Server) caller(w http.ResponseWriter, r *http.Request) (*keeper, proof, error) {
	if !s.locked {
		return nil, byNothing, nil
	}
	scheme, rest, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	if strings.EqualFold(scheme, "Bearer") {
		a, err := s.bearer(r, strings.TrimSpace(rest))
		return a, byToken, s.challenged(w, err)
	}
	if name, password, ok := r.BasicAuth(); ok {
		a, err := s.basicAuth(r, name, password)
		return a, byPassword, s.challenged(w, err)
	}
	if a := s.account(r); a != nil {
		return a, bySession, nil
	}
	return nil, byNothing, s.challenged(w, faultf(kindSignedOut, "Give a token, or name and password."))
}

// challenged adds to an answer that lets nobody in how one comes in.
func (s *Server) challenged(w http.ResponseWriter, err error) error {
	if f, ok := err.(*fault); ok && f.Kind == kindSignedOut {
		w.Header().Add("WWW-Authenticate", `Basic realm="telltale", charset="UTF-8"`)
		w.Header().Add("WWW-Authenticate", `Bearer realm="telltale"`)
	}
	return err
}

func (s *Server) bearer(r *http.Request, token string) (*keeper, error) {
	if a := s.keys.byToken(token); a != nil {
		return a, nil
	}
	client, now := s.clientOf(r), s.sessions.now()
	if err := tooMany(s.limiter.wait(client, now)); err != nil {
		return nil, err
	}
	s.limiter.wrong(client, now)
	s.log.Warn().Str("client", client).Msg("a wrong token was given for the page")
	return nil, faultf(kindSignedOut, "That token is not known.")
}

func (s *Server) basicAuth(r *http.Request, name, password string) (*keeper, error) {
	if err := tooMany(s.limiter.wait(s.clientOf(r), s.sessions.now())); err != nil {
		return nil, err // before the remembered one too, which is quick to guess at
	}
	k := s.keys[s.accountID(name)]
	if k != nil && k.knows(s.sessions.key, password) {
		return k, nil
	}
	k, err := s.proven(r, name, password)
	if err != nil {
		return nil, err
	}
	if k == nil {
		return nil, faultf(kindSignedOut, "%s", s.wrongWords())
	}
	k.remember(s.sessions.key, password)
	return k, nil
}

// machine lets programs in, and people who are signed in. It is for reading.
func (s *Server) machine(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if _, _, err := s.caller(w, r); err != nil {
			return err
		}
		return h(w, r)
	}
}

// knows reports whether password was right before. It is remembered by a keyed
// hash, so that a program that reads every few seconds does not cost a slow one
// each time.
func (k *keeper) knows(key []byte, password string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.basic != nil && hmac.Equal(k.basic, keyed(key, "basic:"+password))
}

func (k *keeper) remember(key []byte, password string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.basic = keyed(key, "basic:"+password)
}

func keyed(key []byte, text string) []byte {
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(text))
	return mac.Sum(nil)
}
