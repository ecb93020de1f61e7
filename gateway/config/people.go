package config

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// readReach reads channels, people and rules, and makes sure that somebody hears
// of every alarm of high priority.
func readReach(root *table, plan alarms.Plan) Reach {
	out := Reach{Channels: readChannels(root)}
	for _, t := range root.children("person") {
		p := readPerson(t, out.Channels, plan.Words)
		if i := slices.IndexFunc(out.People, func(o Person) bool { return o.Name == p.Name }); i >= 0 {
			root.problem(t.spot("name"), "is the name of person %s too; messages must tell them apart (got %q)", out.People[i].ID, p.Name)
		}
		checkNumber(t, p, out.People)
		out.People = append(out.People, p)
	}
	for _, t := range root.elements("tell") {
		out.Tell = append(out.Tell, readTell(t, out, plan))
	}
	out.Nobody = readNobody(root)
	checkHeard(root, out, plan)
	return out
}

func readPerson(t *table, channels []Channel, words alarms.Words) Person {
	defer t.done()
	t.checkID("a person")
	p := Person{ID: t.name, Name: t.text("name").or(t.name), Mail: t.mailAddress("mail").V, Phone: t.phone("phone").V,
		Tongue: t.language("language", words.Tongue)}
	if strings.Contains(p.Name, "|") {
		t.problem(t.spot("name"), "must not hold a bar (got %q)", p.Name)
	}
	from, to := t.clock("quiet-from"), t.clock("quiet-to")
	if from.Seen != to.Seen {
		t.problem(t.at, "quiet-from and quiet-to belong together: give both or neither")
	}
	p.QuietFrom, p.QuietTo = from.V%day, to.V%day
	texts := t.texts
	if t.r.copied != nil {
		texts = t.textsOrNone // this machine may have none of them
	}
	ways := need(t, texts("channels"), "name the ways to reach this person, such as channels = [\"mail\"]")
	p.Channels = ways.V
	for _, name := range ways.V {
		i := slices.IndexFunc(channels, func(c Channel) bool { return c.Name == name })
		switch {
		case i < 0:
			t.problem(ways.at, "names no channel of this file (got %q)%s", name, orList(name, channelNames(channels), "; channels: %s"))
		case channels[i].Kind == ByMQTT:
			t.problem(ways.at, "must not name %q: a channel of kind mqtt follows every alarm and reaches no person", name)
		case channels[i].Kind == ByMail && !t.has("mail"):
			t.problem(ways.at, "needs mail = \"address\" for the channel %q", name)
		}
	}
	p.Letter = wordOf(t, "letter", weekDays).V
	checkPhone(t, ways, channels)
	return p
}

func channelNames(channels []Channel) []string {
	return walk.Each(channels, func(c Channel) string { return c.Name })
}

func personIDs(people []Person) []string {
	return walk.Each(people, func(p Person) string { return p.ID })
}

func houseNames(plan alarms.Plan) []string {
	return walk.Each(plan.Houses, func(h alarms.House) string { return string(h.ID) })
}

// OrList suggests the name that was meant, or lists those there are.
func OrList(name string, known []string, what string) tongue.Saying {
	return orList(name, known, tongue.Text("; "+what+": %s")) // in no table: it is for the command line
}

func orList(name string, known []string, list tongue.Text) tongue.Saying {
	if hint := Meant(name, known); !hint.Empty() {
		return hint
	}
	return tongue.Put(list, listed(known))
}

func readTell(t *table, out Reach, plan alarms.Plan) Tell {
	defer t.done()
	rule := Tell{From: t.priority("from-priority"), After: t.span("after", 0, 7*day).V}
	if !t.has("from-priority") {
		rule.From = alarms.Low
	}
	if rule.After%time.Second != 0 {
		t.problem(t.spot("after"), "must be whole seconds (got %s)", span(rule.After))
	}
	people := need(t, t.texts("people"), "name whom to tell, such as people = [\"grower\"]")
	ways, houses := t.texts("channels"), t.texts("houses")
	rule.People, rule.Channels = people.V, ways.V
	for _, name := range ways.V {
		if known := channelNames(out.Channels); !slices.Contains(known, name) {
			t.problem(ways.at, "names no channel of this file (got %q)%s", name, orList(name, known, "; channels: %s"))
		}
	}
	for _, name := range people.V {
		t.checkTold(people.at, name, rule, out.People)
	}
	for _, name := range houses.V {
		rule.Houses = append(rule.Houses, alarms.HouseID(name))
		if known := houseNames(plan); !slices.Contains(known, name) {
			t.problem(houses.at, "names no house of this file (got %q)%s", name, orList(name, known, "; houses: %s"))
		}
	}
	return rule
}

