package alarms

import (
	"time"

	"telltale/alarms/control"
)

// Background is what else was known at the moment of a transition, as data: with the
// rest of the Reason it is all that a sentence needs. Names are as in the plan;
// what is of no matter for the rule or the move is zero.
type Background struct {
	Of        Subject `json:"of"`
	Condition Level   `json:"condition,omitempty"` // of what it tells of, by then
	First     *First  `json:"first,omitempty"`     // nil: nothing is to be checked

	Cause *Subject      `json:"cause,omitempty"`   // Suppress: what says it
	Quiet time.Duration `json:"quiet_ns,omitzero"` // Chatter: for how long it must be quiet to be over
	Live  *float64      `json:"live,omitempty"`    // ShelveOn: the value just then, where it is known

	Delay  time.Duration `json:"delay_ns,omitzero"`  // of a limit: for how long it may be passed
	Losses []Ailment     `json:"losses,omitempty"`   // on whose word it rests, and that are lost
	Speaks time.Duration `json:"speaks_ns,omitzero"` // with losses: how long the probe must have been believed to end it
	Trials []Trial       `json:"trials,omitempty"`   // of a limit or a rate: what somebody tries in that house
	Slow   *SlowRate     `json:"slow,omitempty"`     // Note: a rate limit that will not speak

	Refused  *Refused  `json:"refused,omitempty"` // Note: a calibration
	Extended time.Time `json:"extended,omitzero"` // Note: until when an acknowledgement goes on, since it gets better

	Ails      []Ailment `json:"ails,omitempty"`      // unwatched: what ails the probes there
	Partly    bool      `json:"partly,omitzero"`     // unwatched: the rest of the place is seen
	Together  string    `json:"together,omitempty"`  // silent: how the probes fell silent, "" for at once
	Witness   *Witness  `json:"witness,omitempty"`   // of a circuit that is silent
	Feed      *FeedLoss `json:"feed,omitempty"`      // of a circuit that is silent
	LastLoss  *LastLoss `json:"last_loss,omitempty"` // at the level Last
	Believed  bool      `json:"believed,omitzero"`   // of a doubted witness that is over: nothing else there is heard any more
	Unreached bool      `json:"unreached,omitzero"`  // the broker is lost, and that is put aside
	Link      string    `json:"link,omitempty"`      // why the broker is not reached
	Trouble   string    `json:"trouble,omitempty"`   // of the watch itself: text, or what tongue.Keep returned

	Reached bool         `json:"reached,omitzero"`  // of an exposure: it does harm
	Verdict *Verdict     `json:"verdict,omitempty"` // as it is told, where that is not that of Of
	Season  *SeasonFacts `json:"season,omitempty"`  // another one is due
	Calm    Calm         `json:"calm,omitempty"`    // why an opening does no harm any more
	Gone    *Gone        `json:"gone,omitempty"`    // what ended because the plan was changed
}

// Subject is what an alarm is about, for its title.
type Subject struct {
	Alarm    AlarmID    `json:"alarm"`
	Rule     Rule       `json:"rule"`
	House    HouseID    `json:"house,omitempty"`
	Place    PlaceID    `json:"place,omitempty"`
	Probe    ProbeID    `json:"probe,omitempty"`
	Circuit  CircuitID  `json:"circuit,omitempty"`
	Drive    DriveID    `json:"drive,omitempty"` // whose log it is
	Selector SelectorID `json:"selector,omitempty"`
	Opening  OpeningID  `json:"opening,omitempty"`
	Exposure ExposureID `json:"exposure,omitempty"`
	Loop     LoopWhat   `json:"loop,omitempty"`
	Figure   string     `json:"figure,omitempty"` // of the house, that has drifted
	Quantity Quantity   `json:"quantity,omitempty"`
	Side     Side       `json:"side,omitempty"`
	Level    Level      `json:"level,omitempty"` // that has been told
	Fault    Fault      `json:"fault,omitempty"`
	Verdict  *Verdict   `json:"verdict,omitempty"`
}

// Refused is a calibration that was not taken.
type Refused struct {
	Quantity Quantity `json:"quantity"`
	Most     float64  `json:"most,omitzero"` // by which a probe may be off; 0: it is not calibrated for that
}

// Ailment is why a probe, or one quantity of it, is not to be gone by.
type Ailment struct {
	Probe    ProbeID   `json:"probe"`
	Quantity Quantity  `json:"quantity,omitempty"`
	How      How       `json:"how"`
	Since    time.Time `json:"since,omitzero"` // when it was last heard; zero: never
	Why      *Reason   `json:"why,omitempty"`  // of a fault
}

