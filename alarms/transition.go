package alarms

import "time"

// State is the state of an alarm after ANSI/ISA-18.2 and IEC 62682. A rule reports a
// Level; the state also depends on people and on other alarms:
//
//	                 raise                         acknowledge
//	     ┌────────┐ ─────────▶ ┌────────────────┐ ─────────────▶ ┌──────────────┐
//	     │ normal │            │ unacknowledged │                │ acknowledged │
//	     └────────┘            └────────────────┘ ◀───────────── └──────────────┘
//	       ▲    ▲                 │         ▲      worsen, re-alarm       │
//	       │    │ acknowledge     │ return  │ raise                       │ return
//	       │    │            ┌────▼─────────┴───┐                         │
//	       │    └─────────── │ returned-unack.  │                         │
//	       │                 └──────────────────┘                         │
//	       └──────────────────────────────────────────────────────────────┘
//
//	from any of these, and back into what the condition then asks for:
//	  shelve ▶ shelved ▶ unshelve (by a person, at its end, or when it becomes the worst)
//	  suppress ▶ suppressed-by-design ▶ release (the cause is gone; acknowledged stays so if no worse)
//	  take-out ▶ out-of-service ▶ put-back
//
// Ease (back to the lesser limit) and chatter (it comes and goes: held until it has
// been quiet) keep the state. A note is a line of the log without a state behind it.
type State uint8

// Alarm states.
const (
	Normal             State = iota
	Unacknowledged           // active, nobody has taken it
	Acknowledged             // active, taken
	ReturnedUnack            // back to normal before anybody took it
	Shelved                  // put aside by a person until a stated end
	SuppressedByDesign       // another alarm already says it
	OutOfService             // taken out by a person until put back
)

var stateNames = [...]string{"normal", "unacknowledged", "acknowledged", "returned-unacknowledged",
	"shelved", "suppressed-by-design", "out-of-service"}

func (s State) String() string { return name(stateNames[:], int(s)) }

// MarshalText writes s as its name.
func (s State) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads a name that MarshalText wrote.
func (s *State) UnmarshalText(b []byte) error { return read(stateNames[:], b, s) }

// Active reports whether s says that something is wrong now and is told so.
func (s State) Active() bool { return s == Unacknowledged || s == Acknowledged }

// Move is what a transition does.
type Move uint8

// Moves.
const (
	Raise     Move = iota // the condition came
	Worsen                // a worse limit was crossed, or more is affected
	Ease                  // back to the lesser limit, still active
	Return                // the condition went
	Ack                   // a person took it
	Realarm               // told again: nobody took it, or whoever did has not changed it
	Chatter               // comes and goes: held from now on
	ShelveOn              // put aside
	ShelveOff             // by a person or by its end
	Suppress              // another alarm says it
	Release               // no other alarm says it any more
	Out                   // taken out of service
	Back                  // put back into service
	Note                  // worth keeping in the log; no alarm state behind it
)

var moveNames = [...]string{"raise", "worsen", "ease", "return", "acknowledge", "re-alarm", "chatter",
	"shelve", "unshelve", "suppress", "release", "take-out", "put-back", "note"}

func (m Move) String() string { return name(moveNames[:], int(m)) }

// MarshalText writes m as its name.
func (m Move) MarshalText() ([]byte, error) { return []byte(m.String()), nil }

// UnmarshalText reads a name that MarshalText wrote.
func (m *Move) UnmarshalText(b []byte) error { return read(moveNames[:], b, m) }

// Transition is one move of one alarm, with its reason. The core returns
// transitions sorted by Due, then Alarm, then number.
type Transition struct {
	// ID is the same whenever the same inputs are applied: the alarm's ID, a
	// hash sign and the count of that alarm's transitions. Saving by ID makes
	// telling twice harmless.
	ID       string
	Alarm    AlarmID
	Move     Move
	From, To State
	Level    Level
	Priority Priority
	// When it happened, and when the core heard of it, by the wall clock as it
	// stood then: to be shown. A step of the wall clock may put it before what
	// came earlier; Core is Due by the core's own time, which only moves forward.
	Due        time.Time
	Noticed    time.Time
	Core       time.Time
	Reason     Reason
	Background *Background `json:",omitempty"` // what else its sentence needs; nil of what an early version saved
	Sentence   string      // Reason and Background in words, as package say makes it of them; Step leaves it empty
	Other      string      `json:",omitempty"` // of an early version: Sentence in the other unit of temperature, where that differs
}

// Told reports whether a person should hear of t unasked: an alarm that asks
// for somebody, one that got worse, one that ended; that the watch was away for
// long, or its clock was set by much; that a person is away, or is told in the
// place of one. That one is held from now on is said by
// what was told with it.
func (t Transition) Told() bool {
	if x := t.Reason.Exposure; x != nil && (x.With != "" || x.Morning && t.Move == Return) {
		return false
	}
	switch t.Move {
	case Worsen, Realarm:
		return t.To == Unacknowledged
	case Return:
		return t.From.Active()
	case Chatter:
		return false
	case Note:
		return t.Reason.Leave != nil || t.Reason.Shift.Abs() >= stepTold || t.Reason.Rule == RuleRestart && t.Priority > Low
	default:
		return t.To == Unacknowledged && t.From != Unacknowledged
	}
}

