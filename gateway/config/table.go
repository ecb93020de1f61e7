package config

import (
	"errors"
	"fmt"
	"maps"
	"math"
	"slices"
	"strings"
	"time"
	"unicode"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// reader collects what one reading of the file needs: where things stand,
// what is wrong, and where secrets come from.
type reader struct {
	file  string
	dir   string // of the file; relative paths count from here
	env   func(string) (string, bool)
	fresh map[string]string // by name; they are in no file yet
	// moved are the parts of the plan that the file names otherwise, by their path.
	moved map[string]moved
	lines *lines
	found Problems
	scale scale // how temperatures of the file are written
	// mayBeBare: a file without house and probe is good too.
	mayBeBare bool
	// degreesGiven says that the file chose the unit.
	degreesGiven bool
	copied       *Companion // what a companion has of the first watch; nil: it is none
	leftOut      []string   // ways to people that the first watch has and this file has not
	named        []Named    // files that were read
	fromEnv      []string   // environment variables that were
}

// place is where a problem is told.
type place struct {
	line int
	path string
}

func (r *reader) problem(at place, text tongue.Text, args ...any) {
	r.wrong(at, tongue.Put(text, args...))
}

// wrong reports an error, in the language of whoever reads it where it is a Saying.
func (r *reader) wrong(at place, err error) {
	says, ok := errors.AsType[tongue.Saying](err)
	if !ok {
		says = tongue.Bare(err.Error())
	}
	r.found = append(r.found, Problem{File: r.file, Line: at.line, Path: at.path, Says: says})
}

// told reports whether something is wrong at a place already.
func (r *reader) told(at place) bool {
	return slices.ContainsFunc(r.found, func(p Problem) bool { return p.Line == at.line && p.Path == at.path && !p.Warning })
}

func (r *reader) warn(at place, text tongue.Text, args ...any) {
	r.problem(at, text, args...)
	r.found[len(r.found)-1].Warning = true
}

func (t *table) problem(at place, text tongue.Text, args ...any) { t.r.problem(at, text, args...) }

func (t *table) wrong(at place, err error) { t.r.wrong(at, err) }

func (t *table) warn(at place, text tongue.Text, args ...any) { t.r.warn(at, text, args...) }

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
	path := inner(t.inner, key)
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
func read[T any](t *table, key string, convert func(any) (T, error)) value[T] {
	out := value[T]{at: t.spot(key)}
	raw, ok := t.ask(key)
	if !ok {
		return out
	}
	out.Seen = true
	v, wrong := convert(raw)
	if wrong != nil {
		t.wrong(out.at, wrong)
		return out
	}
	out.V, out.Set = v, true
	return out
}

// need reports that a key is missing.
func need[T any](t *table, v value[T], why tongue.Text, args ...any) value[T] {
	if !v.Seen {
		t.problem(v.at, "is missing: %s", tongue.Put(why, args...))
	}
	return v
}

func (t *table) text(key string) value[string] {
	return read(t, key, func(raw any) (string, error) {
		s, ok := raw.(string)
		switch {
		case !ok:
			return "", tongue.Put("must be text in quotes (got %s)", got(raw))
		case strings.TrimSpace(s) == "":
			return "", tongue.Put("must not be empty")
		case strings.ContainsFunc(s, func(c rune) bool { return c < ' ' || c == 0x7f }):
			return "", tongue.Put("must be one line of plain text")
		}
		return s, nil
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
		t.problem(v.at, "must be one line of plain text, without signs that control how text runs (got %U)", c)
	case n > mostDirections:
		t.problem(v.at, "must be at most %d letters long (got %d): say what helps at the door, and put the rest on paper there", mostDirections, n)
	default:
		return v.V
	}
	return ""
}

func (t *table) texts(key string) value[[]string] {
	v := t.textsOrNone(key)
	if v.Set && len(v.V) == 0 {
		t.problem(v.at, "must name at least one")
		v.Set = false
	}
	return v
}

// textsOrNone is texts where an empty list says something too.
func (t *table) textsOrNone(key string) value[[]string] {
	return read(t, key, func(raw any) ([]string, error) {
		list, ok := raw.([]any)
		if !ok {
			return nil, tongue.Put("must be a list such as [\"one\", \"two\"] (got %s)", got(raw))
		}
		out := make([]string, 0, len(list))
		for _, one := range list {
			s, ok := one.(string)
			if !ok || strings.TrimSpace(s) == "" {
				return nil, tongue.Put("must be a list of texts in quotes (got %s in it)", got(one))
			}
			out = append(out, s)
		}
		return out, nil
	})
}

// oneOf reads a text that must be one of words.
func (t *table) oneOf(key string, words ...string) value[string] { return wordOf(t, key, words) }

// language asks for a language by its code; other holds where none is given.
func (t *table) language(key string, other tongue.Tongue) tongue.Tongue {
	code := t.oneOf(key, walk.Each(tongue.Tongues(), tongue.Tongue.Code)...)
	for _, one := range tongue.Tongues() {
		if code.Set && one.Code() == code.V {
			return one
		}
	}
	return other
}

// wordOf is oneOf for words that have a type of their own.
func wordOf[W ~string](t *table, key string, words []W) value[W] {
	return read(t, key, func(raw any) (W, error) {
		s, ok := raw.(string)
		if ok && slices.Contains(words, W(s)) {
			return W(s), nil
		}
		return "", tongue.Put("must be %s (got %s)%s", alarms.Either(words), got(raw), Meant(s, words))
	})
}

// named gives words a type of their own.
func named[W ~string](words []string) []W {
	return walk.Each(words, func(s string) W { return W(s) })
}

func (t *table) flag(key string) value[bool] {
	return read(t, key, func(raw any) (bool, error) {
		b, ok := raw.(bool)
		if !ok {
			return false, tongue.Put("must be true or false, without quotes (got %s)", got(raw))
		}
		return b, nil
	})
}

// number reads a number from lo to hi; unit, text or what is said in each language, is
// said with the bounds.
func (t *table) number(key string, lo, hi float64, unit any) value[float64] {
	return read(t, key, func(raw any) (float64, error) {
		var v float64
		switch n := raw.(type) {
		case int64:
			v = float64(n)
		case float64:
			v = n
		default:
			return 0, tongue.Put("must be a number, without quotes (got %s)", got(raw))
		}
		if math.IsNaN(v) || v < lo || v > hi {
			return 0, tongue.Put("must be from %s to %s%s (got %s)", figure(lo), figure(hi), after(unit), figure(v))
		}
		return v, nil
	})
}

// amount reads a value of q in the file's unit; lo and hi are in the core's.
func (t *table) amount(key string, q alarms.Quantity, lo, hi float64) value[float64] {
	s := t.r.scale
	v := t.number(key, s.from(q, lo), s.from(q, hi), s.unit(q))
	if v.Set {
		v.V = s.into(q, v.V)
	}
	return v
}

// count reads a whole number from lo to hi.
func (t *table) count(key string, lo, hi int) value[int] {
	return read(t, key, func(raw any) (int, error) {
		n, ok := raw.(int64)
		if !ok {
			return 0, tongue.Put("must be a whole number, without quotes (got %s)", got(raw))
		}
		if n < int64(lo) || n > int64(hi) {
			return 0, tongue.Put("must be from %d to %d (got %d)", lo, hi, n)
		}
		return int(n), nil
	})
}

// span reads a length of time from lo to hi.
func (t *table) span(key string, lo, hi time.Duration) value[time.Duration] {
	return read(t, key, func(raw any) (time.Duration, error) { return bounded(raw, lo, hi, "") })
}

// spanOr is span with one word that means "not at all", stored as -1.
func (t *table) spanOr(key, never string, lo, hi time.Duration) value[time.Duration] {
	return read(t, key, func(raw any) (time.Duration, error) {
		if raw == any(never) {
			return -1, nil
		}
		return bounded(raw, lo, hi, never)
	})
}

// table opens the table under key. An absent one is empty and not seen.
func (t *table) table(key string) *table {
	sub := &table{r: t.r, at: t.spot(key), inner: inner(t.inner, key), name: key}
	raw, ok := t.ask(key)
	if !ok {
		return sub
	}
	keys, ok := raw.(map[string]any)
	if !ok {
		t.problem(sub.at, "must be a table of its own, [%s] (got %s)", sub.at.path, got(raw))
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
		inner := inner(inner(t.inner, key), fmt.Sprintf("#%d", i))
		keys, ok := one.(map[string]any)
		isList = isList && ok
		at := place{t.r.lines.spots[inner].line, shown(inner)}
		out = append(out, &table{r: t.r, at: at, inner: inner, name: key, keys: keys, seen: true})
	}
	if !isList {
		t.problem(t.spot(key), "must be written as [[%s]], once for each (got %s)", shown(inner(t.inner, key)), got(raw))
		return nil
	}
	return out
}

func (t *table) sortedKeys() []string {
	order := func(k string) int { return t.r.lines.spots[inner(t.inner, k)].order }
	return slices.SortedFunc(maps.Keys(t.keys), func(a, b string) int { return order(a) - order(b) })
}

// done tells every key that nobody asked for.
func (t *table) done() {
	for _, k := range t.sortedKeys() {
		if slices.Contains(t.asked, k) {
			continue
		}
		hint := Meant(k, t.asked)
		if hint.Empty() {
			known := slices.Clone(t.asked)
			slices.Sort(known)
			hint = tongue.Put("; known here: %s", strings.Join(slices.Compact(known), ", "))
		}
		t.problem(t.spot(k), "is not a known key%s", hint)
	}
}
