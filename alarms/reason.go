package alarms

import (
	"math"
	"time"
)

// ExposureReason is what an exposure had come to, as data.
type ExposureReason struct {
	ID               ExposureID    `json:"id"`
	Says             string        `json:"says"`                        // what it does
	Time             time.Duration `json:"time_ns,omitzero"`            // beyond the limit so far
	Limit            time.Duration `json:"limit_ns,omitzero"`           // that does harm
	DegreeHours      float64       `json:"degree_hours,omitzero"`       // so far, K h
	LimitDegreeHours float64       `json:"limit_degree_hours,omitzero"` // that do harm, K h
	Window           time.Duration `json:"window_ns,omitzero"`          // within the last so long
	Gap              time.Duration `json:"gap_ns,omitzero"`             // in one spell, which this ends
	Days             int           `json:"days,omitzero"`               // on each of so many running
	Nights           int           `json:"nights,omitzero"`             // in each of so many running
	Running          int           `json:"running,omitzero"`            // days or nights running before this one
	Unknown          time.Duration `json:"unknown_ns,omitzero"`         // for which nothing was known
	Morning          bool          `json:"morning,omitzero"`            // told by the forenoon only, and its end not at all
	Also             []string      `json:"also,omitempty"`              // what else the same night does, told with this
	With             ExposureID    `json:"with,omitempty"`              // what this is told with
	Source           string        `json:"source,omitempty"`            // of the rule
}

// OpeningReason is what stands open, or did.
type OpeningReason struct {
	ID   OpeningID   `json:"id"`
	Kind OpeningKind `json:"kind"`
	Open bool        `json:"open"`
	// Was is since when it had been open, where it is shut now.
	Was     time.Time `json:"was,omitzero"`
	By      time.Time `json:"by,omitzero"`       // when it should have been shut, where it should be shut now
	Outside *float64  `json:"outside,omitempty"` // °C
}

// AheadReason is when a limit is likely to be reached, if it is, from the moment of the
// reason on.
type AheadReason struct {
	Holds  time.Time     `json:"holds,omitzero"`     // from when on that will be the limit; zero: it is
	Likely float64       `json:"likely,omitzero"`    // 0 to 1, within the farthest horizon
	Soon   time.Duration `json:"soon_ns,omitzero"`   // one in ten comes sooner
	Middle time.Duration `json:"middle_ns,omitzero"` // 0: not known now
	Late   time.Duration `json:"late_ns,omitzero"`   // one in ten comes later
	Drive  DriveID       `json:"drive,omitempty"`    // that runs, and does not hold it
	Runs   time.Duration `json:"runs_ns,omitzero"`   // for so long
	Ended  AheadEnd      `json:"ended,omitempty"`
}

// AheadEnd is why it is not told any more that a limit is near.
type AheadEnd string

// How a warning ends that did not become the alarm of the limit.
const (
	AheadTurned  AheadEnd = "turned"
	AheadUnknown AheadEnd = "unknown" // nothing is heard, so nobody knows
	AheadNoLimit AheadEnd = "limit"   // another one holds now
	AheadAside   AheadEnd = "aside"   // the alarm of the limit is put aside
	AheadPast    AheadEnd = "past"    // the day, or the night, that it told of is over
)

// DayReason is what was expected of a day, or a night, when it was told.
type DayReason struct {
	Night bool      `json:"night,omitzero"` // its lowest, until sunrise; else the highest, until sunset
	Value float64   `json:"value"`          // °C, the middle
	From  float64   `json:"from"`           // °C, one in ten is lower
	To    float64   `json:"to"`             // °C, one in ten is higher
	At    time.Time `json:"at"`             // when, likely
	Ended AheadEnd  `json:"ended,omitempty"`
}

// DriftReason is how a figure of a house has become another one.
type DriftReason struct {
	Figure string   `json:"figure"`       // as that of FigurePicture, in its unit
	Was    float64  `json:"was,omitzero"` // in the weeks before; with Is, not where it ended as another one
	Is     float64  `json:"is,omitzero"`
	Ended  DriftEnd `json:"ended,omitempty"`
}

// DriftEnd is why a drift is not told any more.
type DriftEnd string

// How a drift ends.
const (
	DriftBack  DriftEnd = "back"
	DriftTaken DriftEnd = "taken" // somebody acknowledged it: it is what is usual now
	DriftOther DriftEnd = "other" // season, what is set by hand, plan or probes are others now
)

