package alarms

import "time"

// Input is all that can happen to the core. At is when the watch received or
// noticed it; an At before the newest one already seen counts as that newest.
type Input struct {
	At   time.Time
	Kind InputKind

	// ReadingIn: one value of one probe, as Corrected returns it. GarbledIn: Probe and Note.
	Probe    ProbeID
	Quantity Quantity
	Value    float64
	Measured time.Time // by the probe's own clock; zero if it has none
	Retained bool      // a last known value: never a sign of life

	// People: what they act on, until when, who and why.
	// Calibrate: Probe, Quantity and Value, what is to be added to each reading.
	Alarm AlarmID   // Acknowledge, Shelve, Unshelve, and TakeOut, PutBack of an alarm
	Until time.Time // Shelve: required end
	By    string
	Note  string // reason given; for GarbledIn what was wrong with the payload

	House    HouseID    // SetSeason, SetSelector
	Season   Season     // SetSeason
	Selector SelectorID // SetSelector
	Position string     // SetSelector: name of the position it was turned to
}

// InputKind says which fields of an Input count.
type InputKind uint8

// Kinds of input.
const (
	Tick          InputKind = iota // time has passed
	ReadingIn                      // Probe, Quantity, Value, Measured, Retained
	GarbledIn                      // Probe sent what cannot be read: Probe, Note
	Acknowledge                    // Alarm, By; empty Alarm: every unacknowledged one
	Shelve                         // Alarm, Until, By, Note
	Unshelve                       // Alarm, By
	TakeOut                        // Alarm or Probe out of service: By, Note
	PutBack                        // Alarm or Probe into service: By, Note
	SetSeason                      // House, Season, By
	LinkUp                         // the broker is reached
	LinkDown                       // the broker is lost: Note says why
	RestartMarker                  // the watch has just started again
	TroubleOn                      // the watch itself has a trouble: Alarm is one of Troubles, Note says what
	TroubleOff                     // that trouble is over: Alarm
	SetSelector                    // House, Selector, Position, By
	Calibrate                      // Probe, Quantity, Value: from now on added to each reading; By, Note
)

var inputNames = [...]string{"tick", "reading", "garbled", "acknowledge", "shelve", "unshelve",
	"take-out", "put-back", "season", "link-up", "link-down", "restart",
	"trouble", "trouble-over", "selector", "calibrate"}

func (k InputKind) String() string { return name(inputNames[:], int(k)) }
