package scenario

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"unicode"
	"unicode/utf8"
)

// line is one logical line: continued lines are joined.
type line struct {
	first, last int // line numbers in the file, from 1
	indented    bool
	text        string // without comment and outer blanks
}

// token is a word, a quoted word or a mark: , ; :
type token struct {
	text   string
	quoted bool
	mark   bool
	at     int // where it starts in the line's text
}

// lines splits a text into its logical lines that are not empty. A blank line
// or the end of the text ends a continuation.
func lines(text string) []line {
	var out []line
	open := false
	for i, raw := range strings.Split(text, "\n") {
		bare := strings.TrimSpace(uncomment(raw))
		switch {
		case bare == "":
			open = open && strings.TrimSpace(raw) != ""
			continue
		case open:
			l := &out[len(out)-1]
			l.text += " " + bare
			l.last = i + 1
		default:
			out = append(out, line{first: i + 1, last: i + 1, indented: unicode.IsSpace(rune(raw[0])), text: bare})
		}
		open = strings.ContainsAny(bare[len(bare)-1:], ",;:")
	}
	return out
}

// uncomment cuts off what follows a # that starts a word outside of quotes.
func uncomment(raw string) string {
	inside, fresh := false, true
	for i := 0; i < len(raw); i++ {
		switch c := raw[i]; {
		case inside && c == '\\':
			i++
		case c == '"' && (inside || fresh):
			inside = !inside
			fresh = false
		case !inside && fresh && c == '#':
			return raw[:i]
		default:
			fresh = strings.IndexByte(" \t,;:", c) >= 0
		}
	}
	return raw
}

// scan splits a line's text into tokens. A colon is a mark only at the end of
// a word, so that clock times stay whole.
func scan(text string) ([]token, error) {
	var out []token
	for i := 0; i < len(text); {
		r, n := utf8.DecodeRuneInString(text[i:])
		switch {
		case unicode.IsSpace(r):
			i += n
		case r == ',' || r == ';' || r == ':':
			out = append(out, token{text: text[i : i+n], mark: true, at: i})
			i += n
		case r == '"':
			q, err := strconv.QuotedPrefix(text[i:])
			if err != nil {
				return nil, fmt.Errorf("a quoted word has no end: got %s", text[i:])
			}
			word, err := strconv.Unquote(q)
			if err != nil {
				return nil, fmt.Errorf("a quoted word cannot be read: got %s", q)
			}
			out = append(out, token{text: word, quoted: true, at: i})
			i += len(q)
		default:
			word := wordAt(text[i:])
			out = append(out, token{text: word, at: i})
			i += len(word)
		}
	}
	return out, nil
}

// wordAt is the bare word at the start of s.
func wordAt(s string) string {
	for i, r := range s {
		switch {
		case unicode.IsSpace(r) || r == ',' || r == ';' || r == '"':
			return s[:i]
		case r == ':' && endsWord(s[i+1:]):
			return s[:i]
		}
	}
	return s
}

func endsWord(rest string) bool {
	r, n := utf8.DecodeRuneInString(rest)
	return n == 0 || unicode.IsSpace(r)
}

// reserved reports whether s must be quoted to be used as a name.
func reserved(s string) bool {
	switch s {
	case "tick", "link", "watch", "the", "somebody", "everything", "every", "probe", "alarm", "on", "to",
		"plan", "until", "because", "unreadable", "measured", "retained", "acknowledges", "shelves",
		"unshelves", "takes", "puts", "sets", "turns", "goes", "comes", "with", "trouble", "over", "from", "around",
		"cooling", "heating", "drying", "moistening", "and", "in", "follow", "off", "closed":
		return true
	}
	return false
}

// word writes s as one token that scan reads back as s.
func word(s string) string {
	plain := s != "" && !reserved(s) && !strings.HasPrefix(s, "#") && utf8.ValidString(s)
	for _, r := range s {
		if unicode.IsSpace(r) || !unicode.IsPrint(r) || strings.ContainsRune(`,;:"`, r) {
			plain = false
		}
	}
	if plain {
		return s
	}
	return strconv.Quote(s)
}

// problems gathers everything that is wrong with a file.
type problems struct {
	file string
	all  []error
}

func (p *problems) add(line int, format string, args ...any) {
	const most = 20 // more would bury the first
	if len(p.all) < most {
		p.all = append(p.all, fmt.Errorf("%s:%d: %s", p.file, line, fmt.Sprintf(format, args...)))
	}
}

func (p *problems) err() error { return errors.Join(p.all...) }
