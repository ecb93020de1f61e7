package door

import (
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/hex"
	"math"
	"net/http"
	"strings"
	"time"

	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/passwords"
)

// Proven returns the account that a name and a password belong to; nil: they
// do not belong together. It is slow for who guesses, and takes the same time
// and says the same whether there is such an account or not.
func (d *Door) Proven(r *http.Request, name, typed string) (*Keeper, error) {
	id := d.accountID(name)
	known, err := d.mayTry(r, id)
	if err != nil {
		return nil, err
	}
	if err := d.takeTurn(r.Context()); err != nil {
		return nil, err
	}
	defer func() { <-d.hashing }()
	k := d.keys[id]
	if len(typed) <= 4*passwords.Most && d.lockOf(id).Matches(typed) && k != nil && k.lock != nil {
		d.limiter.right(d.trier(r, known))
		d.byName.right(limiterName(id))
		return k, nil
	}
	d.limiter.wrong(d.trier(r, known), d.now())
	if known == "" {
		d.byName.wrong(limiterName(id), d.now())
	}
	d.log.Warn().Str("client", d.ClientOf(r)).Msg("a wrong password was given for the page")
	return nil, nil
}

// mayTry returns the error for who must wait before a password is tried for
// the account id. A browser in which somebody was signed in to that account
// before is known: it is limited by itself alone, so that nobody else can keep
// its owner out.
func (d *Door) mayTry(r *http.Request, id string) (known string, err error) {
	known, now := d.known(r, id), d.now()
	if err := tooMany(d.limiter.wait(d.trier(r, known), now)); err != nil || known != "" {
		return known, err
	}
	if err := tooMany(d.byName.wait(limiterName(id), now)); err != nil && !d.Shared() {
		return "", err
	}
	return "", tooMany(d.limiter.count(now))
}

// trier is whose tries are counted together: those of a known browser, or of a
// client.
func (d *Door) trier(r *http.Request, known string) string {
	if known != "" {
		return "browser " + known
	}
	return d.ClientOf(r)
}

// lockOf is the hash by which a password for id is checked. For an account that
// is not there it is the settings of one that is, always the same one, with a
// key that nothing fits: so it takes as long.
func (d *Door) lockOf(id string) passwords.Hash {
	if k := d.keys[id]; k != nil && k.lock != nil {
		return *k.lock
	}
	var locks []passwords.Hash
	for _, k := range d.keys.ordered() {
		if k.lock != nil {
			locks = append(locks, *k.lock)
		}
	}
	h := passwords.Usual
	sum := keyed(d.key, "no account:"+id)
	if len(locks) > 0 {
		h = locks[int(sum[0])%len(locks)]
	}
	h.Salt, h.Key = sum[:passwords.SaltLength], randomBytes()
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
	f := answer.Say(answer.TooMany, "Too many wrong passwords. Try again in %s.", (wait + 5*time.Second - 1).Truncate(5*time.Second))
	f.After = int(math.Ceil(wait.Seconds()))
	return f
}

// takeTurn waits until no other password is being checked.
func (d *Door) takeTurn(ctx context.Context) error {
	ctx, cancel := context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	select {
	case d.hashing <- struct{}{}:
		return nil
	case <-ctx.Done():
		return &answer.Error{Kind: answer.Away, Say: "Many people are signing in. Try again in a moment.", After: 10}
	}
}

// caller returns whose request r is: of a browser that is signed in, or of a
// program with a bearer token (RFC 6750) or with name and password (RFC 7617;
// any name where one password is for all). Nil where nobody need show anything.
func (d *Door) caller(w http.ResponseWriter, r *http.Request) (*Keeper, error) {
	if !d.Locked() {
		return nil, nil
	}
	scheme, rest, _ := strings.Cut(r.Header.Get("Authorization"), " ")
	if strings.EqualFold(scheme, "Bearer") {
		a, err := d.bearer(r, strings.TrimSpace(rest))
		return a, d.challenged(w, err)
	}
	if name, password, ok := r.BasicAuth(); ok {
		a, err := d.basicAuth(r, name, password)
		return a, d.challenged(w, err)
	}
	if a := d.Account(r); a != nil {
		return a, nil
	}
	return nil, d.challenged(w, answer.Say(answer.SignedOut, "Give a token, or name and password."))
}

// challenged adds to an answer that lets nobody in how one comes in.
func (d *Door) challenged(w http.ResponseWriter, err error) error {
	if f, ok := err.(*answer.Error); ok && f.Kind == answer.SignedOut {
		w.Header().Add("WWW-Authenticate", `Basic realm="telltale", charset="UTF-8"`)
		w.Header().Add("WWW-Authenticate", `Bearer realm="telltale"`)
	}
	return err
}

func (d *Door) bearer(r *http.Request, token string) (*Keeper, error) {
	if a := d.keys.byToken(token); a != nil {
		return a, nil
	}
	client, now := d.ClientOf(r), d.now()
	if err := tooMany(d.limiter.wait(client, now)); err != nil {
		return nil, err
	}
	d.limiter.wrong(client, now)
	d.log.Warn().Str("client", client).Msg("a wrong token was given for the page")
	return nil, answer.Say(answer.SignedOut, "That token is not known.")
}

func (d *Door) basicAuth(r *http.Request, name, password string) (*Keeper, error) {
	if err := tooMany(d.limiter.wait(d.ClientOf(r), d.now())); err != nil {
		return nil, err // before the remembered one too, which is quick to guess at
	}
	k := d.keys[d.accountID(name)]
	if k != nil && k.knows(d.key, password) {
		return k, nil
	}
	k, err := d.Proven(r, name, password)
	if err != nil {
		return nil, err
	}
	if k == nil {
		return nil, answer.Say(answer.SignedOut, d.WrongWords())
	}
	k.remember(d.key, password)
	return k, nil
}

// knows reports whether password was right before. It is remembered by a keyed
// hash, so that a program that reads every few seconds does not cost a slow one
// each time.
func (k *Keeper) knows(key []byte, password string) bool {
	k.mu.Lock()
	defer k.mu.Unlock()
	return k.basic != nil && hmac.Equal(k.basic, keyed(key, "basic:"+password))
}

func (k *Keeper) remember(key []byte, password string) {
	k.mu.Lock()
	defer k.mu.Unlock()
	k.basic = keyed(key, "basic:"+password)
}

func keyed(key []byte, text string) []byte {
	mac := hmac.New(sha256.New, key)
	mac.Write([]byte(text))
	return mac.Sum(nil)
}

// WrongWords says nothing about which of the two was wrong.
func (d *Door) WrongWords() tongue.Text {
	if d.Shared() {
		return "That is not the password."
	}
	return "That name and that password do not belong together."
}

// accountID is what was typed as the name of an account: phones like to begin
// with a capital.
func (d *Door) accountID(typed string) string {
	if d.Shared() {
		return "" // any name will do with the one password
	}
	return strings.ToLower(strings.TrimSpace(typed))
}
