package config

import (
	"crypto/sha256"
	"encoding/hex"
	"errors"
	"io/fs"
	"maps"
	"net/url"
	"os"
	"path/filepath"
	"slices"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/topic"
)

// Companion says which watch this one accompanies.
type Companion struct {
	First  string // address of its page; empty: none
	Token  Secret
	CAFile string // PEM; empty: the system's authorities
	Plan   string // version of what is copied from it; empty: nothing is yet
	File   string // where that is kept
}

// Shared is what a companion copies: what is judged, and who is told of it.
type Shared struct {
	Text    []byte // TOML
	Version string
}

// sharedTables are copied; all else is a watch's own: it says where this machine
// keeps, sends and shows things, or is a secret.
var sharedTables = []string{"words", "house", "probe", "chatter", "reminders", "broker-loss", "person", "tell", NobodyTold}

// CompanionPlan is the file beside the store in which the copy is kept.
const CompanionPlan = "companion-plan.toml"

// toShare makes the copy of a file that was read.
func toShare(root map[string]any) Shared {
	part := map[string]any{}
	for _, k := range sharedTables {
		if v, ok := root[k]; ok {
			part[k] = v
		}
	}
	text, err := toml.Marshal(part)
	if err != nil { // of what was read as TOML
		return Shared{}
	}
	return Shared{Text: text, Version: VersionOf(text)}
}

// VersionOf names a copy by what is in it.
func VersionOf(text []byte) string {
	sum := sha256.Sum256(text)
	return hex.EncodeToString(sum[:6])
}

// accompany puts what is copied from the first watch into the file of its companion.
func (r *reader) accompany(root map[string]any) {
	if _, is := root["companion"].(map[string]any); !is {
		return
	}
	for _, k := range sharedTables {
		if _, own := root[k]; own {
			r.problem(place{r.lines.spots[k].line, k}, "is copied from the first watch, so that both judge alike and tell the same people; take it out here")
			delete(root, k)
		}
	}
	store, _ := root["store"].(map[string]any)
	own, _ := store["directory"].(string) // which is not read yet
	dir, _ := r.storeAt(own)
	r.copied = &Companion{File: filepath.Join(dir, CompanionPlan)}
	text, err := os.ReadFile(r.copied.File)
	if fresh, given := r.fresh[r.copied.File]; given {
		text, err = []byte(fresh), nil
	}
	if err != nil {
		if !errors.Is(err, fs.ErrNotExist) {
			r.problem(place{r.lines.spots["companion"].line, "companion"}, "the copy of the first watch's plan cannot be read: %s (%s)", Reason(err), r.copied.File)
		}
		r.mayBeBare = true // until it is there
		return
	}
	r.merge(root, text)
}

// merge takes the copy into root. Nothing but what is shared is taken: another machine
// has no say in what this one runs and where it sends.
func (r *reader) merge(root map[string]any, text []byte) {
	theirs, lines, _ := parse(text)
	if theirs == nil {
		r.problem(place{r.lines.spots["companion"].line, "companion"}, "the copy of the first watch's plan is damaged: remove %s, and it is fetched again", r.copied.File)
		r.mayBeBare = true
		return
	}
	r.copied.Plan = VersionOf(text)
	after := len(r.lines.spots)
	for path, s := range lines.spots {
		if _, known := r.lines.spots[path]; !known {
			r.lines.spots[path] = spot{line: 0, order: after + s.order}
		}
	}
	for _, k := range sharedTables {
		if v, ok := theirs[k]; ok {
			root[k] = v
		}
	}
	channels, _ := root["channel"].(map[string]any)
	r.leaveOut(root, channels)
}

