package alarms

import (
	"strconv"
	"strings"
	"time"
)

// Picture is a copy of all that can be seen of the core at one moment. It
// shares nothing with the engine and may be read by anybody. The engine leaves
// what is in words empty: that is made of the rest, and of what JSON leaves out.
type Picture struct {
	At        time.Time      `json:"at"`
	Link      bool           `json:"link"` // the broker is reached
	LinkSince time.Time      `json:"link_since,omitzero"`
	Newest    time.Time      `json:"newest,omitzero"` // newest live reading of all
	Sentence  string         `json:"sentence"`        // is all well?
	Unsteady  bool           `json:"-"`               // the link comes and goes
	Houses    []HousePicture `json:"houses"`
	Alarms    []AlarmPicture `json:"alarms"`           // all that are not normal, by WorstFirst
	Leaves    []Leave        `json:"leaves,omitempty"` // of people who are not at hand
}

// Alarm is how an alarm stands; of one that is normal, an empty one.
func (p *Picture) Alarm(id AlarmID) AlarmPicture {
	for _, a := range p.Alarms {
		if a.ID == id {
			return a
		}
	}
	return AlarmPicture{}
}

// HousePicture is one house.
type HousePicture struct {
	ID       HouseID        `json:"id"`
	Name     string         `json:"name"`
	Season   Season         `json:"season"`
	Proposed Season         `json:"proposed,omitempty"`  // season that is due
	InSeason []string       `json:"in_season,omitempty"` // what this season takes out, and why
	Daypart  Daypart        `json:"daypart"`
	Newest   time.Time      `json:"newest,omitzero"` // newest live reading
	Worst    Priority       `json:"worst"`           // of its active alarms, and of those put aside that still hold
	Sentence string         `json:"sentence"`        // the state of the house
	Places   []PlacePicture `json:"places"`
	Loop     *LoopPicture   `json:"loop,omitempty"` // nil: the house has none

	Dark   bool       `json:"-"` // nothing is believed of any place
	Trials []Trial    `json:"-"` // what somebody tries on its drives
	Slow   []SlowRate `json:"-"` // whose rates are not judged
	Dials  []Dial     `json:"-"` // where they were found to switch on

	Drives    []DrivePicture    `json:"drives,omitempty"`
	Openings  []OpeningPicture  `json:"openings,omitempty"`
	Selectors []SelectorPicture `json:"selectors,omitempty"`
}

// PlacePicture is one place.
type PlacePicture struct {
	ID     PlaceID        `json:"id"`
	Name   string         `json:"name"`
	Points []PointPicture `json:"points"`
	Probes []ProbePicture `json:"probes"`

	Exposures []ExposurePicture `json:"exposures,omitempty"`

	Outlook *OutlookPicture `json:"outlook,omitempty"` // nil: its temperature has no limit
}

// ExposurePicture is how long one place has been beyond one limit.
type ExposurePicture struct {
	Alarm    AlarmID  `json:"alarm"`
	Quantity Quantity `json:"quantity"`
	Reached  bool     `json:"reached"`  // that does harm, and is not over
	Sentence string   `json:"sentence"` // hours so far, and how many do harm
	ExposureReason
}

// Any reports whether there has been any exposure that counts.
func (x ExposurePicture) Any() bool { return x.Time > 0 || x.DegreeHours > 0 || x.Running > 0 }

// PointPicture is one quantity of one place.
type PointPicture struct {
	Quantity Quantity  `json:"quantity"`
	HasValue bool      `json:"has_value"`
	Value    float64   `json:"value"`           // of the newest believed reading
	At       time.Time `json:"at,omitzero"`     // when it was received
	Live     bool      `json:"live"`            // fresh, believed and not retained
	Retained bool      `json:"retained"`        // only a retained value is known
	Probe    ProbeID   `json:"probe"`           // that gave Value
	Limits   Limits    `json:"limits"`          // in force now
	Rate     *float64  `json:"rate,omitzero"`   // per hour, where a rate limit is set and enough is known
	Shows    string    `json:"shows,omitempty"` // what a contact says of its drive: "is open"
	Seen     *Seen     `json:"-"`
	Level    Level     `json:"level"` // beyond a limit, before any delay
	Side     Side      `json:"side"`
}

// ProbePicture is one probe.
type ProbePicture struct {
	ID       ProbeID       `json:"id"`
	Name     string        `json:"name"`
	Circuit  CircuitID     `json:"circuit"`
	Heard    time.Time     `json:"heard,omitzero"` // last live message
	Interval time.Duration `json:"interval_ns"`    // given or learned; 0: not yet known
	Learned  bool          `json:"learned"`
	Silent   bool          `json:"silent"`
	OutOf    bool          `json:"out_of_service"`
	Faults   []Fault       `json:"faults,omitempty"`
	Battery  *float64      `json:"battery,omitempty"` // %
	Signal   *float64      `json:"signal,omitempty"`  // dBm
	Readings uint64        `json:"readings"`          // live readings taken
	Refused  uint64        `json:"refused"`           // late, doubled or unbelieved readings
	Garbled  uint64        `json:"garbled"`           // payloads that could not be read

	Values       []ProbeValue         `json:"values"` // all that it measures
	Calibrations []CalibrationPicture `json:"calibrations,omitempty"`

	OutSince time.Time `json:"out_since,omitzero"` // of service
	OutBy    string    `json:"out_by,omitempty"`
	OutNote  string    `json:"out_note,omitempty"` // why
}

