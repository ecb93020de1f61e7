package forms

import (
	"fmt"
	"slices"
	"strconv"
	"strings"

	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/config"
	"telltale/gateway/config/edit"
)

// Filled is what comes of a form.
type Filled struct {
	Form     Form   // with what is wrong at its fields
	At       string // the address of what it is then
	Mark     string
	Lines    []Line
	Problems []string // that belong to no field
	Warnings []string
}

// Fill writes what was given for the fields of a form into a draft, and says what
// comes of it. The values are those of a form as browsers send it.
func Fill(d *edit.Draft, f Form, given map[string][]string) Filled {
	path := strings.Split(f.At, "/")
	get := func(name string) string {
		if all := given[name]; len(all) > 0 {
			return strings.TrimSpace(all[0])
		}
		return ""
	}
	for g := range f.Groups {
		for i := range f.Groups[g].Fields {
			one := &f.Groups[g].Fields[i]
			one.Value = get(one.Name)
			if all := given[one.Name]; one.Secret && len(all) > 0 {
				one.Value = strings.Trim(all[0], "\r\n") // spaces may belong to it
			}
		}
	}
	out := Filled{Form: f, Mark: d.Mark()}
	switch {
	case f.Removes && get(remove) != "":
		if f.Channel != "" {
			tellBy(d, f.Channel, nil)
		}
		d.Remove(path...)
	case !f.guarded(d, path):
		return out
	case f.Named != nil:
		f.Named.Value = get(called)
		names := map[string]string{}
		if !f.Named.names(names) {
			return out
		}
		id := names[path[len(path)-1]]
		if path[len(path)-1] = id; d.Value(path...) != nil {
			f.Named.Wrong = f.Named.in.Say("There is one called %s already.", id)
			return out
		}
		if taken(d, path, f.Named.Value) {
			f.Named.Wrong = f.Named.in.Say("Something else is called %s already: choose another name.", id)
			return out
		}
		d.Open(path...)
		f.Named.call(d, path)
		if f.kind != "" {
			d.Set(path, "kind", f.kind)
			out.Form.Channel = id
		}
		if !put(d, f.Groups, names) {
			return out
		}
	default:
		if !put(d, f.Groups, map[string]string{}) {
			return out
		}
	}
	out.judge(d, f.in, path)
	out.hide()
	return out
}

// taken reports whether alarms of something else are named as those of a new house or
// place would be.
func taken(d *edit.Draft, path []string, name string) bool {
	id := path[len(path)-1]
	switch {
	case len(path) == 2 && path[0] == "house":
		return d.NewHouseID(name) != id
	case len(path) == 4 && path[2] == "place":
		return d.NewPlaceID(path[1], name) != id
	}
	return false
}

// call writes what something new is called, where its name in the file does not say it.
func (f *Field) call(d *edit.Draft, path []string) {
	if f.says && f.Value != path[len(path)-1] {
		d.Set(path, "name", f.Value)
	}
}

// names takes what something new is called, or says that it is not.
func (f *Field) names(all map[string]string) bool {
	id := edit.NewID(f.Value, "", nil)
	switch {
	case f.Value == "" || strings.HasPrefix(id, "-"):
		f.Wrong = f.in.Say("Say what it is called.")
		return false
	case slices.Contains(f.Offers, f.Value):
		id = f.Value
	case f.Offers != nil:
		f.Wrong = f.in.Say("There is no %q; want one of %s.", f.Value, strings.Join(f.Offers, ", "))
		return false
	}
	all[f.path[len(f.path)-1]] = id
	return true
}

