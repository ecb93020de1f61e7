package forms

import (
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/manual"
)

// kind is a table that has a form.
type kind struct {
	path  []string    // as in the manual: a part in capitals is a name of one's own
	title tongue.Text // of one of it; %s is its name
	more  tongue.Text // of a new one; empty: there is one, or each is made where its parent is
	says  tongue.Text // a caution
	kind  string      // the table is of this kind; empty: there are no kinds
	about tongue.Text // what it is, where the manual says that of all kinds at once
	needs int         // so many what it belongs to cannot be without
	draws bool        // what it says shows in the drawing of its house
	calls bool        // its key name is what it is called when it is made, as that was typed
	asked []string    // keys that a new one is asked for first
}

const (
	watched     tongue.Text = "This changes what is watched. The dial is turned by hand: Telltale switches nothing, and the thermostat stays in charge."
	electrician tongue.Text = "Sensing current in a panel, and all work at mains, is for a licensed electrician under the local code."
)

// kinds are the tables that have a form, in the order in which they are offered.
var kinds = []kind{
	{path: []string{"words"}, title: "How figures and times are written"},
	{path: []string{"house", "NAME"}, title: "The house %s", more: "A further house", draws: true, calls: true, asked: []string{"latitude", "longitude", "directions"}},
	{path: []string{"house", "NAME", "form"}, title: "Its shape in the drawing", draws: true},
	{path: []string{"house", "NAME", "form", "bench"}, title: "Benches and beds in the drawing", draws: true},
	{path: []string{"house", "NAME", "place", "PLACE"}, title: "Place %s", more: "A further place in the house", needs: 1, draws: true, calls: true, asked: []string{"crop", "directions"}},
	{path: []string{"house", "NAME", "place", "PLACE", "QUANTITY"}, title: "Limits of %s", more: "Limits of another quantity"},
	{path: []string{"house", "NAME", "place", "PLACE", "exposure", "EXPOSURE"}, title: "Time beyond a limit: %s", more: "A further harm by time beyond a limit"},
	{path: []string{"house", "NAME", "control", "CONTROL"}, title: "Thermostat %s", more: "A further thermostat or humidistat", says: watched},
	{path: []string{"house", "NAME", "control", "CONTROL", "stage", "STAGE"}, title: "Stage %s", more: "A further stage", says: watched, needs: 1},
	{path: []string{"house", "NAME", "drive", "DRIVE"}, title: "Drive %s", more: "A further fan, shutter, heater, light or mist", says: watched, draws: true},
	{path: []string{"house", "NAME", "drive", "DRIVE", "evidence"}, title: "What shows that it runs", says: electrician},
	{path: []string{"house", "NAME", "circuit", "CIRCUIT"}, title: "Circuit %s", more: "A further circuit", says: electrician},
	{path: []string{"house", "NAME", "selector", "SELECTOR"}, title: "Switch, cover or knob %s", more: "A further switch, cover or knob", says: watched},
	{path: []string{"house", "NAME", "selector", "SELECTOR", "position", "POSITION"}, title: "Position %s", more: "A further position", needs: 2},
	{path: []string{"house", "NAME", "opening", "OPENING"}, title: "Door, window or lid %s", more: "A further door, window or lid"},
	{path: []string{"house", "NAME", "loop"}, title: "The ground loop", says: electrician},
	{path: []string{"house", "NAME", "loop", "soil"}, title: "The ground as it would be without pipes"},
	{path: []string{"house", "NAME", "loop", "pipe", "OUTLET"}, title: "Pipe %s", more: "A further pipe", needs: 1},
	{path: []string{"probe", "PROBE"}, title: "Probe %s"},
	{path: []string{"probe", "PROBE", "QUANTITY"}, title: "What it sends of %s"},
	{path: []string{"person", "PERSON"}, title: "%s|a person", more: "A further person"},
	{path: channelPath, kind: "mail", title: "Mail: %s", more: "A further mail server", says: outside, about: "A mail server that sends messages to people."},
	{path: channelPath, kind: "push", title: "Alarms on phones: %s", more: "Alarms on phones with the page closed", about: "Messages to the phones and browsers that people register under This device. The page must be opened there by https."},
	{path: channelPath, kind: "text", title: "Text messages: %s", more: "Text messages", about: "Text messages through the modem of this board."},
	{path: channelPath, kind: "webhook", title: "Another program: %s", more: "Another program that takes messages", says: outside, about: "A program elsewhere that messages are posted to, signed."},
	{path: []string{"tell"}, title: "Who is told of what"},
	{path: []string{"reminders"}, title: "Acknowledged, and told again"},
	{path: []string{"chatter"}, title: "What comes and goes"},
}

// Channels are the kinds of channel that have a form.
func Channels() (all []string) {
	for _, k := range kinds {
		if k.kind != "" {
			all = append(all, k.kind)
		}
	}
	return all
}

// folded are tables that are part of the form of what they belong to, by their last part.
var folded = []string{"at", "while", "runs", "running", "damper", "WHEN"}

// section is what the manual says of a table.
func (b builder) section(path []string) (manual.Section, bool) { return b.sectionOf(path, "") }

// sectionOf is what it says of a table of a kind alone.
func (b builder) sectionOf(path []string, kind string) (manual.Section, bool) {
	i := slices.IndexFunc(b.sections, func(s manual.Section) bool { return slices.Equal(s.Path, path) && s.Kind == kind })
	if i < 0 {
		return manual.Section{}, false
	}
	return b.sections[i], true
}

// inside are the folded sections of a kind.
func (b builder) inside(k *kind) (all []manual.Section) {
	for _, s := range b.sections {
		if n := len(s.Path); n == len(k.path)+1 && slices.Equal(s.Path[:n-1], k.path) && slices.Contains(folded, s.Path[n-1]) {
			all = append(all, s)
		}
	}
	return all
}

// own reports whether a part of a path of the manual stands for a name of one's own.
func own(part string) bool { return part != "" && part == strings.ToUpper(part) }

// fits reports whether a path of a file is one of a kind.
func (b builder) fits(k *kind, path []string) bool {
	if len(path) != len(k.path) {
		return false
	}
	for i, part := range k.path {
		if !own(part) && part != path[i] {
			return false
		}
	}
	if k.kind != "" {
		return path[len(path)-1] == fresh+k.kind || b.d.Value(append(slices.Clone(path), "kind")...) == k.kind
	}
	return !own(k.path[len(k.path)-1]) || !b.reserved(k, path[len(path)-1])
}

// reserved reports whether a name is that of a table of another kind at the same place,
// so that [house.NAME.place.PLACE.at] is no quantity.
func (b builder) reserved(k *kind, name string) bool {
	n := len(k.path) - 1
	for _, s := range b.sections {
		if len(s.Path) > n && slices.Equal(s.Path[:n], k.path[:n]) && s.Path[n] == name {
			return true
		}
	}
	return false
}

// barred are keys that no form offers: files, secrets and servers.
func barred(key string) bool {
	return strings.HasSuffix(key, "-file") || strings.HasSuffix(key, "-env") || key == "url"
}

// quantities are those that take limits.
func quantities() (all []string) {
	for _, q := range alarms.Quantities {
		if q.Facts().Limited {
			all = append(all, string(q))
		}
	}
	return all
}
