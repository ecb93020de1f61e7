package control

import "slices"

// Sign is what shows together with a verdict; signs add up.
type Sign uint32

// Signs. The caller knows the first ones, a Judge the others: see Signs.
const (
	FeedLost            Sign = 1 << iota // the drive's circuit is told as lost
	OneOutletLikeHouse                   // air of one depth of the loop is like the house's, of another not
	AllOutletsLikeHouse                  // of every depth
	DrawsNothing                         // a current or power is known and shows standing
	DrawsUsually                         // what a running drive usually draws
	DrawsTooMuch
	DrawsTooLittle
	ContactMade    // a contact is known and shows running
	ContactOpen    // a contact is known and shows standing
	CompanionStill // a drive that must run with it stands: the shutter of a fan is shut
	DriverStill    // all drives that need it stand: the fan of a shutter
	Frost          // it is below Frosty outside
	NeedsAir       // the house is warmer than where cooling ends, or how warm is not known
	NeedsWarmth    // it is colder than where heating ends, or frosty outside
	Timed          // a timer of its own has it
	DrawsFar       // more than FarOver of what is usual at most
	Covered        // the caller knows that its vent is covered
)

// FarOver is the part of the highest usual draw beyond which a motor is taken to
// be held and not only to labour (common practice, no source: a shaded-pole
// motor that is held draws one and a half to twice as much, others several times).
const FarOver = 1.25

// Needs returns what the house needs now, as far as the dials tell: NeedsAir,
// NeedsWarmth.
func (j *Judge) Needs() (s Sign) {
	for i := range j.spec.Stages {
		s |= j.needs(i, 0)
	}
	if j.state.Cold == Called {
		s |= NeedsWarmth
	}
	return s
}

// needs is what a stage says that the house needs; unknown where it feels
// nothing.
func (j *Judge) needs(stage int, unknown Sign) Sign {
	spec, st := &j.spec.Stages[stage], &j.state.Stages[stage]
	v, known := j.felt(spec.Bulb).at(j.state.Now)
	calls := st.Calls || st.Certain == Called
	switch {
	case j.out(stage), spec.Mode.Humid():
	case spec.Mode == Cooling && (calls || known && v > spec.Off):
		return NeedsAir
	case spec.Mode == Heating && (calls || known && v < spec.Off):
		return NeedsWarmth
	case !known:
		return unknown
	}
	return 0
}

// Signs returns what a Judge knows about a drive now.
func (j *Judge) Signs(drive int) (s Sign) {
	ds := &j.state.Drives[drive]
	for i, e := range ds.Evidence {
		what := j.spec.Drives[drive].Evidence[i].What
		electric := what == Current || what == Power
		switch {
		case !e.Known:
		case electric && !e.Runs:
			s |= DrawsNothing
		case what == Contact && e.Runs:
			s |= ContactMade
		case what == Contact:
			s |= ContactOpen
		}
	}
	drawn := ds.Draw
	if (drawn == drawMore || drawn == drawLess) && j.speeds(drive) && !ds.Gates[DrawsMore].On && !ds.Gates[DrawsLess].On {
		drawn = drawUnknown // it may be another speed
	}
	switch drawn {
	case drawUsual:
		s |= DrawsUsually
	case drawMore:
		s |= DrawsTooMuch
		if _, high := j.drawLimits(drive); ds.Evidence[j.drawer[drive]].Value > FarOver*high {
			s |= DrawsFar
		}
	case drawLess:
		s |= DrawsTooLittle
	}
	if j.firstIn(j.spec.Drives[drive].With, Standing) >= 0 {
		s |= CompanionStill
	}
	standing := func(f int) bool { return j.state.Drives[f].State == Standing }
	if fans := j.opens[drive]; len(fans) > 0 && !slices.ContainsFunc(fans, func(f int) bool { return !standing(f) }) {
		s |= DriverStill
	}
	if j.state.Cold == Called {
		s |= Frost
	}
	if j.want(drive).Wish == ByHours {
		s |= Timed
	}
	for _, i := range j.stagesOf[drive] {
		unknown := NeedsAir
		if j.spec.Stages[i].Mode == Heating {
			unknown = NeedsWarmth
		} else if j.state.Cold == Called {
			unknown = 0
		}
		s |= j.needs(i, unknown)
	}
	return s | j.Needs()
}

// Observed is a verdict about a kind of drive and what shows with it.
type Observed struct {
	Kind  FindingKind
	Drive DriveKind
	Signs Sign
}

// Causes returns the likeliest cause of what is observed and what to check
// first: clauses without a full stop. Only looking and feeling is asked of the
// grower, safe things first; what is behind a cover at mains is for a licensed
// electrician. Both are empty where nothing more can be said than the verdict.
func Causes(o Observed) (cause, check string) {
	for i := range causes {
		if c := &causes[i]; c.matches(o) {
			return c.cause, c.first(o) + c.check
		}
	}
	return "", ""
}

type causeRow struct {
	kinds        []FindingKind // nil: any
	drives       []DriveKind   // nil: any
	signs        Sign          // all of them
	cause, check string
	stops        bool // check asks to stop or to leave off what o is about
}

// first says what to open or to shut before what the house needs is stopped.
func (c *causeRow) first(o Observed) string {
	cools, warms := o.Drive != Heater, o.Drive != ExhaustFan && o.Drive != IntakeShutter
	switch {
	case o.Drive == GrowLight, o.Drive == Misting: // give neither
	case c.stops && cools && o.Signs&NeedsAir != 0:
		return "open doors and vents, for the house needs air now; then "
	case c.stops && warms && o.Signs&NeedsWarmth != 0:
		return "shut doors, vents and shutter, for the house needs its warmth now; then "
	}
	return ""
}

func (c *causeRow) matches(o Observed) bool {
	return (c.kinds == nil || slices.Contains(c.kinds, o.Kind)) &&
		(c.drives == nil || slices.Contains(c.drives, o.Drive)) &&
		o.Signs&c.signs == c.signs
}