// LoopReason is what a ground loop does, as data: of one pipe, of a day, or
// which depth is now the better one.
type LoopReason struct {
	What   LoopWhat `json:"what"`
	Depth  float64  `json:"depth_m,omitzero"`    // of the pipe, m
	Outlet *float64 `json:"outlet,omitempty"`    // temperature there, °C
	House  *float64 `json:"house,omitempty"`     // of the air that enters, °C
	Ground *float64 `json:"ground,omitempty"`    // that the ground should have there, °C
	Stands bool     `json:"stands,omitzero"`     // the fan stands, or the damper is shut
	Water  string   `json:"water,omitempty"`     // what its humidity says about water
	Drift  float64  `json:"drift,omitzero"`      // K against the season, negative colder
	Days   int      `json:"drift_days,omitzero"` // over which it drifted
	Want   string   `json:"want,omitempty"`      // what the house wants, with the better depth
	Gain   float64  `json:"gain,omitzero"`       // K by which the better depth helps
	Day    *LoopDay `json:"day,omitempty"`
}

// LoopWhat says what a LoopReason is about.
type LoopWhat string

// What is said of a ground loop.
const (
	NoFlow    LoopWhat = "no-flow"   // the outlet follows the house
	WetPipe   LoopWhat = "wet-pipe"  // water in the pipe
	Declining LoopWhat = "declining" // drifts from the season
	LoopDepth LoopWhat = "depth"     // another depth is the better one
	LoopSums  LoopWhat = "day"       // what a day brought
)

// LoopDay is what a loop brought in a day of the house.
type LoopDay struct {
	LoopEnergy
	Pipes []PipeDay `json:"pipes"`
}

// PipeDay is what one pipe brought in a day.
type PipeDay struct {
	Depth float64 `json:"depth_m"`
	LoopEnergy
}

// SeasonReason is what the house itself says of the season.
type SeasonReason struct {
	Place    string   `json:"place"`
	SetPoint float64  `json:"set_point"`           // °C, of the exhaust stage
	Quiet    int      `json:"quiet_days,omitzero"` // without a call of it
	Hot      int      `json:"hot_days,omitzero"`   // beyond it, of the last seven
	Hottest  *float64 `json:"hottest,omitempty"`   // °C, of those
}

// Swing is how often something came and went, as data.
type Swing struct {
	Times  int           `json:"times"`
	Within time.Duration `json:"within_ns"`
	Far    *float64      `json:"far,omitempty"` // how far it went, in the quantity's unit
	Quiet  time.Duration `json:"quiet_ns"`      // for how long it must be quiet to be over
}

// Switched is one line of the log of switchings: one run of a drive, or one
// call that was missed. A time that was not seen is zero.
type Switched struct {
	Called      time.Time     `json:"called,omitzero"` // when the dial was passed
	CalledTemp  *float64      `json:"called_temp,omitempty"`
	Ran         time.Time     `json:"ran,omitzero"`
	RanAfter    time.Duration `json:"ran_after_ns,omitzero"`
	RanTemp     *float64      `json:"ran_temp,omitempty"`
	Stopped     time.Time     `json:"stopped,omitzero"`
	StoppedTemp *float64      `json:"stopped_temp,omitempty"`
	Missed      bool          `json:"missed,omitempty"`   // called, and did not run
	Inferred    bool          `json:"inferred,omitempty"` // from temperatures alone
	Right       bool          `json:"right,omitempty"`    // as it should be: a proof
	Felt        Quantity      `json:"felt,omitempty"`     // what the stage feels that called it; "": none did
	By          SwitchedBy    `json:"by,omitempty"`
}

// SwitchedBy is who seems to have made a drive run, where that is worth a word.
type SwitchedBy string

// Who made it run.
const (
	SwitchedByHand    SwitchedBy = "hand"
	SwitchedByTest    SwitchedBy = "test"    // that was announced
	SwitchedByMistake SwitchedBy = "mistake" // it should have been off
)

// LoopEnergy is what a loop or one of its pipes brought over some time. Heat and
// cold are what a thermometer shows; what vapour carried is apart, since it warms
// nothing until it condenses.
type LoopEnergy struct {
	Heat    float64       `json:"heat_kwh"`                  // warmth brought in
	Cold    float64       `json:"cold_kwh"`                  // warmth taken out, counted positive
	Wet     float64       `json:"moisture_in_kwh,omitzero"`  // brought in by vapour, where both humidities are known
	Dried   float64       `json:"moisture_out_kwh,omitzero"` // taken out by vapour, counted positive
	Fan     float64       `json:"fan_kwh"`                   // drawn by the fan, where known; 0 for a pipe
	Run     time.Duration `json:"run_ns"`                    // with air moving
	Watched time.Duration `json:"watched_ns"`                // over which the warmth was known
}

// EachFanKWh returns the heat and cold for each kWh that the fan drew, ok
// false where that is not known.
func (l LoopEnergy) EachFanKWh() (each float64, ok bool) {
	if l.Fan < 0.001 || l.Watched == 0 {
		return 0, false
	}
	return (l.Heat + l.Cold) / l.Fan, true
}