// ProbeValue is the newest value of one quantity of one probe.
type ProbeValue struct {
	Quantity Quantity  `json:"quantity"`
	HasValue bool      `json:"has_value"`
	Value    float64   `json:"value"`
	At       time.Time `json:"at,omitzero"` // when it was received
	Live     bool      `json:"live"`        // fresh, believed and not retained
	Retained bool      `json:"retained,omitempty"`
	Shows    string    `json:"shows,omitempty"` // as of a point
	Seen     *Seen     `json:"-"`
}

// Seen is what a contact says of what it hangs on.
type Seen struct {
	Kind DriveKind // of the drive; what people open and shut is like a shutter
	Runs bool      // or is open
}

// AlarmPicture is one alarm that is not normal.
type AlarmPicture struct {
	ID         AlarmID   `json:"id"`
	Transition string    `json:"transition"` // ID of its newest transition
	News       string    `json:"news"`       // ID of its newest transition that is more than a repeat
	State      State     `json:"state"`
	Level      Level     `json:"level"`
	Priority   Priority  `json:"priority"`
	House      HouseID   `json:"house,omitempty"`
	Place      PlaceID   `json:"place,omitempty"`
	Quantity   Quantity  `json:"quantity,omitempty"`
	Rule       Rule      `json:"rule"`
	Since      time.Time `json:"since"` // when it was raised, or put in this state
	Active     bool      `json:"active"`
	Chattering bool      `json:"chattering"`
	Until      time.Time `json:"until,omitzero"`    // end of shelving, or of the way of whoever acknowledged it
	Reaches    *float64  `json:"reaches,omitempty"` // °C, a limit that may be reached by Until: the time in hand set that
	By         string    `json:"by,omitempty"`      // who acknowledged it, shelved it or took it out of service
	Note       string    `json:"note,omitempty"`    // and why
	Cause      AlarmID   `json:"cause,omitempty"`
	Title      string    `json:"title"`                 // what it is about, in a few words
	Sentence   string    `json:"sentence"`              // what holds now; to be shown, not to be kept
	First      string    `json:"check_first,omitempty"` // what a grower should look at first, in a sentence
	Left       string    `json:"left,omitempty"`        // how long there is until the next limit, in a sentence
	Told       string    `json:"told"`                  // what held when it was last told; may be kept
	Present    Present   `json:"present"`               // what holds now, as data

	Of    Subject     `json:"-"`
	Now   *Transition `json:"-"` // as it would be told now; nil: nothing holds
	Last  *Told       `json:"-"` // what was last told; nil: nothing
	Gauge *float64    `json:"-"` // the value that says how bad it is now
	Began time.Time   `json:"-"` // what holds now
}

// StillAside reports whether somebody put a aside while what it tells of holds:
// it says nothing, and all is not well.
func (a AlarmPicture) StillAside() bool { return a.State.Aside() && a.Active }

// Known reports whether whoever has seen a transition of a has seen all that
// is new: what came since only told it again.
func (a AlarmPicture) Known(transition string) bool {
	if transition == a.Transition || transition == a.News {
		return true
	}
	id, number, _ := strings.Cut(transition, "#")
	n, err := strconv.Atoi(number)
	if err != nil || id != string(a.ID) || a.News == "" {
		return false
	}
	return n > numberOf(a.News) && n < numberOf(a.Transition)
}

func numberOf(transition string) int {
	_, number, _ := strings.Cut(transition, "#")
	n, _ := strconv.Atoi(number)
	return n
}

// CalibrationPicture is what a person found one quantity of a probe to be off by.
type CalibrationPicture struct {
	Quantity Quantity  `json:"quantity"`
	Offset   float64   `json:"offset"` // added to each reading
	At       time.Time `json:"at"`
	By       string    `json:"by,omitempty"`
	Note     string    `json:"note,omitempty"`
	Sentence string    `json:"sentence"`
}

// Present is what holds now of what an alarm tells of. A value that is not
// known is nil; values are in the quantity's unit, rates in that an hour.
type Present struct {
	Quantity Quantity `json:"quantity,omitempty"` // of the values; "": nothing is measured
	// Value is the newest believed reading: where several probes measure the
	// same, that of the one furthest out on the alarm's side.
	Value *float64  `json:"value,omitempty"`
	At    time.Time `json:"at,omitzero"` // when it was received
	Probe ProbeID   `json:"probe,omitempty"`
	// Live: the probe is heard, and believed or beyond the limit, so Value is of
	// now; else it is the last that was known.
	Live    bool      `json:"live"`
	Rate    *float64  `json:"rate_per_hour,omitempty"` // of Value
	Limit   *float64  `json:"limit,omitempty"`         // in force now; of a rate alarm, of the rate
	Beyond  *float64  `json:"beyond,omitempty"`        // how far Value, or Rate, is beyond it; negative: within
	Worst   *float64  `json:"worst,omitempty"`         // value, or rate, since it is beyond
	WorstAt time.Time `json:"worst_at,omitzero"`
	First   *float64  `json:"first,omitempty"` // value when the alarm was raised
	FirstAt time.Time `json:"first_at,omitzero"`

	Level  Level `json:"-"` // whose limit Limit is
	Beside bool  `json:"-"` // the place has other probes of the quantity
}
