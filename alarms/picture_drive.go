package alarms

import (
	"telltale/alarms/control"
	"telltale/alarms/infer"
	"time"
)

// DriveState is what the evidence shows of a drive.
type DriveState string

// States of a drive.
const (
	DriveUnknown  DriveState = "unknown"
	DriveStanding DriveState = "standing" // of a shutter: shut
	DriveRunning  DriveState = "running"  // of a shutter: open
)

// DrivePicture is one drive, and what speaks for it.
type DrivePicture struct {
	ID        DriveID    `json:"id"`
	Name      string     `json:"name"`
	Kind      DriveKind  `json:"kind"`
	State     DriveState `json:"state"`
	Does      string     `json:"does"`            // State in a few words: "runs", "is shut", "probably runs"
	Since     time.Time  `json:"since,omitzero"`  // it runs since, as far as it was seen
	Call      string     `json:"call"`            // called, not called, or between
	Wish      string     `json:"wish"`            // of season and selectors, in words
	Timed     bool       `json:"timed,omitempty"` // Call is that of a timer of its own
	Failing   bool       `json:"failing"`         // a verdict speaks against it now
	Evidenced bool       `json:"evidenced"`       // a probe shows whether it runs

	// Inferred is how likely it runs, 0 to 1, from the temperatures alone; nil
	// where that is not inferred. It is no evidence. Guess is what that is worth:
	// unknown while it is not sure enough for a change to be told of.
	Inferred *float64   `json:"inferred,omitempty"`
	Guess    DriveState `json:"guess,omitempty"`

	StartsToday int           `json:"starts_today"`
	RanToday    time.Duration `json:"ran_today_ns"`
	RightToday  int           `json:"right_today"`           // complete switchings as they should be
	FirstToday  time.Time     `json:"first_today,omitzero"`  // start of the first of them
	FirstTemp   *float64      `json:"first_temp,omitempty"`  // °C at it
	StartsTotal int           `json:"starts_total"`          // since the watch counts
	RanTotal    time.Duration `json:"ran_total_ns"`          // since the watch counts
	LastProof   time.Time     `json:"last_proof,omitzero"`   // it last did what it should; zero: never seen to
	LastByHand  time.Time     `json:"last_by_hand,omitzero"` // it was last tested by hand
	Unproven    time.Time     `json:"unproven,omitzero"`     // since then neither, for 14 days or more
	UsualDraw   string        `json:"usual_draw,omitempty"`  // in words, given or learned

	// Trial is what a person shelves who tries something on the drive; TrialBy and
	// TrialUntil say who does so until when, zero for nobody.
	Trial      AlarmID   `json:"trial"`
	TrialBy    string    `json:"trial_by,omitempty"`
	TrialUntil time.Time `json:"trial_until,omitzero"`

	Sentence string `json:"sentence"`

	Proof   control.Proof `json:"-"`
	Want    control.Want  `json:"-"`
	Verdict *Verdict      `json:"-"` // the gravest that speaks against it now, as of now; nil: none
	Belief  *infer.Belief `json:"-"` // what the temperatures say of it; nil: nothing
	Covers  Covers        `json:"-"` // of its own vent
	OpensBy []DriveID     `json:"-"` // drives that it must run with, where no stage drives it
	Driven  bool          `json:"-"` // a stage drives it, or what it must run with
	Heats   bool          `json:"-"` // the stages that drive it now only heat
}

// SelectorPicture is one selector switch.
type SelectorPicture struct {
	ID        SelectorID `json:"id"`
	Name      string     `json:"name"`
	At        string     `json:"at"`        // name of the position it is in, as far as is known
	Positions []string   `json:"positions"` // names of all
	Told      string     `json:"told"`      // who tells it: a person, a contact or the season
}

// Who tells the position of a selector.
const (
	ToldByPerson  = "a person"
	ToldByContact = "a contact"
	ToldBySeason  = "the season"
)

// Dial is where a stage of a thermostat was found to switch on.
type Dial struct {
	Control  string // name of the thermostat
	Stage    string // its name
	Quantity Quantity
	Set      float64 // as the plan has it
	Found    float64 // median of the last Count switchings, at most 20
	Spread   float64 // standard deviation about that
	Count    int
}
