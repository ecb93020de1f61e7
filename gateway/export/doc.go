// Package export hands readings and transitions on as line protocol: to a file
// that is rotated, and to an HTTP write endpoint, with a buffer on disk for
// the time that the endpoint is away.
//
// It promises that AddReading and AddTransition never wait, for the disk or
// for the network; that what was taken reaches each sink in order; and that
// whatever is given up (queue full, buffer full, batch refused) is counted and
// told in a sentence. While the endpoint is up nothing is written to the
// buffer. A batch whose answer was lost is sent again: at least once, and at
// most that one batch twice. A crash loses what was added since the last
// flush; a stop loses nothing. The store is the record, this is a copy.
//
// # The lines
//
// A reading is one line of the measurement "reading": the tags house, place
// and probe, one field named after the quantity with a float in the core's
// unit (°C, %, V and so on, see alarms.Quantity), the time it was measured, or
// received if the probe has no clock:
//
//	reading,house=long-house,place=bench,probe=bench-1 temperature=21.5 1775369228000000000
//
// A transition is one line of the measurement "transition": the tags alarm,
// drive, house, move, place, priority, probe, quantity and rule, those that are empty
// left out; the fields id, from, to, level and sentence as text, noticed as Unix
// nanoseconds, value and limit as floats where there are any; the time it was
// due. A line of the log of switchings also says ran_seconds (where both ends
// were seen), starts (0 or 1) and right (as it should be).
package export
