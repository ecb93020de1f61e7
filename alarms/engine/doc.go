// Package engine judges: what happened goes in as Inputs, each with its time; what it
// means comes out as Transitions, each with its reason. It is pure and deterministic:
// no clock, no file, no goroutine, no lock, no randomness, no order of a map.
//
// # What Step promises
//
//  1. Step is the only way in. Every Input carries At, by a time of the core's own that
//     only moves forward and never stands (package timing).
//  2. Before an input is applied, every deadline up to its At fires, in order. A late or
//     an extra tick changes when something is heard of, never what happened; a Transition
//     states both times. Only of what is told again because nobody has it, one stands for
//     all in a step of more than a day.
//  3. Freshness counts by live messages received. A retained value is shown, and that is
//     all. Late and repeated readings are history, not the present.
//  4. A value on a limit is within it. A restart at any point equals no restart (Snapshot,
//     Restore); time away counts as blindness, not as normal. Under a changed plan each
//     thing goes on as what has its name there; the first Step returns what that ended.
//  5. A rate is a robust slope over a window with enough points in it; one spike raises
//     nothing.
//  6. What a sensor cannot give, or gives when it fails, raises no climate alarm; its place
//     is then unwatched, and that is told. What is doubted (a step, an outlier, stuck, its
//     clock) is held back within limits and told beyond one, of a value, a rate or an
//     exposure, with the doubt, once a second reading or a sibling agrees. An alarm ends by
//     the word of the probes that raised it; if one of them is lost, by that of another that
//     has been believed for 30 min or three of its intervals, and says so.
//  7. One cause, one alarm: what it explains is suppressed by design and named. A cause that
//     was put aside (shelved, out of service) says nothing, so it suppresses nothing, but for
//     the log of a drive, which a person shelves who tries something on it: what it explains
//     speaks for itself until it is told again.
//  8. Every Transition carries its reason as data, with all that its sentence needs; nothing
//     is worded here. Package say makes the sentence, in the locale of a reader.
//  9. Same inputs, same transitions, same IDs, sorted.
//
// # The order of work
//
// A Step lets time pass: each deadline up to At fires, earliest first, ties by the order in
// which they were built. At the end of each instant in which something fired, and again when
// the input is applied, settle looks at what was noted: limits whose latches turned, silences
// that are to be decided, verdicts for which another may speak, and last the places and
// circuits whose silences and faults may speak for others. So what happens in one instant is
// judged as one thing, and only what changed is looked at.
//
// A reading goes from Step to its stream: believed or not (believe.go, reading.go), then to
// the point of its quantity at its place: limits, rate, exposures; then to what it is evidence
// of. Each kind of rule reports a level to its alarm; package lifecycle decides what that
// means for whom it is told. What kinds there are in a house stands once, in buildHouse: each
// is a part with its own state, which it saves under its own name.
//
// # Where to look
//
//	limits                           side.go judges, point.go says which limits hold
//	rates of change                  trend.go, over the courses of slope.go
//	what is derived (VPD, dew margin)  place.go
//	silence, and what it takes with it  silence.go, nodes.go, told.go, witness.go, losses.go
//	doubts of a reading              plausible.go, fault.go; whose word counts: voice.go, word.go
//	exposures                        doses.go, exposed.go
//	thermostats and their drives     controls.go, then packages thermostat and control
//	doors and vents, seasons         opening.go, seasons.go, selectors.go
//	the link, restarts, the clock    link.go, watch.go
//	what people do                   people.go
//	saving, restoring, another plan  snapshot.go, replan.go
//
// # Silence: one cause, one alarm
//
//	broker lost                               watch/broker/silent
//	└─ house                                  long-house/silent
//	   └─ circuit that feeds others           long-house/main/silent
//	      └─ circuit (two probes, or a witness)  long-house/north-circuit/silent
//	         └─ probe                         long-house/bench/bench-1/silent
//	            └─ one quantity of several    long-house/bench/bench-1/humidity-silent
//	place with no probe to believe            long-house/bench/unwatched
//
// The topmost node that is wholly silent is reported; what is below it is
// suppressed and names it. A silence that may yet turn out wider is held back for
// up to two intervals, unless another probe under the same node is on time. When
// something below a reported node is heard again, the rest gets one more allowance
// before it is reported by itself. "unwatched" speaks for the probe's own silence,
// a wider silence for "unwatched". A node counts what is below it, so that a
// message costs the height of the tree and not the size of the house.
//
// The witness of a circuit makes its node even if nothing else hangs there. Three
// readings of zero from it mark the node dead, which reports it and, like a
// silence, speaks for what falls silent below. If something else on the circuit is
// heard after the second of them, the witness is contradicted until all of that is
// silent. A node that feeds others counts the witness of a dead one as silent. A
// circuit with nothing but one other below it has no node.
//
// When no temperature inside a house is believed any more, the place that was lost
// last is at the level "last", and so is every alarm that speaks for it: that is
// of high priority whatever the plan says. What a person took out of service is no
// alarm, but the next place lost is the last.
//
// While nothing can be heard (the link is down, the watch was away) a wait for a
// message counts on, but does not end before an interval, and at least two
// minutes, has passed since messages can be heard again; where they come and go
// faster than that, when twice as much has passed in all. A running delay of a
// limit stands still, and goes on with the first reading still beyond. A link lost
// three times in ten minutes is reported like a lost one, until it has held for
// five.
//
// # Limits, deadband, delays, settling
//
// A limit has a latch, on or off, with a delay each way:
//
//	            on after "delay" beyond           off after "clear-delay" inside
//	high ─────────────────────────────────────────────────────── beyond: above the limit
//	        ░░░░░░░░░░░░░ deadband: keeps what it is, and stops a running delay
//	high - deadband ──────────────────────────────────────────── inside: at or below this
//
// Two latches, outer (high) and inner (high-high, with the quick delay), make the
// level of one alarm. Where several bands hold, each limit comes from the most
// specific that sets it: season and daypart, season, daypart, always. After a
// change of day, night or season the looser limit holds for "settle". When a probe
// falls silent or sick a running delay stands still, and goes on with the first
// reading still beyond; one towards off begins again. Neither ends an alarm that
// is on.
//
// # What it costs
//
// Day and night are found once for all houses whose days are the same. A change
// of day or season looks only at places that would not be well by the strictest
// limits that may ever hold there; the others find their limits when they are
// asked for. Time away, and a lost link, look at no stream and no delay: each
// takes it in when it is looked at next. BenchmarkCost measures the worst steps
// with 10,000 places, and says what they were.
//
// # What people open and shut, seasons
//
// Of what people open and shut by hand the contact alone says what is open; what is not
// heard begins and ends nothing, and every deadline follows from the state, so none is saved.
// Exposures are counted by package exposure, in whole nanoseconds, so that the moment at which
// a count will be full is known before it comes. Seasons are proposed from the weather of the
// last days; only a person sets one. Thermostats and ground loops have packages of their own.
package engine
