package control

import "slices"

// Sign is what shows together with a verdict; signs add up.
type Sign uint16

// Signs. The caller knows the first ones, a Judge the others: see Signs.
const (
	ProbesSilent        Sign = 1 << iota // all probes of the house, or of the drive's circuit
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
)

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
	switch ds.Draw {
	case drawUsual:
		s |= DrawsUsually
	case drawMore:
		s |= DrawsTooMuch
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
	return s
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
			return c.cause, c.check
		}
	}
	return "", ""
}

type causeRow struct {
	kinds        []FindingKind // nil: any
	drives       []DriveKind   // nil: any
	signs        Sign          // all of them
	cause, check string
}

func (c *causeRow) matches(o Observed) bool {
	return (c.kinds == nil || slices.Contains(c.kinds, o.Kind)) &&
		(c.drives == nil || slices.Contains(c.drives, o.Drive)) &&
		o.Signs&c.signs == c.signs
}
