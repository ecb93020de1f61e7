package alarms

import "time"

// Leave is a time in which a person is not at hand and somebody stands in for
// them: is told what that person would be told.
type Leave struct {
	Person  string `json:"person"`
	StandIn string `json:"stand_in,omitempty"` // as it was asked for; "": nobody was named
	// Spared: the person is told only of what nobody has taken for a while.
	Spared bool      `json:"spared,omitempty"`
	Since  time.Time `json:"since"`
	Until  time.Time `json:"until"` // of one that is over, when it ended
}

// Runs reports whether l holds at a time.
func (l Leave) Runs(at time.Time) bool { return !at.Before(l.Since) && at.Before(l.Until) }

// LongestLeave is how long a leave may be. Who is gone for longer is better taken out
// of the config. Common practice, no source.
const LongestLeave = 31 * 24 * time.Hour

// SparedFor is how long nobody must have acknowledged something for it to be told to
// who is away and spared. Common practice, no source.
const SparedFor = 30 * time.Minute

// LeaveReason is what became of a leave or, with any other rule than RuleLeave, on
// whose behalf somebody is told of an alarm that is on.
type LeaveReason struct {
	Leave
	Ended LeaveEnd `json:"ended,omitempty"` // "": it begins
	Took  bool     `json:"took,omitempty"`  // of an alarm that is on: it was the person who acknowledged it
}

// LeaveEnd is why a leave is over.
type LeaveEnd string

// Ends of a leave.
const (
	LeaveOver LeaveEnd = "over" // its time is up
	LeaveBack LeaveEnd = "back" // somebody said that the person is back
)
