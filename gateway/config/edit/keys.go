package edit

import (
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"

	"github.com/pelletier/go-toml/v2"

	"telltale/alarms/walk"
)

// Value is what stands at a path of the file, as TOML has it: a string, int64, float64,
// bool, []any or map[string]any; nil where nothing does.
func (d *Draft) Value(path ...string) any {
	if d.sheet.tree == nil {
		_ = toml.Unmarshal(d.sheet.text, &d.sheet.tree) // of what is no TOML there is no draft
	}
	at := d.sheet.tree
	for _, key := range path {
		table, _ := at.(map[string]any)
		at = table[key]
	}
	return at
}

// Names are those of the tables and keys right below a path, in the order of the file.
func (d *Draft) Names(path ...string) []string {
	return slices.DeleteFunc(d.sheet.children(inner(path...)), func(name string) bool { return strings.HasPrefix(name, "#") })
}

// Set gives a key of a table a value: a string, float64, bool or []string. nil takes
// the key out, so that holds what holds without it. What stands in the file already is
// left as it is written.
func (d *Draft) Set(path []string, key string, value any) {
	if same(d.Value(append(slices.Clone(path), key)...), value) {
		return
	}
	if value == nil {
		d.sheet.unset(inner(inner(path...), key))
		return
	}
	d.put(inner(path...), pairs{{key, written(value)}}, "")
}

// Open makes an empty table where there is none.
func (d *Draft) Open(path ...string) {
	if !d.sheet.there(inner(path...)) {
		d.sheet.addTable(inner(path...), "", "")
	}
}

// Remove takes out a table with all that is below it.
func (d *Draft) Remove(path ...string) {
	at := inner(path...)
	for i := len(d.sheet.heads) - 1; i >= 0; i-- {
		if i < len(d.sheet.heads) {
			if p := d.sheet.heads[i].path; p == at || strings.HasPrefix(p, at+pathSep) {
				d.sheet.removeTable(p)
			}
		}
	}
	for {
		i := slices.IndexFunc(d.sheet.items, func(it item) bool { return it.path == at || strings.HasPrefix(it.path, at+pathSep) })
		if i < 0 {
			return
		}
		d.sheet.cut(d.sheet.items[i])
	}
}

// SetList gives a key whose value is a list of tables its elements, each with the values
// of Set; those of an element that are not named stay where it stays. Empty ones go.
func (d *Draft) SetList(path []string, all []map[string]any) {
	at := inner(path...)
	if _, inline := d.sheet.find(at); inline {
		d.setInline(path, all)
		return
	}
	had := d.elements(path)
	for i := min(had, len(all)) - 1; i >= 0; i-- {
		element := inner(at, "#"+strconv.Itoa(i))
		if emptied(all[i]) {
			d.sheet.removeTable(element)
		} else {
			old, _ := d.Value(path...).([]any)
			for _, key := range slices.Sorted(maps.Keys(all[i])) {
				was, _ := old[i].(map[string]any)
				if value := all[i][key]; !same(was[key], value) {
					if value == nil {
						d.sheet.unset(inner(element, key))
					} else {
						d.sheet.set(element, key, written(value))
					}
				}
			}
		}
	}
	for _, one := range all[min(had, len(all)):] {
		if !emptied(one) {
			d.sheet.addElement(at, pairsOf(one).lines(), "")
		}
	}
}

func (d *Draft) elements(path []string) int {
	all, _ := d.Value(path...).([]any)
	return len(all)
}

// setInline writes the elements of a list that stands in one value.
func (d *Draft) setInline(path []string, all []map[string]any) {
	old, _ := d.Value(path...).([]any)
	var out []string
	changed := len(all) < len(old)
	for i, one := range all {
		var was map[string]any
		if i < len(old) {
			was, _ = old[i].(map[string]any)
		}
		whole := map[string]any{}
		for key, v := range was {
			whole[key] = plain(v)
		}
		for key, v := range one {
			changed = changed || !same(was[key], v)
			whole[key] = v
		}
		if !emptied(one) {
			out = append(out, pairsOf(whole).inline())
		}
	}
	if !changed {
		return
	}
	text := "[" + strings.Join(out, ", ") + "]"
	if len(out) > 1 {
		text = "[\n  " + strings.Join(out, ",\n  ") + ",\n]"
	}
	d.sheet.set(inner(path[:len(path)-1]...), path[len(path)-1], text)
}

func emptied(one map[string]any) bool {
	for _, v := range one {
		if v != nil {
			return false
		}
	}
	return true
}

func pairsOf(one map[string]any) (p pairs) {
	for _, key := range slices.Sorted(maps.Keys(one)) {
		if one[key] != nil {
			p.raw(key, written(one[key]))
		}
	}
	return p
}

// plain is a value of the file as Set takes it.
func plain(v any) any {
	switch v := v.(type) {
	case int64:
		return float64(v)
	case []any:
		return walk.Each(v, func(one any) string { return fmt.Sprint(one) })
	}
	return v
}

func same(old, value any) bool {
	switch old := plain(old).(type) {
	case []string:
		list, ok := value.([]string)
		return ok && slices.Equal(old, list)
	case map[string]any:
		return false
	default:
		_, list := value.([]string)
		return !list && old == value
	}
}

// written is a value of Set as TOML.
func written(v any) string {
	switch v := v.(type) {
	case string:
		return Quoted(v)
	case float64:
		return number(v)
	case bool:
		return strconv.FormatBool(v)
	case []string:
		return quotedList(v)
	case map[string]any:
		return pairsOf(v).inline()
	}
	return `""`
}
