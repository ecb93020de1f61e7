package alarms

import (
	"encoding/json"
	"time"

	"telltale/alarms/walk"
)

// Plan is everything the core must know before the first input: houses,
// places, probes and the limits they are judged by. The zero value of a
// duration, deadband or priority means its default, see WithDefaults.
// A Plan must not be changed after New.
type Plan struct {
	Words     Words
	Houses    []House
	Chatter   ChatterRule
	Reminders Reminders
	Link      LinkRule
}

// House is one greenhouse.
type House struct {
	ID        HouseID
	Name      string  // as said in sentences; default the ID
	Latitude  float64 // degrees, north positive
	Longitude float64 // degrees, east positive
	Day       DayRule
	Season    Season // at first start; later ones arrive as inputs
	Circuits  []Circuit
	Places    []Place
	Priority  Priority // of "the whole house is silent"; default High
	Controls  []Control
	Drives    []Drive
	Selectors []Selector
	Openings  []HandOpening
	Loop      *Loop // air drawn through pipes in the ground; nil: none
	// Directions, of a house, a circuit, a place or a drive, are the grower's own
	// words to whoever comes to help: "breaker left of the door, dry hands". Of
	// those that an alarm is about the most specific that has any is told.
	Directions string
}

// DayRule says when it is day in a house: from sunrise to sunset, or between
// fixed clock times.
type DayRule struct {
	Fixed bool
	Start time.Duration  // after local midnight, with Fixed
	End   time.Duration  // after local midnight, with Fixed
	Zone  *time.Location // of Start and End; nil means UTC
	// Settle is how long after a change of day, night or season the looser of
	// the old and new limit holds, so that a house may warm up or cool down.
	// Default 1 h; negative for none.
	Settle time.Duration
}

// Circuit is what feeds a group of probes and drives with electricity.
type Circuit struct {
	ID       CircuitID
	Name     string   // default the ID
	Priority Priority // of "the whole circuit is silent"; default High
	// FedBy is the circuit of the house that feeds this one; empty: none that is
	// known here. It is fed by none itself. What feeds a circuit that is lost is
	// lost itself only if nothing else on it, and on what it feeds, is heard.
	FedBy CircuitID
	// Witness is a probe of the house that hangs on the circuit, by itself if its
	// own Circuit is empty, and tells of its power: the circuit is told as lost
	// when the witness and all else on it is silent, be it the witness alone, or
	// when three of its readings in a row are zero and nothing else on it is heard
	// in between. If something is, the witness is doubted.
	Witness ProbeID
	// Zero is the quantity of the witness that is zero without power; default
	// Voltage, else Contact (open), where it measures them.
	Zero       Quantity
	Directions string // as of a house
}

// Place is a spot in or around a house that has a climate of its own.
type Place struct {
	ID    PlaceID
	Name  string // default the ID
	Bands []Band
	Rates []RateLimit
	// Exposures are how long it may be beyond limits.
	Exposures []Exposure
	Probes    []Probe
	// Unwatched is the priority of "no healthy probe"; default Medium. Of the last
	// temperature known of a house it is High.
	Unwatched Priority
	// LeafBelowAir is how far a leaf is taken to be below air temperature
	// where no surface probe is at hand, K. Used for DewMargin; default 1.
	LeafBelowAir Limit
	// Disagree is how far sibling probes of one quantity may differ for
	// DisagreeFor before that is said. Default 2 K, 10 %RH and 30 min.
	Disagree    map[Quantity]float64
	DisagreeFor time.Duration
	Directions  string // as of a house

	// NoEarlyWarning is that nobody is told before a limit of its temperature is
	// reached. What is likely is shown all the same.
	NoEarlyWarning bool `json:",omitempty"`
}

// Limit is a value that may be absent.
type Limit struct {
	Value float64
	Set   bool
}

// At makes a Limit that is set.
func At(v float64) Limit { return Limit{Value: v, Set: true} }

// Limits are the four limits of a band. A value on a limit is within it.
type Limits struct {
	LowLow   Limit `json:"low_low,omitzero"`
	Low      Limit `json:"low,omitzero"`
	High     Limit `json:"high,omitzero"`
	HighHigh Limit `json:"high_high,omitzero"`
}

// Band is what a quantity of a place may be, at some time of day and in some
// seasons. Where several bands hold at once each limit comes from the most
// specific band that sets it: season and daypart, then season, then daypart.
type Band struct {
	Quantity Quantity
	When     Daypart
	Seasons  []Season // empty: all
	Limits
	Deadband   float64       // in the quantity's unit; default 0.5 K, 2 %RH, 0.05 kPa
	Delay      time.Duration // before low and high; default 60 s; negative for none
	QuickDelay time.Duration // before low-low and high-high; default 15 s, never longer than Delay
	ClearDelay time.Duration // before return to normal; default 60 s
	Priority   Priority      // of low and high; default Medium
	Worst      Priority      // of low-low and high-high; default High
	Source     string        // where the figures come from
}

