package say

import (
	"slices"

	"telltale/alarms/control"
)

// likeliest returns the likeliest cause of what is observed and what to check
// first: clauses without a full stop. Only looking and feeling is asked of the
// grower, safe things first; what is behind a cover at mains is for a licensed
// electrician. Both are empty where nothing more can be said than the verdict.
func likeliest(o control.Observed) (cause, check string) {
	for i := range causes {
		if c := &causes[i]; c.matches(o) {
			return c.cause, c.first(o) + c.check
		}
	}
	return "", ""
}

type causeRow struct {
	kinds        []control.FindingKind // nil: any
	drives       []control.DriveKind   // nil: any
	signs        control.Sign          // all of them
	cause, check string
	stops        bool // check asks to stop or to leave off what o is about
}

// first says what to open or to shut before what the house needs is stopped.
func (c *causeRow) first(o control.Observed) string {
	cools, warms := o.Drive != control.Heater, o.Drive != control.ExhaustFan && o.Drive != control.IntakeShutter
	switch {
	case o.Drive == control.GrowLight, o.Drive == control.Misting: // give neither
	case c.stops && cools && o.Signs&control.NeedsAir != 0:
		return "open doors and vents, for the house needs air now; then "
	case c.stops && warms && o.Signs&control.NeedsWarmth != 0:
		return "shut doors, vents and shutter, for the house needs its warmth now; then "
	}
	return ""
}

func (c *causeRow) matches(o control.Observed) bool {
	return (c.kinds == nil || slices.Contains(c.kinds, o.Kind)) &&
		(c.drives == nil || slices.Contains(c.drives, o.Drive)) &&
		o.Signs&c.signs == c.signs
}
