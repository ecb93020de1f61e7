// Package ahead looks ahead, for each place of a house with a limit of its temperature:
// package outlook learns what the temperature will do, and here people are warned when a
// limit is likely to be reached.
//
// A warning is an alarm of its own, with the priority of the limit that it is about. It is
// raised once a rise, never while the alarm of that limit is on, and becomes that alarm
// when the limit is reached: then it says nothing more by itself. Else it ends when it has
// turned, or when nothing is known any more. It is silent while the alarm of the limit is
// put aside. Each warning is held against what came of it.
//
// All that happens follows from readings and from one deadline, the end of the time for
// which the last reading stands. Looking ahead costs some microseconds, so it is done with
// a reading, and once a minute: never at more than one place in one step.
package ahead
