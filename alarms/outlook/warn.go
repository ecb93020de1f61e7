package outlook

import "time"

// What makes a warning: chosen on the odd weeks of recorded houses and on
// simulated ones, the same for every place and limit.
const (
	// Likely is the Chance from which is warned.
	Likely = 0.5
	drop   = Likely / 4
	enough = 4 * time.Minute  // for which it must be so; a reading stands for up to that
	calm   = time.Hour        // for which it must be below drop
	heldAs = 15 * time.Minute // that a reading stands for at most
)

// Again is for how long a limit that was reached must not be any more before it may be
// warned of again.
const Again = 30 * time.Minute

// Warning follows one limit of a place: raised once a rise, it stands until the
// limit is reached or has long been unlikely.
type Warning struct {
	On     bool
	At     time.Time     // of the last Step
	Likely time.Duration // for which it has been likely
	Calm   time.Duration // for which it has been unlikely, while On
	Within time.Duration // since the limit was last reached, up to Again
}

// Step takes the Chance that the limit is reached within the farthest horizon,
// and whether it is reached now. It is asked about once a minute, or with every
// reading where these are further apart.
func (w *Warning) Step(at time.Time, likely float64, reached bool) {
	passed := min(at.Sub(w.At), heldAs)
	if w.At.IsZero() {
		passed, w.Within = 0, Again
	}
	w.At = at
	if reached {
		*w = Warning{At: at}
		return
	}
	w.Within = min(w.Within+passed, Again)
	switch {
	case w.On && likely >= drop:
		w.Calm = 0
	case w.On:
		if w.Calm += passed; w.Calm >= calm {
			w.On, w.Likely = false, 0
		}
	case likely < Likely:
		w.Likely = 0
	default:
		w.Likely = min(w.Likely+passed, enough)
		w.On, w.Calm = w.Likely >= enough && w.Within >= Again, 0
	}
}
