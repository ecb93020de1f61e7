// Package topic is what MQTT says of topic names and topic filters (MQTT 3.1.1,
// section 4.7, and MQTT 5.0, sections 4.7 and 4.8.2), and which topics are the
// watch's own.
//
// It promises that a name or filter without an error here can be sent to any
// broker that keeps to the standard, and that Matches, AnyCovers and Overlap of such
// agree with it. Control characters, which the standard advises against, are
// allowed but for Beginning: there are devices that send them. An error goes on
// from whatever names the text: "must be ... (got ...)".
package topic

import (
	"slices"
	"strings"
	"unicode/utf8"

	"telltale/alarms/tongue"
)

// Own begins the topics that the watch alone writes.
const Own = "telltale/"

// Companion begins the topics of a watch that accompanies another one, at whose broker
// it may have an account.
const Companion = Own + "companion/"

// State is, below Own or Companion, the topic that says how a watch is.
const State = "watch/state"

// most is how long a name or filter may be, bytes of UTF-8.
const most = 65535

// text checks what holds for names and filters alike (section 4.7.3).
func text(s string) error {
	switch {
	case s == "":
		return tongue.Put("must not be empty (got \"\")")
	case len(s) > most:
		return tongue.Put("must be at most %d bytes long (got %d, which begin with %q)", most, len(s), s[:40])
	case !utf8.ValidString(s):
		return tongue.Put("must be UTF-8 text (got %q)", s)
	case strings.ContainsRune(s, 0):
		return tongue.Put("must be without a zero character (got %q)", s)
	}
	return nil
}

// CheckName returns why s is no name of a topic, nil if it is one.
func CheckName(s string) error {
	if err := text(s); err != nil {
		return err
	}
	if Wild(s) {
		return tongue.Put("must be one topic, without + and # (got %q)", s)
	}
	return nil
}

// CheckFilter returns why s is no topic filter, nil if it is one. A shared
// subscription is none: of what it names only a part would come.
func CheckFilter(s string) error {
	if err := text(s); err != nil {
		return err
	}
	if strings.HasPrefix(s, "$share/") {
		return tongue.Put("must not be a shared subscription, of which only a part would come (got %q)", s)
	}
	for rest, more := s, true; more; {
		var level string
		level, rest, more = strings.Cut(rest, "/")
		switch {
		case level == "#" && more:
			return tongue.Put("must have # as its last level only (got %q)", s)
		case level != "#" && strings.Contains(level, "#"):
			return tongue.Put("must have # alone in its level, not %q (got %q)", level, s)
		case level != "+" && strings.Contains(level, "+"):
			return tongue.Put("must have + alone in its level, not %q (got %q)", level, s)
		}
	}
	return nil
}

// CheckForAccount is CheckForOthers for what an account at a broker may write.
func CheckForAccount(s string) error {
	if strings.HasPrefix(s, Companion) {
		return CheckFilter(s)
	}
	return CheckForOthers(s)
}

// CheckForOthers is CheckFilter for topics to which others than the watch write.
func CheckForOthers(s string) error {
	if strings.HasPrefix(s, Own) {
		return tongue.Put("must not lie below %q: the watch writes there itself (got %q)", Own, s)
	}
	return CheckFilter(s)
}

// CheckBeginning returns why s cannot begin topics, with a slash and further levels
// behind it, that every broker and follower takes.
func CheckBeginning(s string) error {
	const longest = 500 // bytes, so that there is room for the rest
	odd := func(c rune) bool { return c == '+' || c == '#' || c < ' ' || c == 0x7f || c == utf8.RuneError }
	if s == "" || len(s) > longest || s[0] == '$' || s[0] == '/' || s[len(s)-1] == '/' || strings.Contains(s, "//") || strings.ContainsFunc(s, odd) {
		return tongue.Put("must be the beginning of a topic, of at most %d bytes: no + or #, no control character, no $ at the front, no slash at either end and none doubled (got %q)", longest, s[:min(len(s), longest)])
	}
	return nil
}

// Wild reports whether a filter has wildcards, so that it is no name.
func Wild(filter string) bool { return strings.ContainsAny(filter, "+#") }

// Matches reports whether filter brings what is sent to name.
func Matches(filter, name string) bool { return covers(filter, name) }

// covers reports that every topic that b brings is also brought by a. Of "#", which
// also "+/#" covers, it does not say so.
func covers(a, b string) bool {
	if strings.HasPrefix(b, "$") && wildFirst(a) {
		return false
	}
	for {
		la, restA, moreA := strings.Cut(a, "/")
		lb, restB, moreB := strings.Cut(b, "/")
		switch {
		case la == "#":
			return true
		case lb == "#", la != "+" && la != lb:
			return false
		case !moreA || !moreB:
			// "sport/#" brings "sport" too.
			return moreA == moreB || moreA && restA == "#"
		}
		a, b = restA, restB
	}
}

// Overlap reports whether some topic is brought by both filters. Of "+" and "/#",
// which have the empty topic alone in common, it says so too.
func Overlap(a, b string) bool {
	if strings.HasPrefix(a, "$") && wildFirst(b) || strings.HasPrefix(b, "$") && wildFirst(a) {
		return false
	}
	for {
		la, restA, moreA := strings.Cut(a, "/")
		lb, restB, moreB := strings.Cut(b, "/")
		switch {
		case la == "#" || lb == "#":
			return true
		case la != "+" && lb != "+" && la != lb:
			return false
		case !moreA || !moreB:
			return moreA == moreB || moreA && restA == "#" || moreB && restB == "#"
		}
		a, b = restA, restB
	}
}

// wildFirst reports a wildcard in front, which stands for no topic that begins
// with $ (section 4.7.2).
func wildFirst(filter string) bool {
	return strings.HasPrefix(filter, "+") || strings.HasPrefix(filter, "#")
}

// AnyCovers reports whether one of filters covers f.
func AnyCovers(filters []string, f string) bool {
	return slices.ContainsFunc(filters, func(g string) bool { return covers(g, f) })
}

// Fewest returns filters without those that another one covers, in order.
func Fewest(filters []string) []string {
	wide := slices.DeleteFunc(slices.Clone(filters), func(f string) bool { return !Wild(f) })
	var few []string
	seen := map[string]bool{}
	for _, f := range filters {
		if !seen[f] && !slices.ContainsFunc(wide, func(w string) bool { return w != f && covers(w, f) }) {
			few = append(few, f)
		}
		seen[f] = true
	}
	return few
}
