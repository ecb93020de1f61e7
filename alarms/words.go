package alarms

import (
	"fmt"
	"slices"
	"time"
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

// The seasons a house knows.
const (
	SeasonOpen     Season = "open"     // vents and exhaust fan in use
	SeasonChanging Season = "changing" // vents being covered or uncovered
	SeasonWinter   Season = "winter"   // vents covered, loop fan alone
)

// Seasons lists every season in the order of the year.
var Seasons = []Season{SeasonOpen, SeasonChanging, SeasonWinter}

// Quantity is what a probe measures, or what is derived from it.
type Quantity string

// Quantities and their units. The core knows no other unit: converting is the
// decoder's work on the way in and the sentence's on the way out.
const (
	Temperature Quantity = "temperature" // air, °C
	Humidity    Quantity = "humidity"    // relative humidity over water, % (0 to 100)
	Surface     Quantity = "surface"     // leaf or cover surface temperature, °C
	Soil        Quantity = "soil"        // soil or root zone temperature, °C
	VPD         Quantity = "vpd"         // vapour pressure deficit, kPa; derived
	DewMargin   Quantity = "dew-margin"  // surface minus dew point, K; derived
	Contact     Quantity = "contact"     // 0 open, 1 closed
	Current     Quantity = "current"     // A
	Power       Quantity = "power"       // W
	Speed       Quantity = "speed"       // % of full (0 to 100)
	Opening     Quantity = "position"    // of a vent or shutter, % open (0 to 100)
	Battery     Quantity = "battery"     // % of full (0 to 100)
	Voltage     Quantity = "voltage"     // V
	Signal      Quantity = "signal"      // received signal strength, dBm
	Pressure    Quantity = "pressure"    // Pa
)

// Quantities lists every quantity, measured ones first.
var Quantities = []Quantity{Temperature, Humidity, Surface, Soil, Contact, Current, Power,
	Speed, Opening, Battery, Voltage, Signal, Pressure, VPD, DewMargin}

// Derived reports whether the core computes q itself from temperature and
// humidity; no probe may claim it.
func (q Quantity) Derived() bool { return q == VPD || q == DewMargin }

// Known reports whether q is one of Quantities.
func (q Quantity) Known() bool { return slices.Contains(Quantities, q) }

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

// Words says how sentences are written.
type Words struct {
	Fahrenheit bool           // temperatures in °F instead of °C
	Zone       *time.Location // clock times; nil means UTC

	asked *bool // set when the unit of temperature is asked for; nil: nobody wants to know
}

// inFahrenheit reports whether what follows is in °F, or ft, instead of °C, or m.
func (w Words) inFahrenheit() bool {
	if w.asked != nil {
		*w.asked = true
	}
	return w.Fahrenheit
}

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
