package config

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// reach reads channels, people and rules, and makes sure that somebody hears
// of every alarm of high priority.
func (r *reader) reach(root *table, plan alarms.Plan) Reach {
	out := Reach{Channels: r.channels(root)}
	for _, t := range root.children("person") {
		p := r.person(t, out.Channels)
		if i := slices.IndexFunc(out.People, func(o Person) bool { return o.Name == p.Name }); i >= 0 {
			r.problem(t.spot("name"), "is the name of person %s too; messages must tell them apart (got %q)", out.People[i].ID, p.Name)
		}
		r.sameNumber(t, p, out.People)
		out.People = append(out.People, p)
	}
	for _, t := range root.elements("tell") {
		out.Tell = append(out.Tell, r.tell(t, out, plan))
	}
	out.Nobody = r.nobody(root)
	r.checkHeard(root, out, plan)
	return out
}

func (r *reader) person(t *table, channels []Channel) Person {
	defer t.done()
	r.checkID(t, "person")
	p := Person{ID: t.name, Name: t.text("name").or(t.name), Mail: t.mailAddress("mail").V, Phone: t.phone("phone").V}
	if strings.Contains(p.Name, "|") {
		r.problem(t.spot("name"), "must not hold a bar (got %q)", p.Name)
	}
	from, to := t.clock("quiet-from"), t.clock("quiet-to")
	if from.Seen != to.Seen {
		r.problem(t.at, "quiet-from and quiet-to belong together: give both or neither")
	}
	p.QuietFrom, p.QuietTo = from.V%day, to.V%day
	ways := need(t, t.texts("channels"), "name the ways to reach this person, such as channels = [\"mail\"]")
	p.Channels = ways.V
	for _, name := range ways.V {
		i := slices.IndexFunc(channels, func(c Channel) bool { return c.Name == name })
		switch {
		case i < 0:
			r.problem(ways.at, "names no channel of this file (got %q)%s", name, orList(name, channelNames(channels), "channels"))
		case channels[i].Kind == ByMQTT:
			r.problem(ways.at, "must not name %q: a channel of kind mqtt follows every alarm and reaches no person", name)
		case channels[i].Kind == ByMail && !t.has("mail"):
			r.problem(ways.at, "needs mail = \"address\" for the channel %q", name)
		}
	}
	r.checkPhone(t, ways, channels)
	return p
}

func channelNames(channels []Channel) []string {
	var out []string
	for _, c := range channels {
		out = append(out, c.Name)
	}
	return out
}

// orList suggests the name that was meant, or lists those there are.
func orList(name string, known []string, what string) string {
	if hint := meant(name, known); hint != "" {
		return hint
	}
	return "; " + what + ": " + listed(known)
}

func (r *reader) tell(t *table, out Reach, plan alarms.Plan) Tell {
	defer t.done()
	rule := Tell{From: t.priority("from-priority"), After: t.span("after", 0, 7*day).V}
	if !t.has("from-priority") {
		rule.From = alarms.Low
	}
	if rule.After%time.Second != 0 {
		r.problem(t.spot("after"), "must be whole seconds (got %s)", span(rule.After))
	}
	people := need(t, t.texts("people"), "name whom to tell, such as people = [\"grower\"]")
	ways, houses := t.texts("channels"), t.texts("houses")
	rule.People, rule.Channels = people.V, ways.V
	for _, name := range ways.V {
		if known := channelNames(out.Channels); !slices.Contains(known, name) {
			r.problem(ways.at, "names no channel of this file (got %q)%s", name, orList(name, known, "channels"))
		}
	}
	for _, name := range people.V {
		r.checkTold(people.at, name, rule, out.People)
	}
	for _, name := range houses.V {
		rule.Houses = append(rule.Houses, alarms.HouseID(name))
		if known := houseNames(plan); !slices.Contains(known, name) {
			r.problem(houses.at, "names no house of this file (got %q)%s", name, orList(name, known, "houses"))
		}
	}
	return rule
}

func (r *reader) checkTold(at place, name string, rule Tell, people []Person) {
	var known []string
	for _, p := range people {
		known = append(known, p.ID)
		if p.ID == name {
			if len(p.Channels) > 0 && len(rule.Channels) > 0 && len(shared(p.Channels, rule.Channels)) == 0 {
				r.problem(at, "%q has none of the channels of this rule (has %s)", name, listed(p.Channels))
			}
			return
		}
	}
	r.problem(at, "names no person of this file (got %q)%s", name, orList(name, known, "people"))
}

