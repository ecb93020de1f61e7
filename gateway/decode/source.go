package decode

import (
	"time"

	"telltale/alarms"
)

// Form is how a payload is written.
type Form string

// Forms.
const (
	Number Form = "number" // one number, or a word for a contact
	JSON   Form = "json"   // RFC 8259, values chosen by RFC 6901 pointers
	SenML  Form = "senml"  // RFC 8428 in JSON, values chosen by resolved names
	Line   Form = "line"   // line protocol, values chosen by measurement, tags and field
)

// Forms lists every form.
var Forms = []Form{Number, JSON, SenML, Line}

// Source says what one probe publishes under one topic filter. A probe may
// have several sources, a topic may serve several probes.
type Source struct {
	Probe  alarms.ProbeID
	Filter string // MQTT topic filter, + and # allowed
	Form   Form
	Reads  []Read
	Clock  Clock
	// Where is put before each error about this source, for example the file
	// and line it was written in. Empty: the probe's name.
	Where string
}

// Read chooses one quantity out of a payload.
type Read struct {
	Quantity alarms.Quantity `json:"quantity"`
	// At is where the value is found. JSON: an RFC 6901 pointer, empty for the
	// whole payload. SenML: the resolved name (base name and name joined).
	// Line: the field key. Number: empty.
	At string `json:"at,omitempty"`
	// Measurement (Line only) must be the line's measurement; empty: any.
	Measurement string `json:"measurement,omitempty"`
	// Tags (Line only) must all be on the line with these values.
	Tags map[string]string `json:"tags,omitempty"`
	// Unit of the value as sent, for example "°F" or "ratio"; empty: the unit
	// that the payload states, else the core's own. A payload that states
	// another unit than Unit is refused: one of the two is wrong.
	Unit string `json:"unit,omitempty"`
	// Factor times the number sent is the value in Unit, for probes that send
	// tenths or hundredths; 0 means 1.
	Factor float64 `json:"factor,omitempty"`
	// Inverted (Contact only): 1, true, on and closed mean open.
	Inverted bool `json:"inverted,omitempty"`
	// Optional: not every payload has it, so its absence is no problem.
	Optional bool `json:"optional,omitempty"`
}

// Clock says how a payload tells when it was measured.
type Clock struct {
	// At (JSON only) is the pointer to the time; empty: the probe has no clock.
	At string
	// Unit says what a number counts: s, ms, us or ns since 1970. JSON: empty
	// means s; text must then be RFC 3339 or such a number. Line: empty means
	// ns. SenML carries its own rule and takes none.
	Unit TimeUnit
}

// For returns what of c a payload of form f can have.
func (c Clock) For(f Form) Clock {
	switch {
	case f == JSON && c.At != "":
		return c
	case f == Line:
		return Clock{Unit: c.Unit}
	}
	return Clock{}
}

// TimeUnit is what a number that states a time counts since 1970 in UTC.
type TimeUnit string

// TimeUnits lists every unit of time.
var TimeUnits = []TimeUnit{Seconds, Milliseconds, Microseconds, Nanoseconds}

// Units of time.
const (
	Seconds      TimeUnit = "s"
	Milliseconds TimeUnit = "ms"
	Microseconds TimeUnit = "us"
	Nanoseconds  TimeUnit = "ns"
)

// Value is one value of one probe, finite and in the unit of its quantity.
type Value struct {
	Probe    alarms.ProbeID
	Quantity alarms.Quantity
	Value    float64
	Measured time.Time // by the probe's own clock, as given; zero if it gave none
}

// Cause says in one word why something could not be read. There are few, and
// they do not change, so that they can be counted.
type Cause string

// Causes.
const (
	BadSyntax  Cause = "syntax"       // not the declared form at all
	TooLarge   Cause = "too-large"    // longer than maxPayload
	Missing    Cause = "missing"      // the place named in the config is not there
	NoValue    Cause = "no-value"     // there, but null: the probe itself has none
	WrongType  Cause = "wrong-type"   // there, but a list, text or the like
	NotNumber  Cause = "not-a-number" // text that is no number
	Comma      Cause = "comma"        // a comma where a decimal point belongs
	NotFinite  Cause = "not-finite"   // NaN, infinite, or too large to hold
	BadUnit    Cause = "unit"         // states a unit that contradicts the config
	BadTime    Cause = "time"         // its time cannot be read; the value is kept
	BadVersion Cause = "version"      // SenML newer than version 10
	NotKnown   Cause = "must-know"    // SenML field that must be understood, and is not
	Unmatched  Cause = "unmatched"    // good in form, but nothing in it is claimed
)

// Problem is what could not be read of one payload for one probe and cause.
type Problem struct {
	Probe  alarms.ProbeID // empty with Unmatched: it concerns no probe alone
	Cause  Cause
	Detail string // a sentence: what was got and what would be right
	// Quantities of which the payload gave no value, though it should have.
	Quantities []alarms.Quantity
	// First: not met with this probe and cause before, or not for a day. A
	// problem that is not First need not be logged again.
	First bool
}

// maxPayload is the longest payload that is read, bytes.
const maxPayload = 256 << 10
