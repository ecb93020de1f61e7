package alarms

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms/tongue"
)

// Typed names. All are lower-case words joined by hyphens, as written in the
// config; a ProbeID is unique over the whole plan, the others within a house.
type (
	HouseID   string
	PlaceID   string
	ProbeID   string
	CircuitID string

	// AlarmID names one alarm for ever, for example
	// "long-house/bench/temperature/high", "long-house/bench/unwatched",
	// "long-house/bench/bench-1/silent", "long-house/north-circuit/silent",
	// "long-house/silent" or "watch/broker/silent".
	AlarmID string

	// Season is one of the seasons of a house's year, set by a person.
	Season string
)

const (
	aheadOf = "/ahead"
	dayOf   = "/day"
)

// Ahead is the warning that what a limit's alarm tells of is near.
func (id AlarmID) Ahead() AlarmID { return id + aheadOf }

// Day is that it will likely come to that today, or tonight.
func (id AlarmID) Day() AlarmID { return id + dayOf }

// Story is the alarm whose story id is told in: a warning and what it warns of are one.
func (id AlarmID) Story() AlarmID {
	return AlarmID(strings.TrimSuffix(strings.TrimSuffix(string(id), aheadOf), dayOf))
}

// The seasons a house knows.
const (
	SeasonOpen     Season = "open"     // vents and exhaust fan in use
	SeasonChanging Season = "changing" // vents being covered or uncovered
	SeasonWinter   Season = "winter"   // vents covered, loop fan alone
)

// Seasons lists every season in the order of the year.
var Seasons = []Season{SeasonOpen, SeasonChanging, SeasonWinter}

// Priority says how soon a person must act.
type Priority uint8

// Priorities, lowest first. NoPriority marks "not given".
const (
	NoPriority Priority = iota
	Low
	Medium
	High
)

var priorityNames = [...]string{"none", "low", "medium", "high"}

func (p Priority) String() string { return name(priorityNames[:], int(p)) }

// Daypart says when a band holds.
type Daypart uint8

// Dayparts. Always is the zero value.
const (
	Always Daypart = iota
	Day
	Night
)

var daypartNames = [...]string{"always", "day", "night"}

func (d Daypart) String() string { return name(daypartNames[:], int(d)) }

// Words says how the garden's sentences are written: package say does.
type Words struct {
	Fahrenheit bool           // temperatures in °F instead of °C
	Zone       *time.Location // clock times; nil means UTC
	Tongue     tongue.Tongue  // the language of what is kept
}

// What the watch itself writes where else the name or the words of a person stand: in By
// and Note of inputs and reasons. Package say has it in each language.
const (
	ByPage = "somebody at the page"
	ByLink = ", by a link" // behind the name of a person

	NoteNoEnd     = "not shelved: an end in the future is needed"
	NoteTooLong   = "not shelved: 7 days are the most; take the alarm out of service instead"
	NoteTrialLong = "not noted that something is tried: 24 h are the most"
	NoteReplanned = "the config was changed"
	NoteAtFirst   = "as at the first watch" // what the first does not say who did
	NoteByText    = "by text message"
)

func name(names []string, i int) string {
	if i < 0 || i >= len(names) {
		return "unknown"
	}
	return names[i]
}

// MarshalText writes p as its name.
func (p Priority) MarshalText() ([]byte, error) { return []byte(p.String()), nil }

// UnmarshalText reads a name that MarshalText wrote.
func (p *Priority) UnmarshalText(b []byte) error { return read(priorityNames[:], b, p) }

// MarshalText writes d as its name.
func (d Daypart) MarshalText() ([]byte, error) { return []byte(d.String()), nil }

// UnmarshalText reads a name that MarshalText wrote.
func (d *Daypart) UnmarshalText(b []byte) error { return read(daypartNames[:], b, d) }

func read[T ~uint8](names []string, b []byte, into *T) error {
	for i, n := range names {
		if n == string(b) {
			*into = T(i)
			return nil
		}
	}
	return fmt.Errorf("got %q, want one of %q", b, names)
}
