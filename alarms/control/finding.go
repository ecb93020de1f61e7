package control

import (
	"time"

	"telltale/alarms/timing"
)

// FindingKind is a verdict about a drive or, for drifts, a stage. Each
// begins once and ends once. "Called" and "not called" mean for certain: beyond
// the dial by more than the tolerance, or still beyond the other switch point
// by as much since then. What is not known (a probe lost, a restart) neither
// begins nor ends a verdict, and every grace begins again after it.
type FindingKind uint8

// Verdicts.
const (
	// DidNotStart begins when a drive that follows, or that a timer of its own has
	// at its hours, has been called and seen
	// standing for the lag and its Start, and has not run in this call. It ends
	// when it runs, is not called, or no longer follows.
	DidNotStart FindingKind = iota
	// StoppedEarly is the same for a drive that has run in this call.
	StoppedEarly
	// StoodStill begins when a drive that is wanted always has stood for Start,
	// or one wanted in turn for one and a half times its off time and Start.
	// It ends when the drive runs or is no longer wanted.
	StoodStill
	// DidNotStop begins when a drive has run on, not called, for the lag and its
	// Stop, or for Stop after a selector switched it off. It ends when the drive
	// stands, is called, or is wanted otherwise. Shutters: OpenUnneeded.
	DidNotStop
	// RanUncalled begins when a run that started while not called has lasted for
	// handTestMost and for the grace of DidNotStop: a shorter one is taken as
	// a test by hand. It ends as DidNotStop does.
	RanUncalled
	// RanBarred begins when a barred drive has run for its Stop while the dial
	// asks for nothing: an exhaust fan while the vents are covered. A run in which
	// the dial asked has the lag more. It ends when it stands, is not barred, or
	// the dial asks: see SeasonUnfit.
	RanBarred
	// OpenUnneeded begins when a shutter has been open for the lag and its Stop
	// while no fan that needs it runs and it is not called; one that is free or
	// wanted open, while it is below Frosty outside and no stage could need it.
	// It ends when it is closed, needed or called, or the cold is over.
	OpenUnneeded
	// RanAlone begins when a drive has run for the Start of another that must
	// run with it and stands: a fan on a closed shutter. It ends when the
	// drive stands or all others run.
	RanAlone
	// RanTogether begins when a drive has run together with one it must not run
	// with, for the Stop of the other. It ends when either stands.
	RanTogether
	// NoEffect begins when an exhaust fan that follows has run for Effect from a
	// start that was seen, is not uncalled, and it has become warmer by 0.5 K than
	// at the start and is warmer than outside by wellAbove; where outside is not
	// known, warmer by 1 K. For a heater: when it has become colder by 0.3 K; for
	// misting: when it is not more humid than at the start. One that something else
	// called, a fan by a humidistat, answers to nothing. It
	// is looked for once in a run. It ends when the temperature has answered
	// by 0.5 K, or the drive stands.
	NoEffect
	// Contradiction begins when two readings have disagreed on whether the drive
	// runs for 2 min and for Start and Stop. It ends when all agree. The first
	// known in order of trust says the state meanwhile.
	Contradiction
	// DrawsMore begins when the drive has drawn more than UsualHigh, or 1.3 of
	// what was learned, for a minute after the inrush. It ends when a running
	// drive draws what is usual. Where that may be another speed (several stages
	// drive it, or less than twice and a half of what was learned) it begins after
	// Effect, if the temperature went on by 0.5 K against it; where the
	// temperature answered, the speed is learned.
	DrawsMore
	// DrawsLess is the same below UsualLow, or 0.7 of what was learned.
	DrawsLess
	// ShortCycling begins with the start that makes more than MaxStarts in an
	// hour. It ends when an hour holds no more than half as many.
	ShortCycling
	// TurnsWrong begins when a drive wanted in turn has run on for one and a
	// half times its on time and Stop, or when the share of time it ran in four
	// turns is off by more than a quarter. It ends when four turns are right, or
	// it is no longer wanted in turn.
	TurnsWrong
	// NeverRan begins at the end of a day on which a drive with evidence was
	// called for half an hour in total, was not seen to run, and DidNotStart could
	// not say so: the calls were short. It ends when it is seen to run, or no
	// longer follows. What is inferred neither begins nor ends it.
	NeverRan
	// DriftedOn begins when the median temperature of the last starts, 6 to 20 of
	// them, is off the dial by more than the tolerance and by more than two
	// standard errors of that median, or when the last two were late by more than
	// the tolerance, a kelvin apart at most. It ends within 0.8 of the tolerance,
	// by that median or by both of the last two. Only starts between readings at
	// most 2 min apart are looked at, and late ones.
	DriftedOn
	// DriftedOff is the same for the stops.
	DriftedOff
	// SeasonUnfit begins when a barred drive has run for its Stop while the dial
	// asks for it, acting in this season or not: the season, which a person sets,
	// may be wrong. It goes on when the drive stands again, and ends when it is
	// not barred, or with a whole day on which it did not run.
	SeasonUnfit
	// TimerOff begins when a drive wanted at hours of the day has run as long as
	// one of its times, and began and ended before or after it by about the same
	// and by more than Slack. The other verdicts excuse as much from then on. It
	// ends with a run that is right, off by something else or of another length,
	// with a whole day without one, or when no timer has it any more.
	TimerOff

	// Kinds is how many kinds there are. Snapshots keep them by number, so a new
	// one goes last. DriftedOn and DriftedOff are of a stage, the others of a drive.
	Kinds
)

