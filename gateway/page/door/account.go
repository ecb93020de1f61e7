package door

import (
	"cmp"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"net/http"
	"slices"
	"strings"
	"sync"

	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/passwords"
)

// May is what an account may do.
type May string

// What an account may do.
const (
	MayAct  May = "act"  // see everything, and do what the page offers
	MayView May = "look" // see everything and change nothing
	// MayAccompany is for another watch of the same garden: it asks how this one is and
	// says what people did there, and sees nothing else.
	MayAccompany May = "accompany"
)

// Account is somebody, or a program, that comes in under a name.
type Account struct {
	ID   string // given to sign in; small letters
	Name string // in the log; empty: the ID
	May  May

	// One of these lets people sign in; both empty: they cannot.
	Password     string // as people type it
	PasswordHash string // as passwords.Hash writes it
	// Token lets programs in (RFC 6750); empty: none.
	Token string
}

// Keeper is an account as the page keeps it: without secrets that can be read.
type Keeper struct {
	ID, Name string
	May      May
	lock     *passwords.Hash // of the password; nil: nobody can sign in
	token    *[sha256.Size]byte

	mu    sync.Mutex
	basic []byte // keyed hash of the password, once it was right
}

// Programs reports whether k lets programs in.
func (k *Keeper) Programs() bool { return k.token != nil }

var errAccount = errors.New("the page's account cannot be used")

// keyring is all accounts; empty, nobody need prove who they are. An account
// without ID is the one password that all share.
type keyring map[string]*Keeper

// ordered are the accounts by ID.
func (k keyring) ordered() []*Keeper {
	var all []*Keeper
	for _, a := range k {
		all = append(all, a)
	}
	slices.SortFunc(all, func(a, b *Keeper) int { return cmp.Compare(a.ID, b.ID) })
	return all
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
	if h, err := passwords.Parse(old); err == nil && h.Matches(a.Password) {
		return old, nil
	}
	h, err := passwords.New(a.Password)
	if err != nil {
		return "", err
	}
	return h.String(), nil
}

// Account returns whose request r is, of a program that was let in or of a
// browser that is signed in; nil: nobody's.
func (d *Door) Account(r *http.Request) *Keeper {
	if c, ok := r.Context().Value(callerKey{}).(caller); ok {
		return c.account
	}
	id, ok := d.of(r)
	if !ok {
		return nil
	}
	return d.keys[id]
}

// MayAct reports whether r's visitor may do more than look.
func (d *Door) MayAct(r *http.Request) bool {
	if !d.Locked() {
		return true
	}
	a := d.Account(r)
	return a != nil && a.May == MayAct
}

// KnownAs is the name under which r's visitor acts; "" where the visitor says it.
func (d *Door) KnownAs(r *http.Request) string {
	if c, ok := r.Context().Value(callerKey{}).(caller); ok {
		return c.name
	}
	if a := d.Account(r); a != nil {
		return a.Name
	}
	return ""
}

// ViewOnly is what somebody hears who may not do what they asked for.
const ViewOnly tongue.Text = "This account may look only, so nothing was done."

// Acting lets only people through who may act.
func (d *Door) Acting(h answer.Handler) answer.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if !d.MayAct(r) {
			return answer.Say(answer.Refused, ViewOnly)
		}
		return h(w, r)
	}
}

// byToken returns the account of a bearer token. All are compared, in constant
// time each.
func (k keyring) byToken(token string) *Keeper {
	sum := sha256.Sum256([]byte(token))
	var found *Keeper
	for _, a := range k.ordered() {
		if a.token != nil && subtle.ConstantTimeCompare(a.token[:], sum[:]) == 1 {
			found = a
		}
	}
	return found
}
