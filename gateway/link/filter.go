package link

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// checkFilter returns why f is no topic filter after MQTT 3.1.1 section 4.7,
// or nil.
func checkFilter(f string) error {
	switch {
	case f == "":
		return errors.New("an empty topic filter")
	case len(f) > 65535:
		return fmt.Errorf("a topic filter of %d bytes; at most 65535 are allowed", len(f))
	case !utf8.ValidString(f) || strings.ContainsRune(f, 0):
		return fmt.Errorf("topic filter %q: must be UTF-8 without a zero character", f)
	case strings.HasPrefix(f, "$share/"):
		return fmt.Errorf("topic filter %q: shared subscriptions do not exist in MQTT 3.1.1", f)
	}
	for rest, more := f, true; more; {
		var level string
		level, rest, more = strings.Cut(rest, "/")
		switch {
		case level == "#" && more:
			return fmt.Errorf("topic filter %q: # must be the last level", f)
		case level != "#" && strings.Contains(level, "#"):
			return fmt.Errorf("topic filter %q: # must stand alone in its level", f)
		case level != "+" && strings.Contains(level, "+"):
			return fmt.Errorf("topic filter %q: + must stand alone in its level", f)
		}
	}
	return nil
}

// covers reports whether every topic that matches filter b also matches filter
// a. A topic is a filter without wildcards, so this is also the test whether a
// topic matches.
func covers(a, b string) bool {
	if strings.HasPrefix(b, "$") && (strings.HasPrefix(a, "+") || strings.HasPrefix(a, "#")) {
		return false
	}
	for {
		al, arest, amore := strings.Cut(a, "/")
		bl, brest, bmore := strings.Cut(b, "/")
		switch {
		case al == "#":
			return true
		case bl == "#", al != "+" && al != bl:
			return false
		case !bmore:
			return !amore || arest == "#"
		case !amore:
			return false
		}
		a, b = arest, brest
	}
}

// reduce returns filters without those that another one covers, in the order
// given.
func reduce(filters []string) []string {
	var kept []string
	for i, f := range filters {
		covered := false
		for j, g := range filters {
			// Of two equal filters the first stays.
			if i != j && covers(g, f) && (!covers(f, g) || j < i) {
				covered = true
				break
			}
		}
		if !covered {
			kept = append(kept, f)
		}
	}
	return kept
}
