package say

import (
	"slices"

	"telltale/alarms/control"
	"telltale/alarms/tongue"
)

// likeliest returns the likeliest cause of what is observed and what to check
// first: clauses without a full stop. Only looking and feeling is asked of the
// grower, safe things first; what is behind a cover at mains is for a licensed
// electrician. Both are empty where nothing more can be said than the verdict.
func (m Locale) likeliest(o control.Observed) (cause, check string) {
	for i := range causes {
		if c := &causes[i]; c.matches(o) {
			return m.say(c.cause), c.then(m, o)
		}
	}
	return "", ""
}

type causeRow struct {
	kinds        []control.FindingKind // nil: any
	drives       []control.DriveKind   // nil: any
	signs        control.Sign          // all of them
	cause, check tongue.Text
	stops        bool // check asks to stop or to leave off what o is about
}

// then says what to check, behind what to open or to shut before what the house needs is stopped.
func (c *causeRow) then(m Locale, o control.Observed) string {
	check := m.say(c.check)
	cools, warms := o.Drive != control.Heater, o.Drive != control.ExhaustFan && o.Drive != control.IntakeShutter
	switch {
	case o.Drive == control.GrowLight, o.Drive == control.Misting: // give neither
	case c.stops && cools && o.Signs&control.NeedsAir != 0:
		return m.say("open doors and vents, for the house needs air now; then %s", check)
	case c.stops && warms && o.Signs&control.NeedsWarmth != 0:
		return m.say("shut doors, vents and shutter, for the house needs its warmth now; then %s", check)
	}
	return check
}

func (c *causeRow) matches(o control.Observed) bool {
	return (c.kinds == nil || slices.Contains(c.kinds, o.Kind)) &&
		(c.drives == nil || slices.Contains(c.drives, o.Drive)) &&
		o.Signs&c.signs == c.signs
}
