// Package exposure counts for how long, or by how much and how long, a value
// has been beyond a limit, and says when that has become too much.
//
// A Meter follows one Rule. Whoever owns it tells it what holds from a moment
// on: beyond the limit, within it, aside (not its time of day) or unknown. What
// was told holds until the next word, at the longest until a stated moment;
// from then on it is unknown. Unknown time is no exposure and no relief; it is
// counted apart.
//
// A Rule has one of three resets:
//
//   - Window: what counts is what lies within the last so many hours. The rule
//     is over when no more than half its limit is left in the window. The
//     window moves in steps of a 96th of its length: what is counted is never
//     less than what lies in the window, and never more than what lies in a
//     window longer by one step.
//   - Gap: what counts is one spell. It ends, and the count starts again, when
//     the value was within the limit for this long without a break (unknown
//     time and time aside are left out), or when nothing was known for a day.
//   - Periods: the limit must be reached in each of so many periods running,
//     such as days or nights. The rule is over when a period ends in which it
//     was not reached.
//
// Everything is integer arithmetic on nanoseconds, so that it does not matter
// how often a Meter is advanced: it changes at its own moments, which Due names
// in advance. State is plain data and may be saved at any time.
//
// The halves, the steps and the day are common practice, no source.
package exposure