// WithoutPower are the verdicts on a drive that are no wonder when its circuit
// has no power.
var WithoutPower = []FindingKind{DidNotStart, StoppedEarly, StoodStill, NeverRan, NoEffect, Contradiction, DrawsLess, TurnsWrong}

// WithoutWork are the verdicts on a drive that does not do its work.
var WithoutWork = []FindingKind{DidNotStart, StoppedEarly, StoodStill, NeverRan, NoEffect, RanAlone}

var findingNames = [...]string{"did not start", "stopped early", "stood still", "did not stop", "ran uncalled",
	"ran barred", "open unneeded", "ran alone", "ran together", "no effect", "contradiction", "draws more",
	"draws less", "short cycling", "turns wrong", "never ran", "drifted on", "drifted off", "season unfit",
	"timer off"}

func (k FindingKind) String() string {
	if int(k) < len(findingNames) {
		return findingNames[k]
	}
	return "unknown"
}

// Finding is the beginning or the end of a verdict, with what a sentence about
// it needs. Fields that mean nothing for a kind are zero.
type Finding struct {
	Kind  FindingKind
	On    bool           // begins, else ends
	Due   timing.Instant // when it did
	Since timing.Instant // when what it rests on began
	Drive int            // -1 for a drift, which is of a stage
	Stage int            // that calls, or drifted; -1: none
	Other int            // the drive that should, or should not, run with it, or that showed the drift; -1: none
	// Called and CalledTemp say when the dial was passed, 0 if that was not
	// seen, and how warm it was.
	Called     timing.Instant
	CalledTemp float64
	Temp       float64 // °C, the last reading
	TempKnown  bool
	// Value and Limit are what was found and what it is held against: °C for
	// drifts, NoEffect and SeasonUnfit (the temperature at the start), A or W for
	// DrawsMore and DrawsLess, starts for ShortCycling, shares of time for
	// TurnsWrong, minutes called for NeverRan, minutes late for TimerOff.
	Value, Limit float64
	Spread       float64        // K, standard deviation about the median of a drift
	OtherStage   int            // that calls Other, where they must not run together; -1: none
	Timer        bool           // a timer of its own has the drive, and Called is by it
	Count        int            // starts, stops or turns that Value is of
	Evidence     int            // index of the reading that contradicts or is unusual; -1: none
	Stands       bool           // the drive stands though it is called: what ended with that is not well
	TempAt       timing.Instant // when Temp was read
}

// By says who seems to have made a drive run.
type By uint8

// Who made it run.
const (
	ByNobody     By = iota // not known
	ByThermostat           // it was called, or may have been
	ByWish                 // it is wanted always or in turn
	ByTest                 // a test that was announced
	ByHand                 // it was not called, and ran for 30 s to 10 min
	ByMistake              // it was not called, barred or off, and ran otherwise
)

// Switching is one line of the log: one run, or one call that was missed. A time
// that was not seen is 0.
type Switching struct {
	Drive, Stage int // Stage -1: none
	By           By
	Called       timing.Instant // when the dial was passed; 0: it ran before that
	CalledTemp   float64
	Ran          timing.Instant // 0 with Missed, or where the start was not seen
	RanTemp      float64
	RanAfter     time.Duration // after Called; only with both
	Stopped      timing.Instant
	StoppedTemp  float64
	RanTempKnown bool
	StopKnown    bool // StoppedTemp is known
	Missed       bool // called for the whole grace and did not run
	Inferred     bool // from temperatures alone
	Right        bool // a complete switching as it should be: a proof
}

// Told is what an event brought. Both slices are valid until the next event.
type Told struct {
	Findings   []Finding
	Switchings []Switching
}
