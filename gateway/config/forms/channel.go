package forms

import (
	"crypto/rand"
	"encoding/base64"
	"fmt"
	"net/url"
	"slices"
	"strings"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
	"telltale/gateway/manual"
)

var channelPath = []string{"channel", "CHANNEL"}

const outside tongue.Text = "Messages leave your garden by this. Whoever runs what takes them can read them."

const told = "+told" // who is told over a channel, which stands at the people

// moves are the keys that say where a channel leads.
var moves = []string{"server", "security", "url"}

// channel makes the form of a channel: where it leads, its secrets, and who is told.
func (b builder) channel(f *Form, k *kind, path []string, common manual.Section) {
	own, _ := b.sectionOf(k.path, k.kind)
	f.Says, f.kind = b.Say(k.about), k.kind
	if f.Named == nil {
		f.Channel = path[len(path)-1]
	} else {
		f.Named.Hint = b.Say("It names the channel in messages and in the log.")
	}
	g := Group{}
	for _, key := range own.Keys {
		base, isFile := strings.CutSuffix(key.Name, "-file")
		switch {
		case key.Name == "url" || isFile && base != "authority" && base != "url":
			g.Fields = append(g.Fields, b.secret(path, base, key))
		case !barred(key.Name) && key.Name != "plain-http":
			g.Fields = append(g.Fields, b.field(key.Name, path, key, b.d.Value(append(slices.Clone(path), key.Name)...)))
		}
	}
	g.Fields = append(g.Fields, b.told(path))
	common.Keys = slices.DeleteFunc(slices.Clone(common.Keys), func(key manual.Key) bool { return key.Name == "kind" })
	f.Groups = append(f.Groups, g, Group{Title: b.Say("Trying it out, and how much at once"), Fields: b.fields(path, common.Keys, ""), rare: true})
}

// secret is the field of one. What stands is not shown: it stays where nothing is typed.
func (b builder) secret(path []string, name string, key manual.Key) Field {
	f := Field{Name: name, path: path, key: name, in: b.Tongue, Label: upper(b.Say("%s: %s|a key", strings.ReplaceAll(name, "-", " "), b.plainly(key.Says))), Secret: true, Needed: strings.HasPrefix(key.Else, "needed")}
	var example any
	switch name {
	case "url":
		f.Label, f.Shown = b.Say("Address: where messages are posted to, beginning with https://"), true
		f.Hint = b.Say("It may hold a token: it is kept in a file of its own and not shown again.")
	case "secret":
		f.Hint = b.Say("It is kept in a file of its own and not shown again.")
	default:
		f.Hint = b.hint(&f, key, example) + " " + b.Say("It is kept in a file of its own and not shown again.")
	}
	if b.kept(path, name) {
		f.Needed, f.Shown = false, false
		f.Hint = b.Say("There is one. Left empty: it stays.")
		if host := b.leadsTo(path); name == "url" && host != "" {
			f.Hint = b.Say("There is one, at %s. Left empty: it stays.", host)
		}
	} else if name == "secret" {
		f.Value, f.Shown = newSecret(), true
		f.Hint = b.Say("It was just made. Copy it into the program that takes the messages before you go on: it is not shown again.")
	}
	f.Hint = strings.TrimSpace(f.Hint)
	return f
}

// kept reports whether the file has a secret, or says where it is.
func (b builder) kept(path []string, name string) bool { return kept(b.d, path, name) }

func kept(d *edit.Draft, path []string, name string) bool {
	return slices.ContainsFunc([]string{"", "-file", "-env"}, func(end string) bool { return d.Value(append(slices.Clone(path), name+end)...) != nil })
}

// leadsTo is the host to which a channel posts; empty: it cannot be said.
func (b builder) leadsTo(path []string) string {
	c, _ := b.d.Config()
	if c == nil {
		return ""
	}
	for _, ch := range c.Reach.Channels {
		if ch.Name == path[len(path)-1] && ch.Kind == config.ByWebhook {
			if u, err := url.Parse(ch.Webhook.URL.Reveal()); err == nil {
				return u.Hostname()
			}
		}
	}
	return ""
}

