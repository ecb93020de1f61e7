package door

import (
	"cmp"
	"context"
	"crypto/sha256"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync/atomic"

	"github.com/rs/zerolog"

	"telltale/gateway/page/answer"
	"telltale/gateway/page/passwords"
)

// Options say who is let in, and by which way they come.
type Options struct {
	// One password for everybody, or accounts; neither: everybody is let in.
	Password     string // as people type it
	PasswordHash string // as passwords.Hash writes it
	Accounts     []Account
	Key          []byte   // by which browsers are known again; nil: a fresh one
	Memory       Memory   // of who is signed in; nil: until the watch stops
	Hosts        []string // names by which browsers reach the page, in small letters; none: any
	TLS          bool     // the page speaks it itself
	// Promises says that browsers may hold the page to that for a month: not where its
	// certificate may become one that they do not know.
	Promises bool
	ProxyTLS bool // a proxy in front of it does
	Log      zerolog.Logger
}

// Door lets people and programs in, and keeps others out.
type Door struct {
	log      zerolog.Logger
	hosts    []string
	promises bool
	proxied  bool
	keys     keyring
	*sessions
	limiter  *limiter      // of guessing, by client
	byName   *limiter      // and by account
	hashing  chan struct{} // holds one: a hash takes much memory
	Loopback atomic.Bool   // the page is reached by this machine alone
}

// New takes over what memory has. Options.Check has looked at o.
func New(o Options) (*Door, error) {
	d := &Door{log: o.Log, hosts: o.Hosts, promises: o.Promises, proxied: o.ProxyTLS, hashing: make(chan struct{}, 1),
		limiter: newLimiter(freeTries), byName: newLimiter(freeForName), sessions: newSessions(o.TLS || o.ProxyTLS, o.Key)}
	d.failed = func(err error) { d.log.Error().Err(err).Msg("who is signed in could not be written down") }
	if err := d.load(o.Memory); err != nil {
		o.Log.Warn().Err(err).Msg("everybody must sign in to the page again")
	}
	if err := d.takeKeys(o.accounts()); err != nil {
		return nil, err
	}
	if d.Locked() {
		d.save() // of passwords that changed, the sessions are gone
	}
	return d, nil
}

// Locked reports whether somebody must prove who they are.
func (d *Door) Locked() bool { return len(d.keys) > 0 }

// MustSignIn reports whether r's visitor must sign in before anything is seen.
func (d *Door) MustSignIn(r *http.Request) bool { return d.Locked() && !d.SignedIn(r) }

// Shared reports whether one password stands for everybody, so that no name is
// asked for.
func (d *Door) Shared() bool { return d.keys[""] != nil }

// accounts lists what o lets in: the accounts, or the one password.
func (o Options) accounts() []Account {
	if o.Password != "" || o.PasswordHash != "" {
		return append(slices.Clone(o.Accounts), Account{May: MayAct, Password: o.Password, PasswordHash: o.PasswordHash})
	}
	return o.Accounts
}

// Check reports what is wrong with the accounts.
func (o Options) Check() error {
	var problems []error
	add := func(format string, args ...any) {
		problems = append(problems, fmt.Errorf("%w: "+format, append([]any{errAccount}, args...)...))
	}
	if o.Password != "" && o.PasswordHash != "" {
		problems = append(problems, errors.New("the page has both a password and a password hash: give one of them"))
	}
	if len(o.Accounts) > 0 && (o.Password != "" || o.PasswordHash != "") {
		add("there are accounts and one password for everybody: keep one of the two")
	}
	seen := map[string]bool{}
	for _, a := range o.Accounts {
		switch {
		case a.ID == "" || a.ID != strings.ToLower(a.ID) || strings.ContainsAny(a.ID, ": "):
			add("its name must be small letters without colon and space, got %q", a.ID)
		case seen[a.ID]:
			add("%q is there twice", a.ID)
		case a.May != MayAct && a.May != MayView && a.May != MayAccompany:
			add("%q may %q; it must be %q, %q or %q", a.ID, a.May, MayAct, MayView, MayAccompany)
		case a.Password == "" && a.PasswordHash == "" && a.Token == "":
			add("%q has neither a password nor a token", a.ID)
		case a.Password != "" && a.PasswordHash != "":
			add("%q has both a password and a password hash: give one of them", a.ID)
		}
		seen[a.ID] = true
	}
	return errors.Join(append(problems, o.checkPasswords()...)...)
}

// checkPasswords tells passwords, and hashes of some, that cannot be used.
func (o Options) checkPasswords() []error {
	var problems []error
	for _, a := range o.accounts() {
		var err error
		if a.Password != "" {
			err = passwords.Check(a.Password)
		} else if a.PasswordHash != "" {
			_, err = passwords.Parse(a.PasswordHash)
		}
		if err != nil {
			problems = append(problems, fmt.Errorf("%sthe page's password %w", a.label(), err))
		}
	}
	return problems
}

// takeKeys makes the keyring. What memory has of a password that is still the
// same is taken again, so that it need not be hashed again and its sessions go on.
func (d *Door) takeKeys(accounts []Account) error {
	d.keys = keyring{}
	m, errs := d.sessions, []error(nil)
	for _, a := range accounts {
		k := &Keeper{ID: a.ID, Name: cmp.Or(a.Name, a.ID), May: a.May}
		if a.Token != "" {
			sum := sha256.Sum256([]byte(a.Token))
			k.token = &sum
		}
		text, err := a.hashed(m.hashes[a.ID])
		if err == nil && text != "" {
			var h passwords.Hash
			if h, err = passwords.Parse(text); err == nil {
				k.lock = &h
			}
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("%sthe page's password %w", a.label(), err))
		}
		if old, ok := m.hashes[a.ID]; ok && old != text {
			m.drop(a.ID)
		}
		m.hashes[a.ID] = text
		d.keys[a.ID] = k
	}
	m.keepOnly(d.keys)
	return errors.Join(errs...)
}

// callerKey is under which a request's context has its caller.
type callerKey struct{}

// caller is whose request of a program it is.
type caller struct {
	account *Keeper // nil where nobody need show anything
	name    string  // in the log
}

// Program lets programs in, and people who are signed in.
func (d *Door) Program(h answer.Handler) answer.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		account, err := d.caller(w, r)
		if err != nil {
			return err
		}
		if account != nil && account.May == MayAccompany {
			return answer.Errorf(answer.Refused, "This account is for a companion alone.")
		}
		c := caller{account: account}
		if account != nil {
			c.name = account.Name
		}
		return h(w, r.WithContext(context.WithValue(r.Context(), callerKey{}, c)))
	}
}

// Named gives a program that nobody knows the name under which it acts.
func (d *Door) Named(r *http.Request, name string) *http.Request {
	c, _ := r.Context().Value(callerKey{}).(caller)
	c.name = cmp.Or(c.name, name)
	return r.WithContext(context.WithValue(r.Context(), callerKey{}, c))
}

// Accompanying lets the companion of the watch in, by its token, and nobody else.
func (d *Door) Accompanying(h answer.Handler) answer.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		account, err := d.caller(w, r)
		switch {
		case err != nil:
			return err
		case account == nil || account.May != MayAccompany:
			return answer.Errorf(answer.Refused, "This is for a companion alone: an account with may = %q.", string(MayAccompany))
		}
		return h(w, r)
	}
}
