package alarms

import "time"

// Input is all that can happen to the core. At is when the watch received or
// noticed it, by the core's own time, which equals the wall clock at the first
// start and from then on only moves forward and never stands, whatever happens
// to that clock; an At before the newest one already seen counts as that
// newest. Measured and Until are times by the wall clock.
type Input struct {
	At   time.Time
	Kind InputKind

	// ReadingIn: one value of one probe, as Corrected returns it. GarbledIn: Probe
	// and Note, and the Quantity of which a payload gave no value; empty: all of
	// the probe's.
	Probe    ProbeID
	Quantity Quantity
	Value    float64
	Measured time.Time // by the probe's own clock; zero if it has none
	Retained bool      // a last known value: never a sign of life

	// People: what they act on, until when, who and why.
	// Calibrate: Probe, Quantity and Value, what is to be added to each reading.
	Alarm AlarmID   // Acknowledge, Shelve, Unshelve, and TakeOut, PutBack of an alarm
	Until time.Time // Shelve: required end; Acknowledge: on the way until then, zero for as the plan says
	By    string
	Note  string // reason given; for GarbledIn what was wrong with the payload

	Shift time.Duration // ClockStep: how far the wall clock was put forward; negative: back
	Since time.Time     // StoodStill: by the core's own time

	House    HouseID    // SetSeason, SetSelector
	Season   Season     // SetSeason
	Selector SelectorID // SetSelector
	Position string     // SetSelector: name of the position it was turned to

	Person  string // GoAway, ComeBack: who
	StandIn string // GoAway: who is told in their place; "": nobody is named
	Spared  bool   // GoAway: the person is told only of what nobody takes
}

// InputKind says which fields of an Input count.
type InputKind uint8

// Kinds of input.
const (
	Tick          InputKind = iota // time has passed
	ReadingIn                      // Probe, Quantity, Value, Measured, Retained
	GarbledIn                      // Probe sent no value that can be read: Probe, Quantity, Note
	Acknowledge                    // Alarm, Until, By; empty Alarm: every unacknowledged one
	Shelve                         // Alarm, Until, By, Note
	Unshelve                       // Alarm, By
	TakeOut                        // Alarm or Probe out of service: By, Note
	PutBack                        // Alarm or Probe into service: By, Note
	SetSeason                      // House, Season, By
	LinkUp                         // the broker is reached
	LinkDown                       // the broker is lost: Note says why
	RestartMarker                  // the watch has just started again; a Note says what is not known about the time away
	TroubleOn                      // the watch itself has a trouble: Alarm is one of Troubles, Note says what, as text or by tongue.Keep
	TroubleOff                     // that trouble is over: Alarm
	SetSelector                    // House, Selector, Position, By
	Calibrate                      // Probe, Quantity, Value: from now on added to each reading; By, Note
	ClockStep                      // the wall clock was set: Shift
	StoodStill                     // the watch saw nothing from Since on: it did not run, or the machine slept
	GoAway                         // a person is not at hand: Person, StandIn, Spared, Until, By
	ComeBack                       // the person is at hand again: Person, By
)

var inputNames = [...]string{"tick", "reading", "garbled", "acknowledge", "shelve", "unshelve",
	"take-out", "put-back", "season", "link-up", "link-down", "restart",
	"trouble", "trouble-over", "selector", "calibrate", "clock-step", "stood-still", "go-away", "come-back"}

func (k InputKind) String() string { return name(inputNames[:], int(k)) }

// Troubles of the watch itself, told like any other alarm.
const (
	TroubleDisk    AlarmID = "watch/disk"     // nothing can be saved
	TroubleLosses  AlarmID = "watch/losses"   // messages were lost on their way in
	TroubleTelling AlarmID = "watch/messages" // people cannot be told
	TroubleStarts  AlarmID = "watch/starts"   // the watch ends again and again without having been stopped
	TroubleStore   AlarmID = "watch/store"    // what was saved is lost; on until somebody has taken it
	TroubleCopies  AlarmID = "watch/copies"   // there is no recent copy of the store; of low priority
	TroubleLetters AlarmID = "watch/letters"  // somebody has not confirmed a letter of the week; of low priority

	TroubleFirst     AlarmID = "watch/first"     // of a companion: the watch that it accompanies does not do its work; of medium priority
	TroubleCompanion AlarmID = "watch/companion" // the companion of this watch is not heard; of low priority
)

// Troubles lists every trouble.
var Troubles = []AlarmID{TroubleDisk, TroubleLosses, TroubleTelling, TroubleStarts, TroubleStore, TroubleCopies, TroubleLetters, TroubleFirst, TroubleCompanion}

// What a RestartMarker's Note, or StoodStill, says about the time away.
const (
	// AwayUnsure: after a power-off nobody can tell time away from a clock
	// that was put forward.
	AwayUnsure = "unsure"
	// AwayStill: the machine slept or was overloaded.
	AwayStill = "stood still"
	// AwayPlayed: nobody watched what lies before; it was played on fast time.
	AwayPlayed = "played"
)
