package config

import (
	"slices"
	"strings"
	"time"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/gateway/page/passwords"
)

// May is what an account may do on the page.
type May string

// What accounts may do.
const (
	MayAct  May = "act"
	MayView May = "look"
	// MayAccompany is for the companion of this watch, and for nothing else.
	MayAccompany May = "accompany"
)

// PageAccount is somebody, or a program, that uses the page under a name.
type PageAccount struct {
	ID           string // given to sign in
	Name         string // in the log
	Person       string // ID of the person who it is; empty: none of those who are told
	May          May
	Password     Secret // as people type it
	PasswordHash Secret // instead: an Argon2id hash, which begins with $argon2id$
	Token        Secret // for programs
}

const (
	leastToken   = 24             // characters: nobody types it
	defaultLinks = 24 * time.Hour // for which a link in a message can acknowledge
)

// readPageAccounts reads who may use the page.
func readPageAccounts(root *table, people []Person) []PageAccount {
	var all []PageAccount
	for _, t := range root.children("account") {
		a := readPageAccount(t, people)
		for _, o := range all {
			if a.Token.Given() && a.Token.Reveal() == o.Token.Reveal() {
				root.problem(t.at, "has the token of account %s; each needs one of its own", o.ID)
			}
			if a.Name == o.Name {
				root.problem(t.at, "is %q in the log, as account %s is; the log must tell them apart", a.Name, o.ID)
			}
		}
		all = append(all, a)
	}
	checkWhoActs(root, all)
	return all
}

func readPageAccount(t *table, people []Person) PageAccount {
	defer t.done()
	if !alarms.IsName(t.name) {
		t.problem(t.at, "the name of an account must be lower-case words joined by hyphens, such as \"ada\" (got %q)", t.name)
	}
	a := PageAccount{ID: t.name, Name: t.text("name").or(t.name)}
	a.May = need(t, wordOf(t, "may", []May{MayAct, MayView, MayAccompany}),
		"say what it may do: may = \"act\", or may = \"look\" to see everything and change nothing").V
	readAccountPerson(t, &a, people)
	password, token := t.secret("password"), t.secret("token")
	a.Password, a.PasswordHash = t.passwordOrHash(password)
	if n := utf8.RuneCountInString(token.V.Reveal()); token.Set && n < leastToken {
		t.problem(token.at, "must hold at least %d characters, drawn at random (got %d)", leastToken, n)
	}
	a.Token = token.V
	if a.May == MayAccompany && (password.Seen || !token.Seen) {
		t.problem(t.spot("may"), "is for the companion of this watch, which is a program: give token-file, and no password")
	}
	if !password.Seen && !token.Seen {
		t.problem(t.at, "has no way in: give password-file for a person, or token-file for a program")
	}
	return a
}

func readAccountPerson(t *table, a *PageAccount, people []Person) {
	person := t.text("person")
	if !person.Set {
		return
	}
	i := slices.IndexFunc(people, func(p Person) bool { return p.ID == person.V })
	if i < 0 {
		t.problem(person.at, "names no person of this file (got %q)%s", person.V, orList(person.V, personIDs(people), "; people: %s"))
		return
	}
	if t.has("name") {
		t.problem(t.spot("name"), "is one too many: the account acts under the name of person %s", person.V)
	}
	a.Person, a.Name = person.V, people[i].Name
}

// checkWhoActs tells two ways in that contradict one another, and a page on
// which nobody can act.
func checkWhoActs(root *table, all []PageAccount) {
	if len(all) == 0 {
		return
	}
	page := root.table("page")
	for _, key := range []string{"password-file", "password-env"} {
		if page.has(key) {
			root.problem(page.spot(key), "is one too many: there are accounts, each with a password of its own; take out this one or the accounts")
		}
	}
	acts := func(a PageAccount) bool { return a.May == MayAct && (a.Password.Given() || a.PasswordHash.Given()) }
	broken := slices.ContainsFunc(root.r.found, func(p Problem) bool { return !p.Warning && strings.HasPrefix(p.Path, "account.") })
	if !slices.ContainsFunc(all, acts) && !broken {
		at := root.spot("account")
		root.warn(place{at.line, "account"}, "nobody can acknowledge on the page: no account with a password has may = \"act\"")
	}
}

// passwordOrHash tells apart what a secret holds.
func (t *table) passwordOrHash(given value[Secret]) (plain, hash Secret) {
	text, isHash := given.V.Reveal(), strings.HasPrefix(given.V.Reveal(), "$argon2id$")
	if !given.Set {
		return plain, hash
	}
	check := passwords.Check
	if isHash {
		check = func(s string) error { _, err := passwords.Parse(s); return err }
	}
	if err := check(text); err != nil {
		t.wrong(given.at, err)
		return plain, hash
	}
	if isHash {
		return plain, given.V
	}
	return given.V, hash
}

// readLinks reads how long a link in a message can acknowledge.
func readLinks(t *table, url string) time.Duration {
	life := t.span("link-good-for", 10*time.Minute, 7*day)
	if life.Seen && url == "" {
		t.problem(life.at, "needs link = \"https://...\", the address of the page, from which such links are made")
	}
	return life.or(defaultLinks)
}
