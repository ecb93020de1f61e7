// Package say puts in words what the core tells as data: the transitions that
// Step returns, and the picture of what holds now. All words are here, and all
// writing of numbers, units and clock times in sentences: the core has none, and
// another language would be another package like this one.
//
// Everything is a function of the plan, the data and a Locale, which is how one
// reader wants numbers and times. The same transition can so be said once for the
// log and again for whoever reads in °F or with a decimal comma. The plan must be
// complete, as alarms.Engine.Plan and alarms.Plan.Filled return it. What the plan
// no longer has is called by its ID. Nothing here fails: of a transition that an
// early version saved, without alarms.Background, the sentence is the one saved with it.
package say
