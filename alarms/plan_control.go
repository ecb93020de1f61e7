package alarms

import "time"

// Typed names of what the mechanical control consists of; unique in a house.
type (
	ControlID  string
	DriveID    string
	SelectorID string
)

// Control is a mechanical thermostat and what it drives. Telltale reads the
// same temperature with probes of its own and holds what happens against the
// dial. It never switches anything.
type Control struct {
	ID     ControlID
	Name   string  // default the ID
	Place  PlaceID // where its bulb hangs: the temperature there is judged
	Stages []Stage
}

// Mode says which way a stage works.
type Mode uint8

// Modes.
const (
	Cooling Mode = iota // calls when it is warmer than the set point
	Heating             // calls when it is colder
)

var modeNames = [...]string{"cooling", "heating"}

func (m Mode) String() string { return name(modeNames[:], int(m)) }

// Stage is one pair of contacts of a thermostat, as set on its dial.
type Stage struct {
	Name     string // default the mode
	Mode     Mode
	SetPoint float64 // °C, where it switches on
	// Differential is how far the temperature must come back before it switches
	// off, K: off at SetPoint minus Differential when cooling, plus when
	// heating. Default 2.8 K (about 5 °F, read in one source).
	Differential float64
	Tolerance    float64   // of the dial either way, K; default 1.5
	Drives       []DriveID // what it drives, in the seasons below
	Seasons      []Season  // in which it acts; empty: all
}

// DriveKind is what a drive is.
type DriveKind string

// Kinds of drive.
const (
	ExhaustFan     DriveKind = "exhaust-fan"
	IntakeShutter  DriveKind = "intake-shutter"
	LoopFan        DriveKind = "loop-fan"
	Heater         DriveKind = "heater"
	CirculatingFan DriveKind = "circulating-fan"
)

// DriveKinds lists every kind.
var DriveKinds = []DriveKind{ExhaustFan, IntakeShutter, LoopFan, Heater, CirculatingFan}

// Drive is something that runs or moves: a fan, a shutter, a heater.
type Drive struct {
	ID       DriveID
	Name     string // default the kind in words
	Kind     DriveKind
	Evidence []Evidence // in order of trust; none: inferred from the temperature, for an exhaust fan
	// Start and Stop are how long it may take after it is called, or no longer
	// called, until the evidence shows it; default 2 min, and 3 min for a
	// shutter, whose motor takes time.
	Start, Stop time.Duration
	// Effect is how long it may run before the temperature must answer; default
	// 15 min for an exhaust fan and a heater, none for the others; negative: no
	// answer is expected.
	Effect time.Duration
	With   []DriveID // must run whenever this one runs: a shutter for its fan
	Never  []DriveID // must not run while this one runs, nor this one while they do
	Runs   []Run     // what each season wants of it where no thermostat drives it
	Barred []Season  // in which it must not run: an exhaust fan in winter
	// MaxStarts is how many starts an hour are too many; default 10.
	MaxStarts int
	Priority  Priority // default Medium; High for an exhaust fan and a heater
}

// Run is what a season wants of a drive that no thermostat drives.
type Run struct {
	Season Season
	On     bool // also with intermittent running
	// Intermittent running by a cycle timer: so long on, so long off.
	OnFor, OffFor time.Duration
}

// Showing lists the quantities that can show whether a drive runs: those of a
// contact or end switch, of a meter, and the temperature in its duct.
var Showing = []Quantity{Contact, Current, Power, Speed, Temperature}

// Evidence is a reading that shows whether a drive runs.
type Evidence struct {
	Probe    ProbeID
	Quantity Quantity
	// Above is the value from which the drive runs; for a contact not set: it
	// runs when the contact is closed.
	Above Limit
	// Usual bounds the value of a meter while it runs; not set: learned from the
	// first runs.
	UsualLow, UsualHigh Limit
	Inverted            bool // runs below Above, or with the contact open
}

// Selector is a plain switch by hand whose position decides which drives
// follow the thermostat. A contact tells the position, or the season does, or
// it is set by hand with SetSelector. Every position says of the same drives
// what becomes of them, and no drive hangs on two selectors.
type Selector struct {
	ID        SelectorID
	Name      string // default the ID
	Positions []Position
	At        string  // position at first start; default the first
	Probe     ProbeID // tells the position by a contact
}

// Position is one position of a selector.
type Position struct {
	Name   string
	Follow []DriveID // follow the thermostat, their season or the drive they run with
	On     []DriveID // run always
	Off    []DriveID // never run
	Closed bool      // with a probe: this position when its contact is closed
	// Seasons in which it is in this position, where the season tells it; each
	// season then has one position.
	Seasons []Season
}
