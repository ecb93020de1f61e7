package reach

import (
	"slices"
	"time"

	"telltale/alarms"
)

// Who is told while somebody is away, as Route decides it: whoever stands in for them is
// told whatever they would be told and when they would be, in quiet hours too, beside what
// the rules give that person anyway. Nobody is left out: who is away is told as before or,
// spared, of what nobody has acknowledged for a while. Whose stand-in is away too is stood
// in for by that one's stand-in, else by the next in line who is at hand. Where nobody is
// at hand everybody is told as before.

// leaveOf is the leave of a person that runs at a time.
func (r Rules) leaveOf(name string, at time.Time) (alarms.Leave, bool) {
	for _, l := range r.Leaves {
		if l.Person == name && l.Runs(at) {
			return l, true
		}
	}
	return alarms.Leave{}, false
}

// person is who is called so.
func (r Rules) person(name string) (Person, bool) {
	i := slices.IndexFunc(r.People, func(p Person) bool { return p.Name == name })
	if i < 0 {
		return Person{}, false
	}
	return r.People[i], true
}

// StandIn is who stands in at a time for somebody whose leave runs then; "": nobody.
func (r Rules) StandIn(name string, at time.Time) string {
	asked := map[string]bool{name: true}
	for one := name; ; {
		l, away := r.leaveOf(one, at)
		if _, known := r.person(one); !away && known && one != name {
			return one
		}
		if one = l.StandIn; one == "" || asked[one] {
			return r.Next(name, at)
		}
		asked[one] = true
	}
}

// Next is who comes next in line after somebody, of those who are at hand at a time: who
// is told later, or of less; "": nobody.
func (r Rules) Next(name string, at time.Time) string {
	before, next := r.waits(name), ""
	var least []time.Duration
	for _, p := range r.AtHand(at) {
		if w := r.waits(p); p != name && slices.Compare(w, before) > 0 && (next == "" || slices.Compare(w, least) < 0) {
			next, least = p, w
		}
	}
	return next
}

// never is longer than any rule waits.
const never = time.Duration(1<<63 - 1)

// waits is after how long somebody is told of high, medium and low priority.
func (r Rules) waits(name string) []time.Duration {
	all := []time.Duration{never, never, never}
	for _, rule := range r.Tell {
		if !slices.Contains(rule.People, name) {
			continue
		}
		for i, p := range []alarms.Priority{alarms.High, alarms.Medium, alarms.Low} {
			if p >= rule.From {
				all[i] = min(all[i], rule.After)
			}
		}
	}
	return all
}

// AtHand lists, in the order of the people, whom the rules tell anything and who are not
// away at a time.
func (r Rules) AtHand(at time.Time) []string {
	var all []string
	for _, p := range r.People {
		if _, away := r.leaveOf(p.Name, at); !away && r.tells(p.Name) {
			all = append(all, p.Name)
		}
	}
	return all
}

// tells reports whether somebody is told anything.
func (r Rules) tells(name string) bool {
	return slices.ContainsFunc(r.Tell, func(rule Rule) bool { return slices.Contains(rule.People, name) })
}

// Line lists whom the rules tell anything, in the order of the people.
func (r Rules) Line() []string { return Rules{People: r.People, Tell: r.Tell}.AtHand(time.Time{}) }

// inPlaceOf lists who hears of t in the place of somebody. Of a return these are all who
// stood in while it was on.
func (r Rules) inPlaceOf(name string, t alarms.Transition) []hearing {
	began := t.Noticed
	if t.Move == alarms.Return {
		began = began.Add(-t.Reason.Lasted)
	}
	var all []hearing
	for _, l := range r.Leaves {
		if l.Person != name || l.Since.After(t.Noticed) || !l.Until.After(began) {
			continue
		}
		if p, ok := r.person(r.StandIn(name, later(l.Since, began))); ok {
			all = append(all, hearing{person: p, standsIn: l.Runs(t.Noticed), stoodIn: true, handed: l.Since.After(began)})
		}
	}
	return all
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

// spared is how long somebody who is away waits at least to hear of t.
func (r Rules) spared(name string, t alarms.Transition) time.Duration {
	at := t.Noticed
	if t.Move == alarms.Return {
		at = at.Add(-t.Reason.Lasted)
	}
	if l, away := r.leaveOf(name, at); !away || !l.Spared || r.StandIn(name, at) == "" {
		return 0
	}
	return alarms.SparedFor
}

// concerned lists who hears of a leave: who stands in, at once where it begins, and who
// is away, unless they said so themselves.
func (r Rules) concerned(t alarms.Transition) []hearing {
	l := t.Reason.Leave
	var all []hearing
	for _, name := range []string{l.StandIn, l.Person} {
		p, ok := r.person(name)
		if !ok || name == t.Reason.By {
			continue
		}
		for _, c := range p.Channels {
			all = append(all, hearing{person: p, channel: c, standsIn: name == l.StandIn && l.Ended == ""})
		}
	}
	return all
}
