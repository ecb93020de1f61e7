package edit

import (
	"bytes"
	"fmt"
	"maps"
	"slices"
	"strconv"
	"strings"
	"unicode"

	"golang.org/x/text/unicode/norm"

	"telltale/alarms"
	"telltale/alarms/walk"
)

// bareKey writes one part of a key as TOML.
func bareKey(part string) string {
	if part != "" && strings.Trim(part, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789-_") == "" {
		return part
	}
	return Quoted(part)
}

// dotted writes an internal path as TOML. Elements of arrays have no place in
// it: nothing is written below them.
func dotted(path string) string {
	parts := strings.Split(path, pathSep)
	for i, p := range parts {
		parts[i] = bareKey(p)
	}
	return strings.Join(parts, ".")
}

// Quoted writes text as a basic string of TOML 1.0.
func Quoted(text string) string {
	var b strings.Builder
	b.WriteByte('"')
	for _, c := range strings.ToValidUTF8(text, "") {
		switch {
		case c == '"' || c == '\\':
			b.WriteByte('\\')
			b.WriteRune(c)
		case c < ' ' || c == 0x7f:
			fmt.Fprintf(&b, "\\u%04X", c)
		default:
			b.WriteRune(c)
		}
	}
	return b.String() + `"`
}

func quotedList(texts []string) string {
	return "[" + strings.Join(walk.Each(texts, Quoted), ", ") + "]"
}

// number writes v as TOML, with all its digits.
func number(v float64) string { return strconv.FormatFloat(v, 'f', -1, 64) }

// pair is one key with its value as TOML.
type pair struct{ key, value string }

// pairs collects keys of one table; those without a value are left out.
type pairs []pair

func (p *pairs) text(key, v string) {
	if v != "" {
		*p = append(*p, pair{key, Quoted(v)})
	}
}

func (p *pairs) number(key string, v *float64) {
	if v != nil {
		*p = append(*p, pair{key, number(*v)})
	}
}

func (p *pairs) raw(key, v string) { *p = append(*p, pair{key, v}) }

// lines writes one a line.
func (p pairs) lines() string {
	var b strings.Builder
	for _, one := range p {
		b.WriteString(bareKey(one.key) + " = " + one.value + "\n")
	}
	return b.String()
}

// inline writes an inline table.
func (p pairs) inline() string {
	if len(p) == 0 {
		return "{}"
	}
	var all []string
	for _, one := range p {
		all = append(all, bareKey(one.key)+" = "+one.value)
	}
	return "{ " + strings.Join(all, ", ") + " }"
}

// NewID makes a name as people write it into one that alarms can be named
// after, and that is not among taken: "Long House" becomes long-house. what
// stands in for a name of which nothing is left.
func NewID(name, what string, taken []string, more ...string) string {
	id := hyphenated(name)
	if id == "" {
		id = what + "-1"
	}
	barred := func(id string) bool {
		return slices.Contains(taken, id) || alarms.Reserved(id) || slices.Contains(more, id)
	}
	if !barred(id) {
		return id
	}
	base := strings.TrimRight(strings.TrimRight(id, "0123456789"), "-")
	if base == "" {
		base = what
	}
	for n := 1; ; n++ {
		if next := base + "-" + strconv.Itoa(n); !barred(next) {
			return next
		}
	}
}

// hyphenated keeps letters without their accents and digits, at most 48.
func hyphenated(name string) string {
	var b strings.Builder
	gap := false
	for _, c := range strings.ToLower(norm.NFKD.String(name)) {
		switch {
		case unicode.Is(unicode.Mn, c):
		case c == 'ß':
			b.WriteString("ss")
		case c >= 'a' && c <= 'z', c >= '0' && c <= '9':
			if gap && b.Len() > 0 {
				b.WriteByte('-')
			}
			gap = false
			b.WriteRune(c)
		default:
			gap = true
		}
		if b.Len() >= 48 {
			break
		}
	}
	return b.String()
}

func sortedTags(tags map[string]string) []string { return slices.Sorted(maps.Keys(tags)) }

func isComment(line []byte) bool {
	return bytes.HasPrefix(bytes.TrimLeft(line, " \t"), []byte("#"))
}

// keyPutAside reports whether a line is a key that a comment sign puts out of
// force, such as "# low = 8".
func keyPutAside(line []byte) bool {
	rest, ok := bytes.CutPrefix(bytes.TrimLeft(line, " \t"), []byte("#"))
	key, _, found := strings.Cut(string(rest), "=")
	key = strings.TrimSpace(key)
	return ok && found && key != "" && bareKey(key) == key
}

// common is how many parts two paths share from the left.
func common(a, b string) int {
	as, bs := strings.Split(a, pathSep), strings.Split(b, pathSep)
	n := 0
	for n < len(as) && n < len(bs) && as[n] == bs[n] {
		n++
	}
	return n
}
