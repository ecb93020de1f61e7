package words

import (
	"fmt"
	"hash/fnv"
	"regexp"
	"unicode"
	"unicode/utf8"

	"telltale/alarms"
)

// Capital writes a name as the beginning of a line.
func Capital(name string) string {
	first, size := utf8.DecodeRuneInString(name)
	if size == 0 {
		return ""
	}
	return string(unicode.ToUpper(first)) + name[size:]
}

// Counted is a number of things.
func Counted(n uint64, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Times says how often.
func Times(n int) string {
	if n == 1 {
		return "once"
	}
	return fmt.Sprintf("%d times", n)
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
func SaysIt(shows string) string { return "says it " + shows }

// PriorityWords are the priorities, to begin a line.
var PriorityWords = map[alarms.Priority]string{
	alarms.High: "High priority", alarms.Medium: "Medium priority", alarms.Low: "Low priority"}