// How something ails.
type How string

// Ailments.
const (
	AilsUnplanned How = "unplanned" // the plan no longer has it
	AilsOut       How = "out"       // taken out of service
	AilsSilent    How = "silent"    // all of the probe
	AilsMissing   How = "missing"   // one quantity of a probe that is heard
	AilsFault     How = "fault"     // not to be believed
	AilsScarce    How = "scarce"    // has said too little recently
	AilsDoubted   How = "doubted"   // was not to be believed for a while
)

// Trial is that somebody tries something on a drive.
type Trial struct {
	By    string    `json:"by,omitempty"`
	Drive DriveID   `json:"drive"`
	Until time.Time `json:"until"`
}

// SlowRate is a probe that reports too seldom for the rate limit of its place.
type SlowRate struct {
	Place    PlaceID       `json:"place"`
	Probe    ProbeID       `json:"probe"`
	Quantity Quantity      `json:"quantity"`
	Every    time.Duration `json:"every_ns"`
	Needs    int           `json:"needs"` // readings
	Within   time.Duration `json:"within_ns"`
}

// Witness is what the witness of a circuit shows beside the Reason.
type Witness struct {
	Probe        ProbeID  `json:"probe"`
	Out          bool     `json:"out,omitzero"`          // of service
	Contradicted bool     `json:"contradicted,omitzero"` // something there was heard since it said that the power is gone
	Heard        []string `json:"heard,omitempty"`       // names of those that speak against it now
	Elsewhere    bool     `json:"elsewhere,omitzero"`    // other probes are heard
}

// FeedLoss is what is lost with a circuit.
type FeedLoss struct {
	Stand  []DriveID `json:"stand,omitempty"`  // drives that stand with it
	Wanted []DriveID `json:"wanted,omitempty"` // of them, those that season and selectors let run
	Cold   *Extreme  `json:"cold,omitempty"`
	Hot    *Extreme  `json:"hot,omitempty"`
}

// Extreme is a temperature near a limit of a place or beyond it; one without a
// place is that outside.
type Extreme struct {
	Place PlaceID `json:"place,omitempty"`
	Value float64 `json:"value"`
	Limit float64 `json:"limit,omitzero"`
}

// LastLoss is how the temperatures of a house came to be lost.
type LastLoss struct {
	Out    bool `json:"out,omitzero"`   // somewhere nothing is in service that tells one
	Heard  bool `json:"heard,omitzero"` // those that were lost last had been known
	Places int  `json:"places"`         // that were lost last
}

// SeasonFacts is what else is known when a season is due.
type SeasonFacts struct {
	Covers
	Days   int `json:"days,omitzero"` // over which it was measured outside
	Within int `json:"within"`        // days of which the hot ones are counted
}

// Covers is what is known of all covers on vents of a house together.
type Covers struct {
	Known bool `json:"known,omitzero"`
	On    bool `json:"on,omitzero"`
}

// In reports whether the vents are covered in a season: as is known, else as is
// usual.
func (c Covers) In(s Season) bool {
	if c.Known {
		return c.On
	}
	return s == SeasonWinter
}

// Calm is why what stands open is no matter any more; "" for what it is there.
type Calm string

// Reasons for calm.
const (
	CalmOut  Calm = "out"  // its contact was taken out of service
	CalmDay  Calm = "day"  // it is day
	CalmMild Calm = "mild" // it is warm enough outside
)

// First is what decides what to look at first.
type First struct {
	Link     bool      `json:"link,omitzero"` // at the broker, whose alarm is put aside
	Opening  OpeningID `json:"opening,omitempty"`
	Since    time.Time `json:"since,omitzero"`     // the opening is open; zero: it is shut
	Doors    bool      `json:"doors,omitzero"`     // it is known how all doors stand
	NeedsAir bool      `json:"needs_air,omitzero"` // the house is too warm
	Covers   Covers    `json:"covers,omitzero"`
}