// leaveOut takes the ways to people out that are not set up here. Somebody who has none
// stays, and may stand in, acknowledge and be known.
func (r *reader) leaveOut(root map[string]any, channels map[string]any) {
	missing := map[string]bool{}
	left := func(t map[string]any) (any, bool) {
		ways, listed := t["channels"].([]any)
		return slices.DeleteFunc(slices.Clone(ways), func(w any) bool {
			name, _ := w.(string)
			_, here := channels[name]
			if !here {
				missing[name] = true
			}
			return !here
		}), listed && len(ways) > 0
	}
	people, _ := root["person"].(map[string]any)
	for _, k := range slices.Sorted(maps.Keys(people)) {
		if p, ok := people[k].(map[string]any); ok {
			if ways, listed := left(p); listed {
				p["channels"] = ways
			}
		}
	}
	tells, _ := root["tell"].([]any)
	root["tell"] = slices.DeleteFunc(slices.Clone(tells), func(one any) bool {
		t, ok := one.(map[string]any)
		if !ok {
			return false
		}
		ways, listed := left(t)
		if listed {
			t["channels"] = ways
		}
		return listed && len(ways.([]any)) == 0
	})
	if tells == nil {
		delete(root, "tell")
	}
	r.leftOut = slices.Sorted(maps.Keys(missing))
}

// readCompanion reads which watch this one accompanies.
func readCompanion(root *table) Companion {
	t := root.table("companion")
	defer t.done()
	first, plain := t.text("first"), t.flag("plain-http")
	token, ca, shares := t.secret("token"), t.authority("authority-file"), t.textsOrNone("shares")
	if !t.seen {
		return Companion{}
	}
	c := Companion{}
	if root.r.copied != nil {
		c = *root.r.copied
	}
	need(t, first, "give the address of the first watch's page, such as first = \"https://long-house.example.org:8470\"")
	if first.Set {
		t.checkURL(first.at, first.V, plain.V)
		if u, err := url.Parse(first.V); err == nil && (u.RawQuery != "" || u.Fragment != "") {
			t.problem(first.at, "must be the address of a page alone, without anything behind it (got %q)", first.V)
		}
	}
	if ownMachine(first.V) && first.Set {
		t.warn(first.at, "is on this machine: a companion that loses its power, its network or its card together with the first is none; put it on another board, best on another breaker and with another way out")
	}
	t.checkShares(shares)
	if !token.Seen {
		t.problem(t.at, "needs token-file or token-env: the token of an account of the first watch that has may = %q", MayAccompany)
	}
	c.First, c.Token, c.CAFile = strings.TrimSuffix(first.V, "/"), token.V, ca.V
	if len(root.r.leftOut) > 0 {
		t.warn(t.at, "the first watch tells people over %s too, which this file does not set up as [channel.NAME]: nobody is told that way in its place", listed(root.r.leftOut))
	}
	return c
}

// hangOn is what a watch and its companion may both hang on, and what comes of that.
var hangOn = map[string]tongue.Text{
	"socket":   "says that both hang on one socket: what takes its power takes both, and nobody is told; give the companion one on another breaker",
	"breaker":  "says that both hang on one breaker: when that trips both are gone, and nobody is told; give the companion a socket on another one",
	"router":   "says that both are on one router: when that fails neither reaches anybody; a modem at the companion is a way of its own",
	"internet": "says that both tell people over one internet line: when that fails neither reaches anybody; a modem at the companion is a way of its own",
}

// checkShares has whoever sets up a companion say what it shares with the first, and says
// why that matters.
func (t *table) checkShares(shares value[[]string]) {
	known := slices.Sorted(maps.Keys(hangOn))
	need(t, shares, "say what both boards hang on, of %s, or shares = [] for none of it: a companion that goes together with the first is none", alarms.Either(known))
	for i, one := range shares.V {
		if why, is := hangOn[one]; is {
			t.warn(t.item("shares", i), why)
		} else {
			t.problem(t.item("shares", i), "must be %s (got %q)%s", alarms.Either(known), one, Meant(one, known))
		}
	}
}

// apart keeps what a companion publishes apart from what the first does.
func (c *Config) apart(root *table) {
	if c.Companion.First == "" {
		return
	}
	for i := range c.Reach.Channels {
		ch := &c.Reach.Channels[i]
		if ch.Kind != ByMQTT {
			continue
		}
		t := root.table("channel").table(ch.Name)
		switch at := t.spot("prefix"); {
		case !t.has("prefix"):
			ch.MQTT.Prefix = companionTopics
		case ch.MQTT.Prefix != companionTopics && !strings.HasPrefix(ch.MQTT.Prefix, companionTopics+"/"):
			root.problem(at, "must begin with %q: a companion leaves the topics of the first watch alone (got %q)", companionTopics, ch.MQTT.Prefix)
		}
	}
}

// companionTopics is below which a companion publishes.
const companionTopics = topic.Own + "companion"
