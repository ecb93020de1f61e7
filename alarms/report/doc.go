// Package report sums up what a house was like over a span of time: how warm
// and how moist its places were and how long beyond their limits, for how long
// nothing was known, what the drives did, what the alarms asked of people and
// what people did.
//
// # What it promises
//
//   - It computes from what it is given alone: the history, the log, the plan.
//     The same gives the same.
//   - A value holds until the next one, at most for as long as its probe may be
//     silent. Time over which no value holds is blind: it is neither within
//     nor beyond a limit, and is told apart.
//   - A place is beyond a limit while any of its probes is, as the core judges
//     it, by the limits in force at that moment. Delays and deadbands are for
//     alarms and play no part here. A value on a limit is within it.
//   - Readings that the watch did not believe, or that no sensor can give,
//     count as not there.
//   - A sample may stand for several readings by their lowest, mean and highest.
//     Where a limit lies between them, the values are taken to be spread evenly
//     from lowest to highest. Coarse says how much of the time is known so.
package report
