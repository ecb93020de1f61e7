package reach

import (
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// Problems returns everything that is wrong with r, each a sentence; nil when
// nothing is. The caller knows the file and adds it.
func Problems(r Rules) []error {
	var found []error
	found = append(found, r.peopleProblems()...)
	for i, rule := range r.Tell {
		for _, err := range r.ruleProblems(rule) {
			found = append(found, fmt.Errorf("tell rule %d: %w", i+1, err))
		}
	}
	for _, c := range r.Follow {
		if !slices.Contains(r.Channels, c) {
			found = append(found, fmt.Errorf("follow: no channel is named %q; channels are %s", c, list(r.Channels)))
		}
	}
	return append(found, r.silences()...)
}

func (r Rules) peopleProblems() []error {
	var found []error
	seen := map[string]bool{}
	for _, c := range r.Channels {
		if c == "" || strings.ContainsAny(c, "|\r\n") {
			found = append(found, fmt.Errorf("channel %q: a name must not be empty or hold a bar or a line break", c))
		}
	}
	for _, p := range r.People {
		if seen[p.Name] {
			found = append(found, fmt.Errorf("person %q is given twice; give each person once, with all channels", p.Name))
		}
		seen[p.Name] = true
		for _, err := range r.personProblems(p) {
			found = append(found, fmt.Errorf("person %q: %w", p.Name, err))
		}
	}
	return found
}

func (r Rules) personProblems(p Person) []error {
	var found []error
	if p.Name == "" || strings.ContainsAny(p.Name, "|\r\n") {
		found = append(found, errors.New("a name must not be empty or hold a bar or a line break"))
	}
	if len(p.Channels) == 0 {
		found = append(found, errors.New("has no channel, so nothing can reach them; name at least one"))
	}
	for _, c := range p.Channels {
		switch {
		case slices.Contains(r.Follow, c):
			found = append(found, fmt.Errorf("channel %q is followed, it goes to no person; name another", c))
		case !slices.Contains(r.Channels, c):
			found = append(found, fmt.Errorf("no channel is named %q; channels are %s", c, list(r.Channels)))
		}
	}
	q := p.Quiet
	if q.From < 0 || q.From >= day || q.To < 0 || q.To >= day {
		found = append(found, fmt.Errorf("quiet hours must lie between 00:00 and 24:00 (got %s to %s after midnight)", q.From, q.To))
	}
	return found
}

func (r Rules) ruleProblems(rule Rule) []error {
	var found []error
	if rule.From < alarms.Low || rule.From > alarms.High {
		found = append(found, errors.New("gives no priority; say low, medium or high"))
	}
	if rule.After < 0 || rule.After > 7*day {
		found = append(found, fmt.Errorf("the waiting must lie between 0 and 7 days (got %s)", rule.After))
	}
	if rule.After%time.Second != 0 {
		found = append(found, fmt.Errorf("the waiting must be whole seconds (got %s)", rule.After))
	}
	if len(rule.People) == 0 {
		found = append(found, errors.New("names nobody; name at least one person"))
	}
	for _, name := range rule.People {
		i := slices.IndexFunc(r.People, func(p Person) bool { return p.Name == name })
		if i < 0 {
			found = append(found, fmt.Errorf("nobody is named %q", name))
			continue
		}
		if !shares(rule.Channels, r.People[i].Channels) {
			found = append(found, fmt.Errorf("%q has none of the channels %s", name, list(rule.Channels)))
		}
	}
	for _, c := range rule.Channels {
		if !slices.Contains(r.Channels, c) {
			found = append(found, fmt.Errorf("no channel is named %q; channels are %s", c, list(r.Channels)))
		}
	}
	for _, h := range rule.Houses {
		if !slices.ContainsFunc(r.Houses, func(known House) bool { return known.ID == h }) {
			found = append(found, fmt.Errorf("no house is named %q", h))
		}
	}
	return found
}

// silences finds for whom a high alarm would sound unheard.
func (r Rules) silences() []error {
	var found []error
	for _, h := range r.Houses {
		if err := r.silence(h.ID, fmt.Sprintf("house %q", h.ID)); err != nil {
			found = append(found, err)
		}
	}
	if err := r.silence("", "the watch itself (broker lost, watch restarted)"); err != nil {
		found = append(found, err)
	}
	return found
}

func (r Rules) silence(house alarms.HouseID, what string) error {
	heard := r.hearings(alarms.Transition{Priority: alarms.High, Reason: alarms.Reason{House: house}})
	heard = slices.DeleteFunc(heard, func(h hearing) bool { return !slices.Contains(r.Channels, h.channel) })
	if len(heard) == 0 {
		return fmt.Errorf("%s: nobody is told of a high alarm; add a tell rule that reaches a person", what)
	}
	if !slices.ContainsFunc(heard, func(h hearing) bool { return h.after == 0 }) {
		return fmt.Errorf("%s: nobody is told of a high alarm at once; give one tell rule no waiting", what)
	}
	return nil
}

// shares reports whether a person with the channels own hears of a rule
// narrowed to some.
func shares(some, own []string) bool {
	return len(some) == 0 || slices.ContainsFunc(some, func(c string) bool { return slices.Contains(own, c) })
}

func list(names []string) string {
	if len(names) == 0 {
		return "none"
	}
	return `"` + strings.Join(names, `", "`) + `"`
}
