package config

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"
)

// reader collects what one reading of the file needs: where things stand,
// what is wrong, and where secrets come from.
type reader struct {
	file  string
	dir   string // of the file; relative paths count from here
	env   func(string) (string, bool)
	fresh secrets // by name; they are in no file yet
	lines *lines
	found Problems
	scale scale // how temperatures of the file are written
	// mayBeBare: a file without house and probe is good too.
	mayBeBare bool
	// degreesGiven says that the file chose the unit.
	degreesGiven bool
}

// place is where a problem is told.
type place struct {
	line int
	path string
}

func (r *reader) problem(at place, format string, args ...any) {
	r.found = append(r.found, Problem{File: r.file, Line: at.line, Path: at.path, Text: fmt.Sprintf(format, args...)})
}

// told reports whether something is wrong at a place already.
func (r *reader) told(at place) bool {
	return slices.ContainsFunc(r.found, func(p Problem) bool { return p.Line == at.line && p.Path == at.path && !p.Warning })
}

func (r *reader) warn(at place, format string, args ...any) {
	r.problem(at, format, args...)
	r.found[len(r.found)-1].Warning = true
}

// value is one value of the file with its place. Seen is true when the key is
// there, Set when it also has the right type and range.
type value[T any] struct {
	V         T
	Seen, Set bool
	at        place
}

func (v value[T]) or(d T) T {
	if v.Set {
		return v.V
	}
	return d
}

// table reads the keys of one TOML table. Keys that nobody asked for are told
// by done.
type table struct {
	r     *reader
	at    place
	inner string // internal path
	name  string // last part of the path
	keys  map[string]any
	asked []string
	seen  bool // the table is in the file
}

func (t *table) has(key string) bool { _, ok := t.keys[key]; return ok }

// spot returns the place of a key of t, the table's own when it is absent.
func (t *table) spot(key string) place {
	path := join(t.inner, key)
	s, ok := t.r.lines.spots[path]
	if !ok {
		return place{t.at.line, shown(path)}
	}
	return place{s.line, shown(path)}
}

func (t *table) ask(key string) (any, bool) {
	t.asked = append(t.asked, key)
	v, ok := t.keys[key]
	return v, ok
}

// read takes one key through convert, which returns what is wrong, if anything.
func read[T any](t *table, key string, convert func(any) (T, string)) value[T] {
	out := value[T]{at: t.spot(key)}
	raw, ok := t.ask(key)
	if !ok {
		return out
	}
	out.Seen = true
	v, wrong := convert(raw)
	if wrong != "" {
		t.r.problem(out.at, "%s", wrong)
		return out
	}
	out.V, out.Set = v, true
	return out
}

// need tells that a key is missing.
func need[T any](t *table, v value[T], why string) value[T] {
	if !v.Seen {
		t.r.problem(v.at, "is missing: %s", why)
	}
	return v
}

func (t *table) text(key string) value[string] {
	return read(t, key, func(raw any) (string, string) {
		s, ok := raw.(string)
		switch {
		case !ok:
			return "", fmt.Sprintf("must be text in quotes (got %s)", got(raw))
		case strings.TrimSpace(s) == "":
			return "", "must not be empty"
		case strings.ContainsFunc(s, func(c rune) bool { return c < ' ' || c == 0x7f }):
			return "", "must be one line of plain text"
		}
		return s, ""
	})
}

// mostDirections is how many letters directions may have.
const mostDirections = 200

// directions reads the grower's own words to whoever comes to help. They go into
// messages, so nothing may be in them that moves or turns what stands around them.
func (t *table) directions() string {
	v := t.text("directions")
	at := strings.IndexFunc(v.V, func(c rune) bool {
		return unicode.IsControl(c) || unicode.In(c, unicode.Bidi_Control, unicode.Zl, unicode.Zp)
	})
	switch n := utf8.RuneCountInString(v.V); {
	case at >= 0:
		c, _ := utf8.DecodeRuneInString(v.V[at:])
		t.r.problem(v.at, "must be one line of plain text, without signs that control how text runs (got %U)", c)
	case n > mostDirections:
		t.r.problem(v.at, "must be at most %d letters long (got %d): say what helps at the door, and put the rest on paper there", mostDirections, n)
	default:
		return v.V
	}
	return ""
}

func (t *table) texts(key string) value[[]string] {
	v := t.textsOrNone(key)
	if v.Set && len(v.V) == 0 {
		t.r.problem(v.at, "must name at least one")
		v.Set = false
	}
	return v
}

// textsOrNone is texts where an empty list says something too.
func (t *table) textsOrNone(key string) value[[]string] {
	return read(t, key, func(raw any) ([]string, string) {
		list, ok := raw.([]any)
		if !ok {
			return nil, fmt.Sprintf("must be a list such as [\"one\", \"two\"] (got %s)", got(raw))
		}
		out := make([]string, 0, len(list))
		for _, one := range list {
			s, ok := one.(string)
			if !ok || strings.TrimSpace(s) == "" {
				return nil, fmt.Sprintf("must be a list of texts in quotes (got %s in it)", got(one))
			}
			out = append(out, s)
		}
		return out, ""
	})
}

