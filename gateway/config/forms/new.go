package forms

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"telltale/gateway/manual"
)

// first are the groups of a new house or place: what is asked first, what a house looks
// like, and the rest, which most leave as it is.
func (b builder) first(k *kind, path []string, s manual.Section) []Group {
	keys := func(first bool) []manual.Key {
		return slices.DeleteFunc(slices.Clone(s.Keys), func(key manual.Key) bool {
			return key.Name == "name" || slices.Contains(k.asked, key.Name) != first
		})
	}
	groups := []Group{{Fields: b.fields(path, keys(true), "")}}
	if len(path) == 2 {
		form, _ := b.section(append(slices.Clone(k.path), "form"))
		form.Keys = slices.DeleteFunc(slices.Clone(form.Keys), func(key manual.Key) bool { return key.Name == "length" }) // the drawing does not need it
		looks := Group{Title: b.Say("What it looks like, for the drawing"), Fields: b.fields(append(slices.Clone(path), "form"), form.Keys, "form.")}
		for i := range looks.Fields {
			looks.Fields[i].Needed = false // it may be left out whole
		}
		groups = append(groups, looks)
	}
	return append(groups, Group{Title: b.Say("What most leave as it is"), Fields: b.fields(path, keys(false), ""), rare: true})
}

// asked are the keys that a drive is asked for where its stage is.
var asked = []string{"kind", "barred", "circuit", "directions"}

// driven adds to the form of a stage the drive that it switches, if that is not there
// yet, and to that of a new drive the stages that may switch it: a drive that nothing
// switches and a stage without a drive are both refused.
func (b builder) driven(f *Form, k *kind, path []string) {
	switch last := k.path[len(k.path)-1]; {
	case last == "CONTROL" && path[3] == fresh:
		b.newDrive(f, slices.Concat(path, []string{"stage", fresh + "stage0"}))
	case last == "STAGE":
		b.newDrive(f, path)
	case last == "DRIVE" && path[3] == fresh:
		stages := []Choice{{"", b.Say("none: a season, its own timer or another drive")}}
		for _, control := range b.d.Names("house", path[1], "control") {
			for _, stage := range b.d.Names("house", path[1], "control", control, "stage") {
				stages = append(stages, Choice{control + "/" + stage, b.Say("stage %s of thermostat %s", stage, control)})
			}
		}
		f.Groups = append(f.Groups, Group{Title: b.Say("What switches it"), Fields: []Field{{Name: switched, Label: b.Say("Stage"), Choices: stages, path: path, key: switched}}})
	}
}

const switched = "+switched"

func (b builder) newDrive(f *Form, stage []string) {
	s, _ := b.section([]string{"house", "NAME", "drive", "DRIVE"})
	path := []string{"house", stage[1], "drive", fresh + "drive"}
	keys := slices.DeleteFunc(slices.Clone(s.Keys), func(k manual.Key) bool { return !slices.Contains(asked, k.Name) })
	g := Group{Title: b.Say("A drive that it switches and that is not here yet"), Fields: append([]Field{{Name: fresh + "drive", Label: b.Say("What it is called"),
		Hint: b.Say("Empty: none. Its other keys have a form of their own afterwards."), path: path, to: stage, in: b.Tongue}}, b.fields(path, keys, fresh+"drive.")...)}
	for i := range g.Fields {
		g.Fields[i].Needed = false
	}
	f.Groups = append(f.Groups, g)
}

// children are the groups of what a table cannot be without, as far as it is not there.
func (b builder) children(f *Form, k *kind, path []string) {
	for i := range kinds {
		c := &kinds[i]
		if c.needs == 0 || c.parent() != k {
			continue
		}
		s, _ := b.section(c.path)
		steps := c.path[len(path) : len(c.path)-1]
		for n := len(b.d.Names(append(slices.Clone(path), steps...)...)); n < c.needs; n++ {
			one := slices.Concat(path, steps, []string{fmt.Sprintf("%s%s%d", fresh, steps[0], n)})
			name := strings.Join(one[len(path):], ".")
			g := Group{Title: strings.TrimSpace(b.titled(c, strconv.Itoa(n+1)))}
			asked := b.named(c, one)
			asked.Name, asked.path = name, one
			keys := s.Keys
			if c.calls {
				keys = slices.DeleteFunc(slices.Clone(keys), func(key manual.Key) bool { return !slices.Contains(c.asked, key.Name) })
			}
			g.Fields = append([]Field{*asked}, b.fields(one, keys, name+".")...)
			f.Groups = append(f.Groups, g)
		}
	}
}

// named asks what a new table is called.
func (b builder) named(k *kind, path []string) *Field {
	f := &Field{Name: called, path: path, Label: b.Say("What it is called"), Needed: true, in: b.Tongue, says: k.calls,
		Hint: b.Say("It names alarms, so choose it once. Letters and digits; of other signs hyphens are made.")}
	switch k.path[len(k.path)-1] {
	case "NAME", "PLACE":
		f.Hint = b.Say("Messages call it so, and it names alarms: choose it once.")
	case "OUTLET":
		f.Label, f.Hint, f.Offers = b.Say("The place at its outlet"), "", b.d.Names("house", path[1], "place")
	case "QUANTITY":
		f.Label, f.Hint, f.Offers = b.Say("Of which quantity"), "", quantities()
	}
	return f
}