// newSecret is one as the Standard Webhooks specification writes them.
func newSecret() string {
	raw := make([]byte, 32)
	_, _ = rand.Read(raw) // it never fails: it ends the process
	return "whsec_" + base64.StdEncoding.EncodeToString(raw)
}

// told asks who is told over a channel.
func (b builder) told(path []string) Field {
	f := Field{Name: told, key: told, path: path, is: list, in: b.Tongue, Label: b.Say("Who is told by it"), Hint: b.Say("Nobody is named yet: add a person first, or afterwards.")}
	var all, now []string
	for _, id := range b.d.Names("person") {
		name := b.name([]string{"person", id})
		all = append(all, name)
		if slices.Contains(waysOf(b.d, id), path[len(path)-1]) {
			now = append(now, name)
		}
	}
	if len(all) > 0 {
		f.Hint = b.Say("One or several, with commas between: %s.", strings.Join(all, ", "))
	}
	f.Value = strings.Join(now, ", ")
	return f
}

func waysOf(d *edit.Draft, person string) []string {
	all, _ := d.Value("person", person, "channels").([]any)
	return walk.Each(all, func(one any) string { return fmt.Sprint(one) })
}

// tell writes who is told over a channel; false: it names somebody who is not there.
func (f *Field) tell(d *edit.Draft, channel string) bool {
	b := builder{d: d}
	var wanted []string
	names, _ := f.value().([]string)
	for _, name := range names {
		i := slices.IndexFunc(d.Names("person"), func(id string) bool {
			return strings.EqualFold(id, name) || strings.EqualFold(b.name([]string{"person", id}), name)
		})
		if i < 0 {
			f.Wrong = f.in.Say("There is nobody called %s.", name)
			return false
		}
		wanted = append(wanted, d.Names("person")[i])
	}
	tellBy(d, channel, wanted)
	return true
}

// tellBy has these people told over a channel, and no others.
func tellBy(d *edit.Draft, channel string, people []string) {
	for _, id := range d.Names("person") {
		ways := waysOf(d, id)
		switch has := slices.Contains(ways, channel); {
		case slices.Contains(people, id) && !has:
			d.Set([]string{"person", id}, "channels", append(ways, channel))
		case !slices.Contains(people, id) && has:
			d.Set([]string{"person", id}, "channels", slices.DeleteFunc(ways, func(one string) bool { return one == channel }))
		}
	}
}

// guarded reports whether no secret that stands is led elsewhere: it was given for one
// server, and whoever leads the channel to another must know it. What is lacking is said
// at its field.
func (f *Form) guarded(d *edit.Draft, path []string) bool {
	if f.kind == "" {
		return true
	}
	moved, good := false, true
	each := func(do func(*Field)) {
		for g := range f.Groups {
			for i := range f.Groups[g].Fields {
				do(&f.Groups[g].Fields[i])
			}
		}
	}
	each(func(one *Field) {
		if slices.Contains(moves, one.key) {
			moved = moved || one.Secret && one.Value != "" || !one.Secret && !one.same(d.Value(append(slices.Clone(path), one.key)...))
		}
	})
	each(func(one *Field) {
		switch {
		case !one.Secret:
		case one.Value == "" && one.Needed:
			one.Wrong = one.in.Say("It is needed.")
		case one.Value != "" && one.key == "url" && !strings.HasPrefix(one.Value, "https://"):
			one.Wrong = one.in.Say("It must begin with https://, so that nobody on the way can read along.")
		case one.Value == "" && moved && f.Channel != "" && kept(d, path, one.key) && one.key != "url":
			one.Wrong = one.in.Say("Give it again. What stands was given for where the channel leads now, and goes nowhere else.")
		}
		good = good && one.Wrong == ""
	})
	if !good {
		(&Filled{Form: *f}).hide()
	}
	return good
}

// same reports whether f has what the file has.
func (f *Field) same(stands any) bool {
	return builder{Tongue: f.in}.shown(stands) == strings.TrimSpace(f.Value)
}

// hide takes secrets out of a form that is shown again.
func (o *Filled) hide() {
	for g := range o.Form.Groups {
		for i := range o.Form.Groups[g].Fields {
			if f := &o.Form.Groups[g].Fields[i]; f.Secret && !f.Shown {
				f.Value = ""
			}
		}
	}
}