// put writes the fields of groups, what is new under its name; false: it has none.
func put(d *edit.Draft, groups []Group, names map[string]string) bool {
	for g := range groups {
		for i := range groups[g].Fields {
			if f := &groups[g].Fields[i]; f.key == "" && (f.to == nil || f.Value != "") && !f.names(names) {
				return false
			}
		}
	}
	named := func(path []string) (all []string, ok bool) {
		for _, part := range path {
			if strings.HasPrefix(part, fresh) {
				if part, ok = names[part]; !ok {
					return nil, false
				}
			}
			all = append(all, part)
		}
		return all, true
	}
	elements, drives := []map[string]any{}, map[string]string{} // by stage
	var list []string
	for g := range groups {
		element := map[string]any{}
		for i := range groups[g].Fields {
			f := &groups[g].Fields[i]
			path, ok := named(f.path)
			if ok {
				f.path = path // where what is wrong with it is said to be
			}
			switch {
			case !ok: // a drive that is not wanted
				continue
			case f.to != nil:
				stage, _ := named(f.to)
				drives[strings.Join(stage, "/")] = path[len(path)-1]
				continue
			case f.key == switched:
				if control, stage, is := strings.Cut(f.Value, "/"); is {
					drives[strings.Join([]string{"house", path[1], "control", control, "stage", stage}, "/")] = path[len(path)-1]
				}
				continue
			case f.key == told:
				if !f.tell(d, path[len(path)-1]) {
					return false
				}
				continue
			case f.key == "":
				if f.says {
					d.Open(path...)
					f.call(d, path)
				}
				continue
			case f.Secret:
				if f.Value != "" {
					d.SetSecret(path, f.key, f.Value)
				}
				continue
			}
			if number, _, is := strings.Cut(f.Name, "."); is && number[0] >= '0' && number[0] <= '9' {
				list, element[f.key] = path, f.value()
				continue
			}
			d.Set(path, f.key, f.value())
		}
		elements = append(elements, element)
	}
	if list != nil {
		d.SetList(list, elements)
	}
	for stage, drive := range drives { // one at most
		path := strings.Split(stage, "/")
		old, _ := d.Value(append(slices.Clone(path), "drives")...).([]any)
		all := walk.Each(old, func(one any) string { return fmt.Sprint(one) })
		if !slices.Contains(all, drive) {
			d.Set(path, "drives", append(all, drive))
		}
	}
	return true
}

// Lines are what a draft changes in its file.
func Lines(d *edit.Draft) []Line {
	return walk.Each(d.Changes(), func(l edit.ChangedLine) Line { return Line{string(l.Move), l.Text} })
}

// judge asks the config what it makes of the draft, and puts what is wrong to its field.
func (o *Filled) judge(d *edit.Draft, in tongue.Tongue, path []string) {
	o.Lines, o.At = Lines(d), address(path)
	o.Form.draw(d, path)
	_, problems := d.Config()
	for _, p := range problems.Errors() {
		if !o.at(p, in, path) {
			o.Problems = append(o.Problems, sentence(p, in))
		}
	}
	for _, p := range problems.Warnings() {
		o.Warnings = append(o.Warnings, sentence(p, in))
	}
}

// at puts a problem to the field that it is of.
func (o *Filled) at(p config.Problem, in tongue.Tongue, path []string) bool {
	for g := range o.Form.Groups {
		for i := range o.Form.Groups[g].Fields {
			f := &o.Form.Groups[g].Fields[i]
			if is := f.where(path); f.Wrong == "" && (p.Path == is || p.Path == strings.Join(append(slices.Clone(f.path), f.key), ".") || f.Secret && (p.Path == is+"-file" || p.Path == strings.Join(path, ".")) || strings.HasPrefix(p.Path, is+"[") || strings.HasSuffix(is, "]."+f.key) && p.Path == strings.TrimSuffix(is, "."+f.key)) {
				f.Wrong = upper(p.Says.In(in))
				return true
			}
		}
	}
	return false
}

// where is what the config calls a field of the form of path.
func (f *Field) where(path []string) string {
	at := strings.Join(path, ".")
	if number, key, is := strings.Cut(f.Name, "."); is {
		if n, err := strconv.Atoi(number); err == nil {
			return fmt.Sprintf("%s[%d].%s", at, n+1, key)
		}
	}
	return at + "." + f.Name
}

// sentence is a problem without where it stands in the file, which is shown beside it.
func sentence(p config.Problem, in tongue.Tongue) string {
	if p.Path == "" {
		return upper(p.Says.In(in))
	}
	return p.Path + ": " + p.Says.In(in)
}

// Wrong reports whether it cannot be written like this.
func (o Filled) Wrong() bool {
	if len(o.Problems) > 0 || o.Form.Named != nil && o.Form.Named.Wrong != "" {
		return true
	}
	return slices.ContainsFunc(o.Form.Groups, func(g Group) bool {
		return slices.ContainsFunc(g.Fields, func(f Field) bool { return f.Wrong != "" })
	})
}