func (t *table) checkTold(at place, name string, rule Tell, people []Person) {
	i := slices.IndexFunc(people, func(p Person) bool { return p.ID == name })
	if i < 0 {
		t.problem(at, "names no person of this file (got %q)%s", name, orList(name, personIDs(people), "; people: %s"))
		return
	}
	if p := people[i]; t.r.copied == nil && len(p.Channels) > 0 && len(rule.Channels) > 0 && len(shared(p.Channels, rule.Channels)) == 0 {
		t.problem(at, "%q has none of the channels of this rule (has %s)", name, listed(p.Channels))
	}
}

func shared(a, b []string) []string {
	return slices.DeleteFunc(slices.Clone(a), func(s string) bool { return !slices.Contains(b, s) })
}

// checkHeard tells houses of which nobody would hear at high priority, and
// those of which nobody would hear at once.
func checkHeard(root *table, out Reach, plan alarms.Plan) {
	cause := func(p Problem) bool {
		return !p.Warning && (strings.HasPrefix(p.Path, "tell") || strings.HasPrefix(p.Path, "person."))
	}
	if len(plan.Houses) == 0 || slices.ContainsFunc(root.r.found, cause) {
		return // what is told already may be the cause
	}
	told := place{root.spot("tell").line, "tell"}
	if stated := (place{root.spot(NobodyTold).line, NobodyTold}); root.has(NobodyTold) {
		if len(out.Tell) == 0 {
			root.warn(stated, "nobody is told of any alarm: they show on the page alone until you add [[tell]] with people = [\"...\"]")
			return
		}
		root.warn(stated, "is not so: [[tell]] names people; take one of the two out")
	}
	var silent, late, mock []tongue.Saying
	for _, house := range append([]string{""}, houseNames(plan)...) {
		what := tongue.Put("house %s", house)
		if house == "" {
			what = tongue.Put("the watch itself (broker lost, watch restarted)")
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
		root.problem(told, "nobody is told of high-priority alarms of %s: add [[tell]] with people = [\"...\"]", what)
	}
	for _, what := range late {
		root.problem(told, "nobody is told at once of high-priority alarms of %s: give one [[tell]] no \"after\"", what)
	}
	for _, what := range mock {
		root.warn(told, "nobody hears of high-priority alarms of %s: every channel that would tell only rehearses", what)
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

// Answers reports whether p can say that a letter arrived: by a link in it, or by text
// message. url is that of the page.
func (r Reach) Answers(p Person, url string) bool {
	for _, ch := range r.sending() {
		linked := ch.Kind == ByPush || url != "" && (ch.Kind == ByMail || ch.Kind == ByWebhook || ch.Kind == ByCommand)
		if slices.Contains(p.Channels, ch.Name) && (linked || ch.Kind == ByText) {
			return true
		}
	}
	return false
}

// checkLetters tells letters of which nobody can say that they arrived.
func checkLetters(c *Config, root *table) {
	for _, t := range root.children("person") {
		i := slices.IndexFunc(c.Reach.People, func(p Person) bool { return p.ID == t.name })
		if i < 0 || c.Reach.People[i].Letter == "" || c.Reach.Answers(c.Reach.People[i], c.Page.URL) {
			continue
		}
		root.warn(t.spot("letter"), "cannot be confirmed, so nobody notices when it does not arrive: give [page] link = \"https://...\", "+
			"from which its link is made, or a channel of kind push or text that does not only rehearse")
	}
}