// Repeats reports whether t only tells again what nobody has acknowledged, or tells
// it to somebody else.
func (t Transition) Repeats() bool {
	return t.Move == Realarm && t.From == Unacknowledged || t.HandsOver()
}

// HandsOver reports whether t tells whoever stands in for somebody of an alarm that is on.
func (t Transition) HandsOver() bool { return t.Reason.Leave != nil && t.Reason.Rule != RuleLeave }

// Level says how bad a limit alarm is.
type Level uint8

// Levels. Alarms without levels are at Outer.
const (
	Within Level = iota
	Outer        // beyond low or high
	Inner        // beyond low-low or high-high
	Last         // of a lost temperature: none is known of the house any more
)

var levelNames = [...]string{"within", "outer", "inner", "last"}

func (l Level) String() string { return name(levelNames[:], int(l)) }

// MarshalText writes l as its name.
func (l Level) MarshalText() ([]byte, error) { return []byte(l.String()), nil }

// UnmarshalText reads a name that MarshalText wrote.
func (l *Level) UnmarshalText(b []byte) error { return read(levelNames[:], b, l) }

// Side says which way a value went.
type Side uint8

// Sides.
const (
	NoSide  Side = iota
	LowSide      // too low, or falling
	HighSide
)

var sideNames = [...]string{"none", "low", "high"}

// Sign is -1 of the low side, else 1.
func (s Side) Sign() float64 {
	if s == LowSide {
		return -1
	}
	return 1
}

func (s Side) String() string { return name(sideNames[:], int(s)) }

// MarshalText writes s as its name.
func (s Side) MarshalText() ([]byte, error) { return []byte(s.String()), nil }

// UnmarshalText reads a name that MarshalText wrote.
func (s *Side) UnmarshalText(b []byte) error { return read(sideNames[:], b, s) }

// Rule says what kind of check an alarm belongs to.
type Rule string

// Rules.
const (
	RuleLimit     Rule = "limit"
	RuleAhead     Rule = "ahead" // a limit is likely to be reached soon
	RuleDay       Rule = "day"   // a limit is likely to be reached today, or tonight
	RuleDrift     Rule = "drift" // the house is not like what it was
	RuleRate      Rule = "rate"
	RuleFault     Rule = "fault"     // a probe is not to be believed, or needs care
	RuleSilent    Rule = "silent"    // stream, probe, circuit, house or broker
	RuleExposure  Rule = "exposure"  // too long beyond a limit
	RuleUnwatched Rule = "unwatched" // a place has no healthy probe
	RuleLoop      Rule = "loop"      // a ground loop and its pipes
	RuleLink      Rule = "link"      // the connection to the broker
	RuleRestart   Rule = "restart"   // the watch itself was away
	RuleClock     Rule = "clock"     // the wall clock was set
	RuleTrouble   Rule = "trouble"   // the watch itself cannot work as it should
	RuleSeason    Rule = "season"    // another season is due
	RuleControl   Rule = "control"   // the mechanical control did not do what it should
	RuleSwitching Rule = "switching" // the log of what it did
	RulePerson    Rule = "person"    // somebody set something
	RuleLeave     Rule = "leave"     // somebody is not at hand, or is back
	RuleOpening   Rule = "opening"   // a door, window or lid stands open where that harms
)

// Fault is what is wrong with a probe.
type Fault string

// Faults of a probe. The first group makes its readings unbelievable.
const (
	FaultRange   Fault = "out-of-range"    // outside the sensor's physical range
	FaultValue   Fault = "fault-value"     // a value the device gives when it fails
	FaultStuck   Fault = "stuck"           // unchanged too long
	FaultSpikes  Fault = "spikes"          // jumps that do not hold
	FaultPinned  Fault = "pinned-humidity" // at the top of the scale for hours
	FaultGarbled Fault = "unreadable"      // payloads that cannot be read
	FaultOutlier Fault = "outlier"         // far from the middle of its siblings

	FaultStep Fault = "step" // further from the reading before than is likely: doubts one reading

	FaultDisagree Fault = "disagrees"    // two siblings differ; which is right is not known
	FaultClock    Fault = "clock"        // its own time is wrong
	FaultBattery  Fault = "low-battery"  // needs a new battery
	FaultSignal   Fault = "weak-signal"  // may soon be lost
	FaultWitness  Fault = "contradicted" // says that its circuit has no power, while others there are heard
)

// Aside reports whether somebody put an alarm aside that is in state s. It says
// nothing then, so it speaks for no other alarm: whoever looks for what speaks
// for an alarm passes it over.
func (s State) Aside() bool { return s == Shelved || s == OutOfService }

// Blinds reports whether f makes readings unbelievable.
func (f Fault) Blinds() bool {
	switch f {
	case FaultRange, FaultValue, FaultStuck, FaultSpikes, FaultPinned, FaultGarbled, FaultOutlier:
		return true
	}
	return false
}

// stepTold is how far the wall clock must be stepped for people to hear of it.
const stepTold = time.Minute
