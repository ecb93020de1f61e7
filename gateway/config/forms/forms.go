package forms

import (
	"fmt"
	"slices"
	"strings"

	"telltale/alarms/tongue"
	"telltale/gateway/config/edit"
	"telltale/gateway/manual"
	"telltale/gateway/page/service"
)

// Thing is a table that has a form, or one that can be made.
type Thing struct {
	At    string // its address among the forms
	Title string
	Deep  int  // how far below others it stands
	New   bool // it would be made
	Empty bool // nothing of it is in the file yet
}

// Form is a table as people fill it in.
type Form struct {
	At, Title, Says, Caution string
	Groups                   []Group
	Named                    *Field        // what a new one is called; nil: it is there
	Bare                     bool          // what is new has no probe yet
	Removes                  bool          // it can be taken out as a whole
	Channel                  string        // that it is of, and that can be tried; empty: none
	Draws                    bool          // it changes how its house is drawn
	Drawn                    *service.Form // how it is drawn with this; nil: it cannot be

	in   tongue.Tongue
	kind string // of what is new
}

// Group are fields that belong together.
type Group struct {
	Title  string
	Fields []Field
	rare   bool // most leave it out whole
}

// Folded reports whether it is shown as its title alone: nothing of it is given.
func (g Group) Folded() bool {
	return g.rare && !slices.ContainsFunc(g.Fields, func(f Field) bool { return f.Value != "" || f.Wrong != "" })
}

const (
	fresh  = "+" // the last part of the address of what would be made
	remove = "remove"
	called = "called"
	spare  = 1 // empty elements that a list is offered with
)

// Line of the file that comes (+), goes (-), stays ( ), or of many that stay (~).
type Line struct{ Move, Text string }

// builder makes forms of a draft, in a language.
type builder struct {
	tongue.Tongue
	d        *edit.Draft
	sections []manual.Section
}

func of(d *edit.Draft, in tongue.Tongue) builder { return builder{in, d, manual.Sections()} }

// said is a sentence of the manual.
func (b builder) said(sentence string) string { return manual.In(b.Tongue).Says(sentence) }

// Things lists what can be changed, in the order of the kinds, each below what it
// belongs to.
func Things(d *edit.Draft, in tongue.Tongue) []Thing {
	return of(d, in).below(nil, 0)
}

// below lists what stands right below a path, and below that.
func (b builder) below(path []string, deep int) (all []Thing) {
	for i := range kinds {
		k := &kinds[i]
		parent := k.parent()
		if parent == nil && len(path) > 0 || parent != nil && !b.fits(parent, path) {
			continue
		}
		steps := k.path[len(path):]
		at := append(slices.Clone(path), steps[:len(steps)-1]...)
		last := steps[len(steps)-1]
		if !own(last) {
			one := append(at, last)
			all = append(all, Thing{At: address(one), Title: b.Say(k.title), Deep: deep, Empty: b.d.Value(one...) == nil})
			all = append(all, b.below(one, deep+1)...)
			continue
		}
		for _, name := range b.d.Names(at...) {
			one := append(slices.Clone(at), name)
			if _, isTable := b.d.Value(one...).(map[string]any); !isTable || !b.fits(k, one) {
				continue
			}
			all = append(all, Thing{At: address(one), Title: b.titled(k, b.name(one)), Deep: deep})
			all = append(all, b.below(one, deep+1)...)
		}
		if k.more != "" {
			all = append(all, Thing{At: address(append(at, fresh+k.kind)), Title: b.Say(k.more), Deep: deep, New: true})
		}
	}
	return all
}

// parent is the kind right above k; nil: none.
func (k *kind) parent() (p *kind) {
	for i := range kinds {
		o := &kinds[i]
		if n := len(o.path); n < len(k.path) && slices.Equal(o.path, k.path[:n]) && (p == nil || n > len(p.path)) {
			p = o
		}
	}
	return p
}

func (b builder) titled(k *kind, name string) string {
	return strings.ReplaceAll(b.Say(k.title), "%s", name)
}

// name is how people call a table.
func (b builder) name(path []string) string {
	if name, _ := b.d.Value(append(slices.Clone(path), "name")...).(string); name != "" {
		return name
	}
	return path[len(path)-1]
}

func address(path []string) string { return strings.Join(path, "/") }