func shared(a, b []string) []string {
	var out []string
	for _, s := range a {
		if slices.Contains(b, s) {
			out = append(out, s)
		}
	}
	return out
}

func houseNames(plan alarms.Plan) []string {
	var out []string
	for _, h := range plan.Houses {
		out = append(out, string(h.ID))
	}
	return out
}

// checkHeard tells houses of which nobody would hear at high priority, and
// those of which nobody would hear at once.
func (r *reader) checkHeard(root *table, out Reach, plan alarms.Plan) {
	cause := func(p Problem) bool {
		return !p.Warning && (strings.HasPrefix(p.Path, "tell") || strings.HasPrefix(p.Path, "person."))
	}
	if len(plan.Houses) == 0 || slices.ContainsFunc(r.found, cause) {
		return // what is told already may be the cause
	}
	told := place{root.spot("tell").line, "tell"}
	if stated := (place{root.spot(nobodyTold).line, nobodyTold}); root.has(nobodyTold) {
		if len(out.Tell) == 0 {
			r.warn(stated, "nobody is told of any alarm: they show on the page alone until you add [[tell]] with people = [\"...\"]")
			return
		}
		r.warn(stated, "is not so: [[tell]] names people; take one of the two out")
	}
	silent, late, mock := []string{}, []string{}, []string{}
	for _, house := range append([]string{""}, houseNames(plan)...) {
		what := "house " + house
		if house == "" {
			what = "the watch itself (broker lost, watch restarted)"
		}
		switch heard, atOnce := out.heard(house, out.Channels); {
		case !heard:
			silent = append(silent, what)
		case !atOnce:
			late = append(late, what)
		case out.onlyRehearsed(house):
			mock = append(mock, what)
		}
	}
	for _, what := range silent {
		r.problem(told, "nobody is told of high-priority alarms of %s: add [[tell]] with people = [\"...\"]", what)
	}
	for _, what := range late {
		r.problem(told, "nobody is told at once of high-priority alarms of %s: give one [[tell]] no \"after\"", what)
	}
	for _, what := range mock {
		r.warn(told, "nobody hears of high-priority alarms of %s: every channel that would tell only rehearses", what)
	}
}

// OnlyRehearsed lists of which houses nobody hears at high priority because
// every channel that would tell only rehearses; "" is the watch itself.
func (r Reach) OnlyRehearsed(houses []alarms.House) (out []alarms.HouseID) {
	for _, h := range append([]alarms.House{{}}, houses...) {
		if r.onlyRehearsed(string(h.ID)) {
			out = append(out, h.ID)
		}
	}
	return out
}

func (r Reach) onlyRehearsed(house string) bool {
	ever, _ := r.heard(house, r.Channels)
	really, _ := r.heard(house, r.sending())
	return ever && !really
}

// Hearers is how many people hear of anything over a channel that really sends.
func (r Reach) Hearers() int {
	n := 0
	for _, p := range r.People {
		if slices.ContainsFunc(r.Tell, func(rule Tell) bool {
			return slices.Contains(rule.People, p.ID) && len(r.ways(rule, p, r.sending())) > 0
		}) {
			n++
		}
	}
	return n
}

// sending are the channels that do not only rehearse.
func (r Reach) sending() []Channel {
	return slices.DeleteFunc(slices.Clone(r.Channels), func(c Channel) bool { return c.Rehearse })
}

// ways are the channels of some over which p hears by a rule.
func (r Reach) ways(rule Tell, p Person, over []Channel) []string {
	ways := shared(p.Channels, channelNames(over))
	if len(rule.Channels) > 0 {
		ways = shared(ways, rule.Channels)
	}
	return ways
}

// heard reports whether a person hears of high alarms of a house over any of
// some channels, and whether at once.
func (r Reach) heard(house string, over []Channel) (ever, atOnce bool) {
	for _, rule := range r.Tell {
		if len(rule.Houses) > 0 && !slices.Contains(rule.Houses, alarms.HouseID(house)) {
			continue
		}
		for _, p := range r.People {
			if slices.Contains(rule.People, p.ID) && len(r.ways(rule, p, over)) > 0 {
				ever, atOnce = true, atOnce || rule.After == 0
			}
		}
	}
	return ever, atOnce
}
