package scenario

import (
	"fmt"
	"math"
	"strconv"
	"strings"
	"time"
)

// cursor walks over the tokens of one line. The first error stays; after it
// nothing more is read.
type cursor struct {
	text   string
	tokens []token
	next   int
	err    error
}

func newCursor(text string) *cursor {
	c := &cursor{text: text}
	c.tokens, c.err = scan(text)
	return c
}

func (c *cursor) fail(format string, args ...any) {
	if c.err == nil {
		c.err = fmt.Errorf(format, args...)
	}
	c.next = len(c.tokens)
}

func (c *cursor) done() bool { return c.err != nil || c.next >= len(c.tokens) }

// got says what comes next, for error messages.
func (c *cursor) got() string {
	if c.next >= len(c.tokens) {
		return "the end of the line"
	}
	return strconv.Quote(c.tokens[c.next].text)
}

// is reports whether the next token is one of the given bare words or marks.
func (c *cursor) is(words ...string) bool {
	if c.done() || c.tokens[c.next].quoted {
		return false
	}
	for _, w := range words {
		if c.tokens[c.next].text == w {
			return true
		}
	}
	return false
}

// take steps over the given words in a row, if they all come next.
func (c *cursor) take(words ...string) bool {
	start := c.next
	for _, w := range words {
		if !c.is(w) {
			c.next = start
			return false
		}
		c.next++
	}
	return true
}

// need is take, and an error if the words do not come.
func (c *cursor) need(words ...string) {
	for _, w := range words {
		if !c.take(w) {
			c.fail("want %q, got %s", w, c.got())
			return
		}
	}
}

// name takes a word, bare or quoted; what names it in the error.
func (c *cursor) name(what string) string {
	if c.done() || c.tokens[c.next].mark {
		c.fail("want %s, got %s", what, c.got())
		return ""
	}
	c.next++
	return c.tokens[c.next-1].text
}

// quotedName takes the next token only if it is quoted.
func (c *cursor) quotedName() string {
	if c.done() || !c.tokens[c.next].quoted {
		return ""
	}
	c.next++
	return c.tokens[c.next-1].text
}

// number takes a finite number.
func (c *cursor) number(what string) float64 {
	v := c.anyNumber(what)
	if c.err == nil && (math.IsNaN(v) || math.IsInf(v, 0)) {
		c.fail("want a finite number for %s, got %g", what, v)
	}
	return v
}

// anyNumber takes a number that may be NaN or infinite, as a broken probe may send.
func (c *cursor) anyNumber(what string) float64 {
	s := c.got()
	v, err := strconv.ParseFloat(c.name("a number for "+what), 64)
	if err != nil {
		c.fail("want a number for %s, got %s", what, s)
	}
	return v
}

// duration takes a length of time above zero.
func (c *cursor) duration(what string) time.Duration {
	s := c.got()
	d, err := time.ParseDuration(c.name("a length of time for " + what))
	if err != nil || d <= 0 {
		c.fail("want a length of time such as 30s or 1h30m for %s, got %s", what, s)
	}
	return d
}

// durationOr is duration, or a negative one for the word none.
func (c *cursor) durationOr(what, none string) time.Duration {
	if c.take(none) {
		return -1
	}
	return c.duration(what)
}

// named takes a word that a vocabulary type of the core reads.
func named[T any, P interface {
	*T
	UnmarshalText([]byte) error
}](c *cursor, what string) T {
	var v T
	s := c.name(what)
	if c.err == nil {
		if err := P(&v).UnmarshalText([]byte(s)); err != nil {
			c.fail("%s: %v", what, err)
		}
	}
	return v
}

// rest takes all that is left of the line as it stands, or one quoted word.
func (c *cursor) rest() string {
	if c.done() {
		return ""
	}
	t := c.tokens[c.next]
	if t.quoted && c.next == len(c.tokens)-1 {
		c.next++
		return t.text
	}
	c.next = len(c.tokens)
	return strings.TrimSpace(c.text[t.at:])
}

// end demands that the line is read.
func (c *cursor) end() {
	if !c.done() {
		c.fail("want the end of the line, got %s", c.got())
	}
}

// sentence writes a note so that rest reads it back.
func sentence(s string) string {
	bare := s == strings.TrimSpace(s) && s != "" && strings.Join(strings.Fields(s), " ") == s &&
		!strings.ContainsAny(s, "\"#\\") && !strings.ContainsAny(s[len(s)-1:], ",;:") &&
		strconv.Quote(s) == `"`+s+`"`
	if bare {
		return s
	}
	return strconv.Quote(s)
}

func length(d time.Duration) string {
	s := d.String()
	if strings.HasSuffix(s, "m0s") {
		s = strings.TrimSuffix(s, "0s")
	}
	if strings.HasSuffix(s, "h0m") {
		s = strings.TrimSuffix(s, "0m")
	}
	return s
}

func figure(v float64) string { return strconv.FormatFloat(v, 'g', -1, 64) }
