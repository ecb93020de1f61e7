package config

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// Reach says who is told what, when and how.
type Reach struct {
	Channels []Channel
	People   []Person
	Tell     []Tell
	Nobody   string // why it is meant that nobody is told; empty: not meant
}

// ChannelKind is how a channel reaches people.
type ChannelKind string

// Kinds of channel.
const (
	ByMail    ChannelKind = "mail"
	ByWebhook ChannelKind = "webhook"
	ByCommand ChannelKind = "command"
	ByPush    ChannelKind = "push"
	ByMQTT    ChannelKind = "mqtt"
)

// Channel is one way to tell people. Only the part that Kind names counts. A
// channel of kind mqtt is followed: it gets every transition, for no person.
type Channel struct {
	Name     string
	Kind     ChannelKind
	Rehearse bool          // log what would be told, send nothing
	Timeout  time.Duration // of one message; 0: the channel's default
	Burst    int           // messages that one person may get at once; 0: default
	Every    time.Duration // then one in this time; 0: default
	Mail     Mail
	Webhook  Webhook
	Command  Command
	Push     Push
	MQTT     MQTT
}

// Mail is a mail server that takes messages over.
type Mail struct {
	Server   string // host:port
	Security string // starttls, tls or none
	User     string
	Password Secret
	From     string // address
	CAFile   string // PEM; empty: the system's authorities
}

// Webhook is an HTTP address to post to.
type Webhook struct {
	URL        Secret // it may hold a token
	Secret     Secret // signs each message; 24 to 64 bytes, decoded
	AllowPlain bool   // http to other machines
	CAFile     string // PEM; empty: the system's authorities
}

// Command is a program to run.
type Command struct {
	Program string // absolute path
	Args    []string
}

// MQTT tells lamps and the like over the watch's own broker connection.
type MQTT struct {
	Prefix string // of the topics
}

// Person is somebody who can be told.
type Person struct {
	ID       string // as in Tell
	Name     string // as in messages
	Channels []string
	Mail     string        // address, for channels of kind mail
	Phone    string        // number in international form, for channels of kinds text and ring
	Tongue   tongue.Tongue // the language of what they are told
	// Quiet hours by the clock on the wall in the zone of the plan's words;
	// over midnight when QuietFrom is later. Equal: none.
	QuietFrom, QuietTo time.Duration
	Letter             WeekDay // on which a letter comes; empty: none does
}

// WeekDay is a day of the week by its name.
type WeekDay string

// weekDays are those of time.Weekday in its order.
var weekDays = []WeekDay{"sunday", "monday", "tuesday", "wednesday", "thursday", "friday", "saturday"}

// Of is d as a time.Weekday.
func (d WeekDay) Of() time.Weekday { return time.Weekday(slices.Index(weekDays, d)) }

// Tell is one rule: these people are told of alarms of this priority and above.
type Tell struct {
	People   []string // IDs
	From     alarms.Priority
	Houses   []alarms.HouseID // empty: all, and what belongs to no house
	Channels []string         // empty: all of the people's
	After    time.Duration    // only if nobody acknowledged for this long
}
