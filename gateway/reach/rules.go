package reach

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/alarms/tongue"
)

// Rules say who is told what, when and how. They are data: nothing here acts.
type Rules struct {
	People   []Person
	Tell     []Rule
	Follow   []string // channels that get every transition at once, for no person: MQTT
	Channels []string // names of all channels that exist
	Houses   []House  // for names
	Words    alarms.Words
	// Plan is what a transition is said again by for who is told in another language than
	// that of Words; nil: its sentence stays as it is.
	Plan *alarms.Plan
	Page string // address of the page, given in messages
	// Link makes the address by which a person may acknowledge an alarm while
	// that transition is its newest one, until the given time; nil: no links.
	Link     func(alarm alarms.AlarmID, transition, person string, until time.Time) string
	LinksFor time.Duration // after the person is told
	// Leaves are those that run, and those that ran while something was on that may end yet.
	Leaves []alarms.Leave
}

// LocaleOf is how a person is told: as the garden's words are, in their own language.
func (r Rules) LocaleOf(person string) say.Locale {
	if p, ok := r.person(person); ok {
		r.Words.Tongue = p.Tongue
	}
	return say.In(r.Words)
}

// House names a house.
type House struct {
	ID   alarms.HouseID
	Name string // default the ID
}

// Person is somebody who can be told.
type Person struct {
	Name     string
	Channels []string
	Quiet    Quiet
	Tongue   tongue.Tongue // the language of what they are told
	NoLink   bool          // may not acknowledge, so gets no link that does
}

// Quiet are the hours in which a person is told of high priority only. Medium
// and low wait until the hours end and are dropped when the alarm has been
// acknowledged or has returned by then. High priority always breaks through.
// From equal to To means no quiet hours.
type Quiet struct {
	From time.Duration // after local midnight; may be later than To: over midnight
	To   time.Duration // after local midnight, not in the quiet hours itself
	Zone *time.Location
}

// Rule says that some people are told of some alarms.
type Rule struct {
	Houses []alarms.HouseID // empty: all, and what belongs to no house
	From   alarms.Priority  // this priority and above
	People []string         // names
	// Channels narrows the people's own channels; empty: all of theirs.
	Channels []string
	// After is how long the alarm must have stayed unacknowledged before these
	// people are told: the next person in line, or patience with small things.
	// 0 tells at once.
	After time.Duration
}

// Outgoing is one row for the outbox.
type Outgoing struct {
	// ID is the same whenever the same transition is routed by the same rules:
	// saving it twice is harmless.
	ID         string
	Transition string // ID of the transition; empty for a test message
	Alarm      alarms.AlarmID
	Channel    string
	Person     string // empty on a followed channel
	NotBefore  time.Time
	// Cancellable rows must be dropped, if not yet delivered, as soon as a later
	// transition of the alarm is one that Cancels.
	Cancellable bool
	// Replaces says that waiting Cancellable rows of the same alarm, person and
	// channel must be dropped for this one, which says the same as of now.
	Replaces bool
	Body     []byte // an Event as JSON
	// Known is set once it is saved: it was saved before, and may have been told.
	Known bool
}

// Cancels reports whether t makes the alarm's waiting Cancellable rows
// pointless: it was acknowledged, it returned, or it was put aside.
func Cancels(t alarms.Transition) bool {
	return t.Move != alarms.Note && t.To != alarms.Unacknowledged
}