// Of is the form of an address; false: there is none.
func Of(d *edit.Draft, in tongue.Tongue, at string) (Form, bool) {
	b, path := of(d, in), strings.Split(at, "/")
	for i := range kinds {
		if k := &kinds[i]; b.fits(k, path) {
			return b.form(k, at, path)
		}
	}
	return Form{}, false
}

func (b builder) form(k *kind, at string, path []string) (Form, bool) {
	s, ok := b.section(k.path)
	last := path[len(path)-1]
	isNew := last == fresh+k.kind && own(k.path[len(k.path)-1])
	_, isTable := b.d.Value(path...).(map[string]any)
	above := len(path) > 1 && k.parent() != nil && !s.Many
	if !ok || isNew && k.more == "" || !isNew && own(k.path[len(k.path)-1]) && !isTable || above && !b.there(k, path) {
		return Form{}, false
	}
	f := Form{in: b.Tongue, At: at, Title: b.titled(k, b.name(path)), Says: b.said(s.Says), Removes: !isNew && isTable && len(path) > 1}
	if k.says != "" {
		f.Caution = b.Say(k.says)
	}
	if isNew {
		f.Title, f.Named, f.Bare = b.Say(k.more), b.named(k, path), k.calls
	}
	f.Draws = k.draws
	f.draw(b.d, path)
	if s.Many {
		b.elements(&f, path, s)
		return f, true
	}
	if k.kind != "" {
		b.channel(&f, k, path, s)
		return f, true
	}
	if isNew && k.calls {
		f.Groups = append(f.Groups, b.first(k, path, s)...)
	} else {
		f.Groups = append(f.Groups, Group{Fields: b.fields(path, s.Keys, "")})
	}
	for _, in := range b.inside(k) {
		names := []string{in.Path[len(in.Path)-1]}
		if own(names[0]) { // WHEN
			names = []string{"day", "night", "open", "changing", "winter"}
		}
		for _, name := range names {
			one := append(slices.Clone(path), name)
			g := Group{Title: b.groupTitle(name, in), Fields: b.fields(one, in.Keys, name+"."), rare: true}
			for i := range g.Fields {
				g.Fields[i].Needed = false // the whole of it may be left out
			}
			f.Groups = append(f.Groups, g)
		}
	}
	b.children(&f, k, path)
	b.driven(&f, k, path)
	return f, true
}

// draw says how the house of a form is drawn, where that shows what the form says.
func (f *Form) draw(d *edit.Draft, path []string) {
	f.Drawn = nil
	c, _ := d.Config()
	if !f.Draws || c == nil {
		return
	}
	if i := slices.IndexFunc(c.Forms, func(one service.Form) bool { return string(one.House) == path[1] }); i >= 0 {
		f.Drawn = &c.Forms[i]
	}
}

// there reports whether what a path stands below is in the file.
func (b builder) there(k *kind, path []string) bool {
	p := k.parent()
	return b.d.Value(path[:len(p.path)]...) != nil || !own(p.path[len(p.path)-1])
}

func (b builder) groupTitle(name string, s manual.Section) string {
	switch name {
	case "day":
		return b.Say("By day alone")
	case "night":
		return b.Say("By night alone")
	case "open", "changing", "winter":
		return b.Say("In the season %s alone", name)
	}
	first, _, _ := strings.Cut(b.said(s.Says), ". ")
	first, _, _ = strings.Cut(first, ": ")
	return strings.TrimSuffix(strings.ReplaceAll(first, `"`, ""), ".")
}

// fields are those of the keys of a table.
func (b builder) fields(path []string, keys []manual.Key, prefix string) (all []Field) {
	for _, k := range keys {
		value := b.d.Value(append(slices.Clone(path), k.Name)...)
		if barred(k.Name) || tables(value) {
			continue
		}
		all = append(all, b.field(prefix+k.Name, path, k, value))
	}
	return all
}

// elements are the groups of a list of tables, with an empty one at its end.
func (b builder) elements(f *Form, path []string, s manual.Section) {
	old, _ := b.d.Value(path...).([]any)
	for i := range len(old) + spare {
		g := Group{Title: b.Say("No. %d", i+1)}
		if i >= len(old) {
			g.Title = b.Say("One more")
		}
		for _, k := range s.Keys {
			var value any
			if i < len(old) {
				element, _ := old[i].(map[string]any)
				value = element[k.Name]
			}
			if !barred(k.Name) && !tables(value) {
				g.Fields = append(g.Fields, b.field(fmt.Sprintf("%d.%s", i, k.Name), path, k, value))
			}
		}
		f.Groups = append(f.Groups, g)
	}
}