// RateLimit bounds how fast a quantity may change.
type RateLimit struct {
	Quantity   Quantity
	Rise       Limit         // per hour, positive
	Fall       Limit         // per hour, positive
	Window     time.Duration // over which the slope is taken; default 30 min
	ClearDelay time.Duration // default 5 min
	Priority   Priority      // default Medium
}

// ProbeKind is the measuring principle of a probe. It sets the physical range
// and the known fault values of its streams.
type ProbeKind string

// Kinds of probe, by measuring principle.
const (
	KindPlain      ProbeKind = ""            // nothing known: widest ranges
	KindOneWire    ProbeKind = "one-wire"    // digital 1-wire thermometer
	KindThermistor ProbeKind = "thermistor"  // resistance read by a converter
	KindCapacitive ProbeKind = "capacitive"  // polymer humidity chip with thermometer
	KindSwitch     ProbeKind = "switch"      // contact or end switch
	KindClamp      ProbeKind = "clamp-meter" // current or power
)

// ProbeKinds lists every kind.
var ProbeKinds = []ProbeKind{KindPlain, KindOneWire, KindThermistor, KindCapacitive, KindSwitch, KindClamp}

// Probe is one device that publishes.
type Probe struct {
	ID      ProbeID
	Name    string // default the ID
	Kind    ProbeKind
	Circuit CircuitID     // empty: on no common circuit (battery, own supply)
	Every   time.Duration // expected interval; 0: learn it
	// MissesAllowed is the multiple of the interval after which, and a tenth
	// of an interval more, the probe is silent; default 3.
	MissesAllowed float64
	Streams       []Stream
	Priority      Priority // of silence and faults; default Medium and Low
}

// Stream is one quantity of one probe.
type Stream struct {
	Quantity Quantity
	Min, Max Limit // physical range; default by kind and quantity
	// Jump is the largest believable step between readings, or in 5 min where
	// those are further apart; default 10 K, 40 %RH; negative: any.
	Jump     float64
	StuckFor time.Duration // unchanged for this long is stuck, up to six times as long where it measures coarsely; default 12 h; negative: never
	Offset   float64       // added to what the probe sends, by Corrected
	Weak     Limit         // battery or signal below this is told; default 20 %, -90 dBm
}

// ChatterRule says when an alarm is held because it comes and goes. That of a limit
// is held from the second time within two hours at least, and for longer where the
// value swings slowly or is seldom read.
type ChatterRule struct {
	Raises int           // this many raises; default 4; not of a limit
	Within time.Duration // within this time; default 30 min
	Hold   time.Duration // held until quiet for this long; default 30 min
}

// Reminders say for how long an acknowledgement holds while the alarm is still
// active: then it becomes unacknowledged again, unless it is clearly getting
// better. Default 24 h, 2 h, 45 min; negative for never.
type Reminders struct {
	Low, Medium, High time.Duration
	// RepeatHigh and RepeatMedium are how often an alarm that nobody acknowledges
	// is told again; default 30 min and 2 h, negative for never. At high priority
	// the first repeat comes after a third of that, and after eight more only half
	// as many. Low priority is not repeated.
	RepeatHigh, RepeatMedium time.Duration
}

// LinkRule is how the loss of the broker is told.
type LinkRule struct {
	Delay    time.Duration // default 30 s
	Priority Priority      // default High
}

// IsZero reports whether l is absent; JSON then leaves it out.
func (l Limit) IsZero() bool { return !l.Set }

// MarshalJSON writes l as a number, or as null where it is absent.
func (l Limit) MarshalJSON() ([]byte, error) {
	if !l.Set {
		return []byte("null"), nil
	}
	return json.Marshal(l.Value)
}

// UnmarshalJSON reads what MarshalJSON wrote.
func (l *Limit) UnmarshalJSON(b []byte) error {
	var v *float64
	if err := json.Unmarshal(b, &v); err != nil {
		return err
	}
	*l = Limit{}
	if v != nil {
		*l = At(*v)
	}
	return nil
}

// Circuit returns the circuit of h that id names, nil for none.
func (h *House) Circuit(id CircuitID) *Circuit {
	return walk.Find(h.Circuits, func(c *Circuit) bool { return c.ID == id })
}

// Powers reports whether o has its power through c: it is c, or is fed by it.
func (c *Circuit) Powers(o *Circuit) bool { return o != nil && (o.ID == c.ID || o.FedBy == c.ID) }

// Root is what feeds circuit id, or id itself.
func (h *House) Root(id CircuitID) CircuitID {
	if c := h.Circuit(id); c != nil && c.FedBy != "" {
		return c.FedBy
	}
	return id
}

// Drive returns the drive of h that id names, nil for none.
func (h *House) Drive(id DriveID) *Drive {
	return walk.Find(h.Drives, func(d *Drive) bool { return d.ID == id })
}

// Place returns the place of h that id names, nil for none.
func (h *House) Place(id PlaceID) *Place {
	return walk.Find(h.Places, func(p *Place) bool { return p.ID == id })
}

// House returns the house of p that id names, nil for none.
func (p *Plan) House(id HouseID) *House {
	return walk.Find(p.Houses, func(h *House) bool { return h.ID == id })
}