// oneOf reads a text that must be one of words.
func (t *table) oneOf(key string, words ...string) value[string] {
	return read(t, key, func(raw any) (string, string) {
		s, ok := raw.(string)
		if ok && slices.Contains(words, s) {
			return s, ""
		}
		return "", fmt.Sprintf("must be %s (got %s)%s", either(words), got(raw), meant(s, words))
	})
}

func (t *table) flag(key string) value[bool] {
	return read(t, key, func(raw any) (bool, string) {
		b, ok := raw.(bool)
		if !ok {
			return false, fmt.Sprintf("must be true or false, without quotes (got %s)", got(raw))
		}
		return b, ""
	})
}

// number reads a number from lo to hi; unit is said with the bounds.
func (t *table) number(key string, lo, hi float64, unit string) value[float64] {
	return read(t, key, func(raw any) (float64, string) {
		var v float64
		switch n := raw.(type) {
		case int64:
			v = float64(n)
		case float64:
			v = n
		default:
			return 0, fmt.Sprintf("must be a number, without quotes (got %s)", got(raw))
		}
		if math.IsNaN(v) || v < lo || v > hi {
			return 0, fmt.Sprintf("must be from %s to %s%s (got %s)", figure(lo), figure(hi), spaced(unit), figure(v))
		}
		return v, ""
	})
}

// count reads a whole number from lo to hi.
func (t *table) count(key string, lo, hi int) value[int] {
	return read(t, key, func(raw any) (int, string) {
		n, ok := raw.(int64)
		if !ok {
			return 0, fmt.Sprintf("must be a whole number, without quotes (got %s)", got(raw))
		}
		if n < int64(lo) || n > int64(hi) {
			return 0, fmt.Sprintf("must be from %d to %d (got %d)", lo, hi, n)
		}
		return int(n), ""
	})
}

// span reads a length of time from lo to hi.
func (t *table) span(key string, lo, hi time.Duration) value[time.Duration] {
	return read(t, key, func(raw any) (time.Duration, string) { return bounded(raw, lo, hi, "") })
}

// spanOr is span with one word that means "not at all", stored as -1.
func (t *table) spanOr(key, never string, lo, hi time.Duration) value[time.Duration] {
	return read(t, key, func(raw any) (time.Duration, string) {
		if raw == any(never) {
			return -1, ""
		}
		return bounded(raw, lo, hi, never)
	})
}

// table opens the table under key. An absent one is empty and not seen.
func (t *table) table(key string) *table {
	sub := &table{r: t.r, at: t.spot(key), inner: join(t.inner, key), name: key}
	raw, ok := t.ask(key)
	if !ok {
		return sub
	}
	keys, ok := raw.(map[string]any)
	if !ok {
		t.r.problem(sub.at, "must be a table of its own, [%s] (got %s)", sub.at.path, got(raw))
		return sub
	}
	sub.keys, sub.seen = keys, true
	return sub
}

// children opens the tables under key in the order of the file.
func (t *table) children(key string) []*table {
	parent := t.table(key)
	var out []*table
	for _, k := range parent.sortedKeys() {
		if c := parent.table(k); c.seen {
			out = append(out, c)
		}
	}
	return out
}

// elements opens the [[tables]] under key.
func (t *table) elements(key string) []*table {
	raw, ok := t.ask(key)
	if !ok {
		return nil
	}
	list, isList := raw.([]any)
	var out []*table
	for i, one := range list {
		inner := join(join(t.inner, key), fmt.Sprintf("#%d", i))
		keys, ok := one.(map[string]any)
		isList = isList && ok
		at := place{t.r.lines.spots[inner].line, shown(inner)}
		out = append(out, &table{r: t.r, at: at, inner: inner, name: key, keys: keys, seen: true})
	}
	if !isList {
		t.r.problem(t.spot(key), "must be written as [[%s]], once for each (got %s)", shown(join(t.inner, key)), got(raw))
		return nil
	}
	return out
}

func (t *table) sortedKeys() []string {
	out := make([]string, 0, len(t.keys))
	for k := range t.keys {
		out = append(out, k)
	}
	order := func(k string) int { return t.r.lines.spots[join(t.inner, k)].order }
	slices.SortFunc(out, func(a, b string) int { return order(a) - order(b) })
	return out
}

// done tells every key that nobody asked for.
func (t *table) done() {
	for _, k := range t.sortedKeys() {
		if slices.Contains(t.asked, k) {
			continue
		}
		hint := meant(k, t.asked)
		if hint == "" {
			known := slices.Clone(t.asked)
			slices.Sort(known)
			hint = "; known here: " + strings.Join(slices.Compact(known), ", ")
		}
		t.r.problem(t.spot(k), "is not a known key%s", hint)
	}
}
