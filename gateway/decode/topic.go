package decode

import (
	"errors"
	"fmt"
	"strings"
	"unicode/utf8"
)

// checkFilter reports what is wrong with an MQTT topic filter (MQTT 3.1.1,
// sections 4.7.1 and 4.7.3).
func checkFilter(f string) error {
	switch {
	case f == "":
		return errors.New("filter: is empty, want an MQTT topic filter such as long-house/bench/climate")
	case len(f) > 65535:
		return fmt.Errorf("filter: is %d bytes long, at most 65535 are allowed", len(f))
	case !utf8.ValidString(f) || strings.ContainsRune(f, 0):
		return fmt.Errorf("filter: %q is not valid UTF-8 text", f)
	case strings.HasPrefix(f, "$share/"):
		return fmt.Errorf("filter: %q is a shared subscription, of which only a part of the messages would arrive here", f)
	}
	levels := strings.Split(f, "/")
	for i, l := range levels {
		switch {
		case strings.Contains(l, "#") && (l != "#" || i != len(levels)-1):
			return fmt.Errorf("filter: %q: # must stand alone in the last level", f)
		case strings.Contains(l, "+") && l != "+":
			return fmt.Errorf("filter: %q: + must stand alone in its level", f)
		}
	}
	return nil
}

// wild reports whether a filter has wildcards.
func wild(filter string) bool { return strings.ContainsAny(filter, "+#") }

// matches reports whether a valid filter matches topic (MQTT 3.1.1, section
// 4.7; topics that begin with $ are not for filters that begin with a
// wildcard, 4.7.2-1).
func matches(filter, topic string) bool {
	if strings.HasPrefix(topic, "$") && (filter[0] == '+' || filter[0] == '#') {
		return false
	}
	for {
		f, filterRest, filterMore := strings.Cut(filter, "/")
		if f == "#" {
			return true
		}
		t, topicRest, topicMore := strings.Cut(topic, "/")
		if f != "+" && f != t {
			return false
		}
		if !filterMore || !topicMore {
			// "sport/#" matches "sport" too: # includes its parent level.
			return filterMore == topicMore || (filterMore && filterRest == "#")
		}
		filter, topic = filterRest, topicRest
	}
}

// covers reports whether every topic that b matches is matched by a.
func covers(a, b string) bool {
	if strings.HasPrefix(b, "$") && (a[0] == '+' || a[0] == '#') {
		return false
	}
	for {
		la, restA, moreA := strings.Cut(a, "/")
		lb, restB, moreB := strings.Cut(b, "/")
		if la == "#" {
			return true
		}
		if lb == "#" || (la != "+" && la != lb) {
			return false
		}
		if !moreA || !moreB {
			return moreA == moreB || (moreA && restA == "#")
		}
		a, b = restA, restB
	}
}

// fewest returns filters without those that another one covers, in order.
func fewest(filters []string) []string {
	var kept []string
	seen := map[string]bool{}
	for _, f := range filters {
		if !seen[f] {
			seen[f] = true
			kept = append(kept, f)
		}
	}
	var wide []string
	for _, f := range kept {
		if wild(f) {
			wide = append(wide, f)
		}
	}
	var few []string
	for _, f := range kept {
		covered := false
		for _, w := range wide {
			covered = covered || (w != f && covers(w, f))
		}
		if !covered {
			few = append(few, f)
		}
	}
	return few
}
