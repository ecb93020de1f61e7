package page

import (
	"cmp"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"net/http"
	"slices"
	"strings"
	"sync"
)

// May is what an account may do.
type May string

// What an account may do.
const (
	MayAct  May = "act"  // see everything, and do what the page offers
	MayLook May = "look" // see everything and change nothing
)

// Account is somebody, or a program, that comes in under a name.
type Account struct {
	ID   string // given to sign in; small letters
	Name string // in the log; empty: the ID
	May  May

	// One of these lets people sign in; both empty: they cannot.
	Password     string // as people type it
	PasswordHash string // as HashPassword returns it
	// Token lets programs in (RFC 6750); empty: none.
	Token string
}

// keeper is an account as the page keeps it: without secrets that can be read.
type keeper struct {
	ID, Name string
	May      May
	lock     *hash // of the password; nil: nobody can sign in
	token    *[sha256.Size]byte

	mu    sync.Mutex
	basic []byte // keyed hash of the password, once it was right
}

var errAccount = errors.New("the page's account cannot be used")

// keyring is all accounts; empty, nobody need prove who they are. An account
// without ID is the one password that all share.
type keyring map[string]*keeper

// shared reports whether one password stands for everybody.
func (k keyring) shared() bool { return k[""] != nil }

// ordered are the accounts by ID.
func (k keyring) ordered() []*keeper {
	var all []*keeper
	for _, a := range k {
		all = append(all, a)
	}
	slices.SortFunc(all, func(a, b *keeper) int { return cmp.Compare(a.ID, b.ID) })
	return all
}

// accounts lists what o lets in: the accounts, or the one password.
func (o *Options) accounts() []Account {
	if o.Password != "" || o.PasswordHash != "" {
		return append(slices.Clone(o.Accounts), Account{May: MayAct, Password: o.Password, PasswordHash: o.PasswordHash})
	}
	return o.Accounts
}

// checkAccounts tells what is wrong with the accounts, apart from passwords.
func (o *Options) checkAccounts() []error {
	var problems []error
	add := func(format string, args ...any) {
		problems = append(problems, fmt.Errorf("%w: "+format, append([]any{errAccount}, args...)...))
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
		case a.May != MayAct && a.May != MayLook:
			add("%q may %q; it must be %q or %q", a.ID, a.May, MayAct, MayLook)
		case a.Password == "" && a.PasswordHash == "" && a.Token == "":
			add("%q has neither a password nor a token", a.ID)
		case a.Password != "" && a.PasswordHash != "":
			add("%q has both a password and a password hash: give one of them", a.ID)
		}
		seen[a.ID] = true
	}
	return problems
}

// keys makes the keyring. What memory has of a password that is still the same
// is taken again, so that it need not be hashed anew and its sessions go on.
func (o *Options) keys(m *sessions) (keyring, error) {
	ring := keyring{}
	var errs []error
	for _, a := range o.accounts() {
		k := &keeper{ID: a.ID, Name: cmp.Or(a.Name, a.ID), May: a.May}
		if a.Token != "" {
			sum := sha256.Sum256([]byte(a.Token))
			k.token = &sum
		}
		text, err := a.hashed(m.hashes[a.ID])
		if err == nil && text != "" {
			var h hash
			if h, err = parseHash(text); err == nil {
				k.lock = &h
			}
		}
		if err != nil {
			errs = append(errs, fmt.Errorf("%s%w", a.label(), err))
		}
		if old, ok := m.hashes[a.ID]; ok && old != text {
			m.drop(a.ID)
		}
		m.hashes[a.ID] = text
		ring[a.ID] = k
	}
	m.keepOnly(ring)
	return ring, errors.Join(errs...)
}

// openSessions makes the sessions and the keyring.
func (o *Options) openSessions() (*sessions, keyring, error) {
	m := newSessions(o.CertFile != "" || o.ProxyTLS, o.Key)
	log := o.Log
	m.failed = func(err error) { log.Error().Err(err).Msg("who is signed in could not be written down") }
	if err := m.load(o.Memory); err != nil {
		o.Log.Warn().Err(err).Msg("everybody must sign in to the page again")
	}
	ring, err := o.keys(m)
	return m, ring, err
}

// forgetSecrets keeps nothing longer than needed.
func (o *Options) forgetSecrets() {
	o.Password, o.PasswordHash, o.Accounts, o.Key = "", "", nil, nil
}

func (a Account) label() string {
	if a.ID == "" {
		return ""
	}
	return "account " + a.ID + ": "
}

// hashed is the password's hash as text; "" without a password. old is the one
// remembered.
func (a Account) hashed(old string) (string, error) {
	if a.Password == "" {
		return strings.TrimSpace(a.PasswordHash), nil
	}
	if h, err := parseHash(old); err == nil && h.matches(a.Password) {
		return old, nil
	}
	return HashPassword(a.Password)
}

// account returns who uses the API, or who has signed in in r's browser; nil:
// nobody.
func (s *Server) account(r *http.Request) *keeper {
	if c, ok := r.Context().Value(callerKey{}).(apiCaller); ok {
		return c.account
	}
	id, ok := s.sessions.of(r)
	if !ok {
		return nil
	}
	return s.keys[id]
}

// mayAct reports whether r's visitor may do more than look.
func (s *Server) mayAct(r *http.Request) bool {
	if !s.locked {
		return true
	}
	a := s.account(r)
	return a != nil && a.May == MayAct
}

// knownAs is the name under which r's visitor acts; "" where the visitor says it.
func (s *Server) knownAs(r *http.Request) string {
	if c, ok := r.Context().Value(callerKey{}).(apiCaller); ok {
		return c.name
	}
	if a := s.account(r); a != nil {
		return a.Name
	}
	return ""
}

// lookOnly is what somebody hears who may not do what they asked for.
const lookOnly = "This account may look only, so nothing was done."

// acting lets only people through who may act.
func (s *Server) acting(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !s.mayAct(r) {
			return faultf(kindRefused, lookOnly)
		}
		return h(w, r)
	}
}

// byToken returns the account of a bearer token. All are compared, in constant
// time each.
func (k keyring) byToken(token string) *keeper {
	sum := sha256.Sum256([]byte(token))
	var found *keeper
	for _, a := range k.ordered() {
		if a.token != nil && subtle.ConstantTimeCompare(a.token[:], sum[:]) == 1 {
			found = a
		}
	}
	return found
}
