// Package infer is for houses where nothing shows that a drive runs: Sense
// infers from the course of the house's temperature, and that outside where
// there is a probe, how likely it is that the exhaust fan runs. What it says
// is a likelihood and never evidence: nothing it says may raise an alarm of
// high priority by itself, and every sentence made of it must say that it is
// inferred.
//
// # What it rests on
//
// Three things, none of which needs to have seen the fan run:
//
//   - the rise: sun warms a closed house far above the outside air, a
//     ventilated one little. The rise of inside over outside is held against the
//     two rises that are usual at this height of the sun, with and without the
//     fan, as two normal distributions of one width;
//   - the level: a thermostat runs the fan when the house is warmer than it
//     mostly is, and a running fan makes a sunny house cooler from reading to
//     reading. Both count little, because a fan that fails in a hot house must
//     not be taken to run;
//   - breaks: all readings of a quarter of an hour below, or above, all of the
//     quarter before, which the outside air does not explain. How far apart
//     counts as a break is learned from the house (see Breaks).
//
// The odds of these add up in a filter of two states with forgetting (the
// forward pass of a hidden Markov model, Rabiner 1989, Proc. IEEE 77:257). The
// readings of a sunny hour are not independent, so evidence counts by the time
// it lasts and not by the number of readings, and likelihoods stay between
// least and most.
//
// # What it cannot do
//
// A fan that takes over from open vents changes nothing that a thermometer in
// the house could show. On windy or dull days, and at night with open vents, a
// house without its fan is as near to the outside air as with it. A probe pair
// that is off by a kelvin shifts the night's answers.
//
// # Time
//
// Step uses nothing that came later. A change in the drive shows in the
// likelihood after about a quarter of an hour, and in a break 10 to 15 minutes
// after it happened; the break then carries the time at which it happened.
package infer
