package link

import (
	"cmp"
	"crypto/sha256"
	"crypto/subtle"
	"errors"
	"fmt"
	"slices"
	"strings"

	"telltale/gateway/topic"
)

// Account is a user of the embedded broker and where it has rights. A right is
// a topic filter. Topics below telltale/ may be written by the watch alone,
// whatever the rights say; so are those of BrokerOptions.Own.
type Account struct {
	User      string
	Password  string
	Publish   []string // topics it may publish to
	Subscribe []string // filters it may subscribe to, or to parts of
}

// check returns all that is wrong with a.
func (a Account) check() error {
	var errs []error
	if a.User == "" {
		errs = append(errs, errors.New("an account without a user name"))
	}
	if a.Password == "" {
		errs = append(errs, fmt.Errorf("account %q has no password", a.User))
	}
	if len(a.Publish)+len(a.Subscribe) == 0 {
		errs = append(errs, fmt.Errorf("account %q may neither publish nor subscribe to anything; give it a topic filter such as %s/#", a.User, cmp.Or(a.User, "bench-1")))
	}
	for _, f := range a.Publish {
		if err := topic.CheckForOthers(f); err != nil {
			errs = append(errs, fmt.Errorf("account %q: what it may publish to %w", a.User, err))
		}
	}
	for _, f := range a.Subscribe {
		if err := topic.CheckFilter(f); err != nil {
			errs = append(errs, fmt.Errorf("account %q: what it may subscribe to %w", a.User, err))
		}
	}
	return errors.Join(errs...)
}

// rights are what one account may do.
type rights struct {
	password  [sha256.Size]byte
	all       bool // the watch
	publish   []string
	subscribe []string
	own       []string // beginnings of topics that are the watch's
}

// mayPublish reports whether the topic name may be written to. One with wildcards is
// none: as that of a will the library would take it.
func (r *rights) mayPublish(name string) bool {
	if topic.Wild(name) {
		return false
	}
	if r.all {
		return true
	}
	if strings.HasPrefix(name, topic.Companion) {
		return topic.AnyCovers(r.publish, name)
	}
	if strings.HasPrefix(name, "$") || slices.ContainsFunc(r.own, func(own string) bool { return strings.HasPrefix(name, own) }) {
		return false
	}
	return topic.AnyCovers(r.publish, name)
}

// maySubscribe reports whether everything that filter brings may be read.
func (r *rights) maySubscribe(filter string) bool {
	return r.all || topic.AnyCovers(r.subscribe, filter)
}

// book holds every account.
type book struct {
	accounts map[string]*rights // by user name
	nobody   *rights            // for clients without a user name; nil: refused
}

func newBook(o BrokerOptions) *book {
	own := append([]string{topic.Own}, o.Own...)
	b := &book{accounts: make(map[string]*rights, len(o.Accounts)+1)}
	for _, a := range o.Accounts {
		b.accounts[a.User] = &rights{password: sha256.Sum256([]byte(a.Password)), publish: a.Publish, subscribe: a.Subscribe, own: own}
	}
	b.accounts[watchUser] = &rights{password: sha256.Sum256([]byte(o.WatchPassword)), all: true}
	if len(o.Accounts) == 0 {
		b.nobody = &rights{publish: []string{"#"}, subscribe: []string{"#", "$SYS/#"}, own: own}
	}
	return b
}

// login returns the rights of an account, or nil.
func (b *book) login(user string, password []byte) *rights {
	if user == "" && len(password) == 0 {
		return b.nobody
	}
	r, ok := b.accounts[user]
	if !ok {
		r = &rights{} // no password has this sum: the comparison takes as long as ever
	}
	sum := sha256.Sum256(password)
	if subtle.ConstantTimeCompare(sum[:], r.password[:]) != 1 {
		return nil
	}
	return r
}

// of returns the rights of a user that is logged in.
func (b *book) of(user []byte) *rights {
	if len(user) == 0 {
		return b.nobody
	}
	return b.accounts[string(user)]
}
