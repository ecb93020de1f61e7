package page

import (
	"context"
	"errors"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
	"telltale/gateway/config/forms"
	"telltale/gateway/decode"
)

// First is what the page needs to set up what is watched: to see what arrives
// at the broker and to write it into the configuration.
type First interface {
	// Arrivals are the topics that came lately. To ask makes the watch listen
	// to all of them for some minutes.
	Arrivals() Arrivals
	// Proposals say how the newest payloads of a topic could be read, or in a
	// sentence why they cannot, as tongue.Keep has it.
	Proposals(topic string) (ps []decode.Proposal, why string)
	// Garden is what the configuration in the file says so far.
	Garden() (Garden, error)
	// Crops are what each crop brings to a place whose probe measures
	// temperature and humidity, as the configuration is read.
	Crops() []CropPlace
	// Draft says what would be written.
	Draft(w Wish) (Draft, error)
	// GiveAccount makes an account for a new probe at the watch's own broker, and
	// makes the watch start again with it, where the file still has that mark.
	// Errors: as of Write.
	GiveAccount(ctx context.Context, name, mark, by string) (ProbeAccount, error)
	// Write writes a wish as it was shown by the draft with that mark, and
	// makes the watch start again with it. Errors: ErrFirstChanged,
	// *FirstRefused.
	Write(ctx context.Context, w Wish, mark, by string) error
}

// ErrFirstChanged: the file is no longer what the draft was made for.
var ErrFirstChanged = errors.New("the configuration was changed meanwhile")

// FirstRefused says why nothing was written, one sentence a problem.
type FirstRefused struct{ Problems []tongue.Saying }

// In is what it says, in a language.
func (f *FirstRefused) In(t tongue.Tongue) string {
	return strings.Join(walk.Each(f.Problems, func(p tongue.Saying) string { return p.In(t) }), " ")
}

func (*FirstRefused) Error() string { return "the configuration was not written" }

// ProbeAccount is what is typed into a probe.
type ProbeAccount struct {
	User, Password string
	Topic          string // and all that begins with it and a slash
	Host           string // empty: whichever of this machine's addresses a visitor uses
	Port           string
	TLS            bool
	File           string // that has the password
}

// Arrivals is what came to the broker since somebody began to look.
type Arrivals struct {
	Up      bool
	Why     string // on the connection; empty: it is only being made
	Broker  string // host:port of the watch's own broker; empty: another is used
	Topics  []Arrival
	Further uint64 // messages on more topics than are remembered
}

// Arrival is one topic.
type Arrival struct {
	Topic    string
	Count    uint64
	Retained bool // nothing but what the broker had kept
	Last     time.Time
	Every    time.Duration // 0: not known yet
	Payload  string        // the newest, as far as it can be shown
	Size     int           // bytes of it
	Binary   bool          // Payload shows bytes
	Seems    string        // what it seems to be, as tongue.Keep has it
	Probes   []string      // that read it already
}

// Garden is what the configuration says of houses and places.
type Garden struct {
	File       string
	Name       string
	Fahrenheit bool // how the file writes temperatures
	Watches    bool // there is a house
	Told       bool // somebody is told of alarms
	// Gives says that a new probe can be given an account of its own; Without, that
	// there are probes which publish without one, and could not any more.
	Gives, Without bool
	Mark           string // of the file
	Houses         []GardenHouse
}

// GardenHouse is one house.
type GardenHouse struct {
	ID, Name string
	KnowsDay bool // it can tell day from night
	Places   []GardenPlace
}

// CropPlace is a place for which the configuration names a crop and no more.
type CropPlace struct {
	Crop  string
	Place alarms.Place
}

// GardenPlace is one place.
type GardenPlace struct{ ID, Name, Crop string }

// Wish is what somebody wants to be watched.
type Wish struct {
	Topic, Form, TimeFrom, TimeUnit string
	Reads                           []decode.Read
	Probe                           string // its name, as people say it
	Every                           string // at the latest so often; empty: learned
	// House and Place are IDs of the file; where empty, new ones are made.
	House, Place, HouseName, PlaceName string
	Outside                            bool // the new place is that outside
	Latitude, Longitude                *float64
	DayFrom, DayTo                     string
	Crop                               string
	Limits                             []WishLimits
	OutsideCrop                        string // why limits lie beyond the crop's; empty: they do not
	// Of the garden; empty: left as it is.
	GardenName, Degrees, Zone string
	// Mail tells a first person; nil: nobody more is told.
	Mail *WishMail
}

// WishLimits are the limits of one quantity, in the file's unit.
type WishLimits struct {
	Quantity                    alarms.Quantity
	LowLow, Low, High, HighHigh *float64
}

// WishMail is a person and the mail server to reach them by.
type WishMail struct{ Person, Address, Server, Security, From, User, Password string }

// Draft is what would be written.
type Draft struct {
	Mark     string // of the file that it was made for
	Lines    []forms.Line
	Problems []tongue.Saying // with which it will not be written
	Warnings []tongue.Saying
	Probe    alarms.ProbeID
	Place    alarms.Place // where it hangs, in the plan that the new text gives
	Gives    []Given      // what the probe would read from the newest payload
}

// Given is one value.
type Given struct {
	Quantity alarms.Quantity
	Value    float64
	From     string
}
