package words

import (
	"fmt"
	"hash/fnv"
	"regexp"
	"unicode"
	"unicode/utf8"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// Capital writes a name as the beginning of a line.
func Capital(name string) string {
	first, size := utf8.DecodeRuneInString(name)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + name[size:]
}

// Counted is a number of things: one says it of one of them, many of any number.
func (w Words) Counted(n uint64, one, many tongue.Text) string {
	if n == 1 {
		return w.Say(one)
	}
	return w.Say(many, n)
}

// Times says how often.
func (w Words) Times(n int) string {
	if n == 1 {
		return w.Say("once")
	}
	return w.Say("%d times", n)
}

var plainID = regexp.MustCompile(`^[a-z0-9-]+$`)

// Anchor makes an element ID of names; odd names are hashed.
func Anchor(parts ...string) string {
	id := ""
	for i, p := range parts {
		if !plainID.MatchString(p) {
			h := fnv.New64a()
			_, _ = h.Write([]byte(p)) // never fails
			p = fmt.Sprintf("x%x", h.Sum64())
		}
		if i > 0 {
			id += "_"
		}
		id += p
	}
	return id
}

// SaysIt is what a contact says of its drive, to follow its name.
func (w Words) SaysIt(shows string) string { return w.Say("says it %s", shows) }

// Priority names a priority, to begin a line.
func (w Words) Priority(p alarms.Priority) string {
	text, ok := priorities[p]
	if !ok {
		text = "No priority"
	}
	return w.Say(text)
}

var priorities = map[alarms.Priority]tongue.Text{
	alarms.High: "High priority", alarms.Medium: "Medium priority", alarms.Low: "Low priority"}