// Verdict is one on the mechanical control, see control.Finding, with what a
// sentence about it needs.
type Verdict struct {
	Kind       control.FindingKind `json:"kind"`
	On         bool                `json:"on,omitzero"`
	Stands     bool                `json:"stands,omitzero"`
	Timer      bool                `json:"timer,omitzero"`
	Drive      DriveID             `json:"drive,omitempty"`
	Other      DriveID             `json:"other,omitempty"`
	Stage      *StageName          `json:"stage,omitempty"`
	OtherStage *StageName          `json:"other_stage,omitempty"`
	Several    bool                `json:"several,omitzero"` // thermostats have to do with it
	Due        time.Time           `json:"due"`
	Since      time.Time           `json:"since,omitzero"`
	Called     time.Time           `json:"called,omitzero"`
	CalledTemp float64             `json:"called_temp,omitzero"`
	Quantity   Quantity            `json:"quantity,omitempty"` // that is felt, of Felt
	Felt       *float64            `json:"felt,omitempty"`
	FeltAt     time.Time           `json:"felt_at,omitzero"`
	Value      float64             `json:"value,omitzero"`
	Limit      float64             `json:"limit,omitzero"`
	Spread     float64             `json:"spread,omitzero"`
	Count      int                 `json:"count,omitzero"`
	Draws      Quantity            `json:"draws,omitempty"`     // that is unusual
	SwitchOff  bool                `json:"switch_off,omitzero"` // by its selector the drive is to rest
	OnFor      time.Duration       `json:"on_for_ns,omitzero"`  // that it is to run at a time
	State      control.Shown       `json:"state,omitzero"`      // of the drive by now
	Season     Season              `json:"season,omitempty"`
	ByCover    bool                `json:"by_cover,omitzero"` // it rests on what is known of a cover
	Observed   control.Observed    `json:"observed"`          // for its likeliest cause
}

// StageName names a stage of a thermostat.
type StageName struct {
	Control ControlID `json:"control"`
	Stage   string    `json:"stage,omitempty"` // where it has several
	Night   bool      `json:"night,omitzero"`
	Humid   bool      `json:"humid,omitzero"` // of a humidistat
}

// Gone is what ended because the plan was changed.
type Gone struct {
	Names Names    `json:"names"`
	What  GoneWhat `json:"what"`
	// House and Place are where a probe is by now.
	House HouseID `json:"house,omitempty"`
	Place PlaceID `json:"place,omitempty"`
	Told  *Told   `json:"told,omitempty"` // last
}

// GoneWhat is what of an old plan the new one does not have.
type GoneWhat string

// What is gone.
const (
	GonePlace    GoneWhat = "place"   // or the house
	GoneProbe    GoneWhat = "probe"   // taken out
	GoneMoved    GoneWhat = "moved"   // the probe is somewhere else now
	GoneReading  GoneWhat = "reading" // of a probe that is there
	GoneCircuit  GoneWhat = "circuit"
	GoneFew      GoneWhat = "few" // probes on the circuit
	GoneDrive    GoneWhat = "drive"
	OtherDrive   GoneWhat = "other-drive"   // another one in its place
	OtherControl GoneWhat = "other-control" // changed or taken out
	GoneRule     GoneWhat = "rule"          // what it was watched for
	GoneBands    GoneWhat = "bands"         // all that it was watched for
	OtherBeside  GoneWhat = "beside"        // other probes beside one that was an outlier
	FaultAnew    GoneWhat = "fault"         // a probe is judged again
)

// Names are what an alarm was about, as it was called then.
type Names struct {
	Rule     Rule         `json:"rule,omitempty"`
	Quantity Quantity     `json:"quantity,omitempty"`
	Side     Side         `json:"side,omitempty"`
	Priority Priority     `json:"priority,omitempty"` // of the worst it was
	House    Named        `json:"house,omitzero"`
	Place    Named        `json:"place,omitzero"`
	Probe    NamedProbe   `json:"probe,omitzero"`
	Circuit  Named        `json:"circuit,omitzero"`
	Drive    Named        `json:"drive,omitzero"`
	Control  Named        `json:"control,omitzero"`
	Opening  *HandOpening `json:"opening,omitempty"`
	Exposure *Exposure    `json:"exposure,omitempty"`
}

// Told is what was last told of an alarm.
type Told struct {
	Move       Move        `json:"move"`
	From       State       `json:"from"`
	To         State       `json:"to"`
	Level      Level       `json:"level"`
	Due        time.Time   `json:"due,omitzero"`
	Noticed    time.Time   `json:"noticed,omitzero"`
	Reason     *Reason     `json:"reason,omitempty"`
	Background *Background `json:"background,omitempty"`
	Sentence   string      `json:"sentence,omitempty"` // of early snapshots, which have nothing else
}

// Named is a part of a plan: its ID and what it is called in sentences.
type Named struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// NamedProbe is the same of a probe.
type NamedProbe struct {
	ID   ProbeID `json:"id"`
	Name string  `json:"name"`
}