// Plus is l and m together.
func (l LoopEnergy) Plus(m LoopEnergy) LoopEnergy {
	return LoopEnergy{Heat: l.Heat + m.Heat, Cold: l.Cold + m.Cold, Wet: l.Wet + m.Wet, Dried: l.Dried + m.Dried,
		Fan: l.Fan + m.Fan, Run: l.Run + m.Run, Watched: l.Watched + m.Watched}
}

// Minus is l without m.
func (l LoopEnergy) Minus(m LoopEnergy) LoopEnergy {
	return LoopEnergy{Heat: l.Heat - m.Heat, Cold: l.Cold - m.Cold, Wet: l.Wet - m.Wet, Dried: l.Dried - m.Dried,
		Fan: l.Fan - m.Fan, Run: l.Run - m.Run, Watched: l.Watched - m.Watched}
}

// HandReason says that an acknowledgement ends with the time in hand, at its lower quantile.
type HandReason struct {
	Limit float64 `json:"limit"`           // °C, that may be reached by then
	Eased bool    `json:"eased,omitempty"` // Realarm: there is more time by now than there was to be
}

// Reason is why a transition happened, as data. Names are as in the plan.
type Reason struct {
	Rule     Rule          `json:"rule"`
	House    HouseID       `json:"house,omitempty"`
	Place    PlaceID       `json:"place,omitempty"`
	Probe    ProbeID       `json:"probe,omitempty"`
	Circuit  CircuitID     `json:"circuit,omitempty"`
	Drive    DriveID       `json:"drive,omitempty"`
	Verdict  string        `json:"verdict,omitempty"` // on a drive or a thermostat
	Switched *Switched     `json:"switched,omitempty"`
	Quantity Quantity      `json:"quantity,omitempty"`
	Side     Side          `json:"side,omitempty"`
	Value    *float64      `json:"value,omitempty"`    // in the quantity's unit
	Limit    *float64      `json:"limit,omitempty"`    // in the quantity's unit, or per hour for a rate
	Rate     *float64      `json:"rate,omitempty"`     // per hour, where enough is known
	Since    time.Time     `json:"since,omitzero"`     // since when the condition holds
	Lasted   time.Duration `json:"lasted_ns,omitzero"` // Return: how long it held
	Peak     *float64      `json:"peak,omitempty"`     // Return: the worst value seen
	Was      *float64      `json:"was,omitempty"`      // Worsen at the same limit, Realarm: the value when it was told or acknowledged
	Interval time.Duration `json:"interval_ns,omitzero"`
	Fault    Fault         `json:"fault,omitempty"`
	Daypart  Daypart       `json:"daypart,omitempty"`
	Season   Season        `json:"season,omitempty"`
	Cause    AlarmID       `json:"cause,omitempty"`    // suppressed by, or following from
	Includes []AlarmID     `json:"includes,omitempty"` // alarms that this one speaks for
	Affected []string      `json:"affected,omitempty"` // names of what is concerned, mostly probes

	Swing *Swing `json:"swing,omitempty"` // Raise, Worsen, Realarm: it comes and goes

	Lost []string `json:"lost,omitempty"` // probes and quantities on whose word it rests, and that are lost

	Exposure   *ExposureReason `json:"exposure,omitempty"`   // hours so far, and how many do harm
	Loop       *LoopReason     `json:"loop,omitempty"`       // what a ground loop does, or did in a day
	Inside     *SeasonReason   `json:"inside,omitempty"`     // what the house says of the season that is due
	Opening    *OpeningReason  `json:"opening,omitempty"`    // what stands open
	Ahead      *AheadReason    `json:"ahead,omitempty"`      // when a limit is likely to be reached
	Day        *DayReason      `json:"day,omitempty"`        // of a day, or a night, to come
	InHand     *HandReason     `json:"in_hand,omitempty"`    // Ack, Realarm: it ends, or ended, with the time in hand
	Drift      *DriftReason    `json:"drift,omitempty"`      // of a figure of the house
	Leave      *LeaveReason    `json:"leave,omitempty"`      // of a person, who is not at hand
	Quantities []Quantity      `json:"quantities,omitempty"` // unwatched ones
	By         string          `json:"by,omitempty"`
	Note       string          `json:"note,omitempty"`
	Until      time.Time       `json:"until,omitzero"` // of shelving, or of the way of whoever acknowledged
	// Asked, of Realarm, is since when somebody is asked to acknowledge or, with
	// the state before it acknowledged, when somebody did. Lapsed says that an
	// acknowledgement ran out: from then on everybody in line is told at once.
	Asked  time.Time     `json:"asked,omitzero"`
	Lapsed bool          `json:"lapsed,omitempty"`
	Shift  time.Duration `json:"shift_ns,omitempty"` // of the wall clock; negative: it was put back
	Check  string        `json:"check,omitempty"`    // what to check first
	// Directions are the plan's, with Check.
	Directions string `json:"directions,omitempty"`
}

// Known is v, nil where it is no number.
func Known(v float64) *float64 {
	if math.IsNaN(v) {
		return nil
	}
	return &v
}
