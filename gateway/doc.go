// Package gateway builds the parts of the watch, runs them and closes them in
// order. It alone knows all of them; they do not know each other.
//
// # One owner
//
// One goroutine, the owner, holds the core. It takes messages from the link,
// acts of people from the page and ticks from the clock, in that order of
// arrival, judges each and hands it to the writer, which does what goes to the
// disk; the owner waits for it 2 s at most. What the core says is saved first and told afterwards:
// transitions and outbox rows go to disk in one transaction, and only then are
// the outbox worker, the page and the export told. A crash may tell twice, it
// never loses an alarm.
//
// Everyone else sends the owner something, or reads a copy: pictures of the
// core, rows of the store.
//
// # Two times
//
// The core's time moves with CLOCK_BOOTTIME, which goes on while the machine
// sleeps and which nobody can set. Deadlines, delays, order, IDs, the journal and
// the outbox go by it. The wall clock is what is shown, and what day, night,
// midnight, history and log go by: the core's time and an offset. Clock has both,
// and the owner compares them each turn:
//
//   - the wall clock is not where the offset puts it: the core is given a
//     ClockStep, which moves the offset alone;
//   - nothing in the process moved for ten seconds: the core is given StoodStill,
//     which counts as blindness.
//
// A Transition carries both: Core to sort by, Due and Noticed to show. Across a
// restart within one start of the machine the time away is measured, by the boot's
// ID; across a power-off it is what the wall clock says, or nothing if that has
// gone back.
//
// # Signs of life
//
// The service manager and the heartbeat get their sign of life only while the
// owner gets round, the core's time moves, and no channel hangs in a telling. A
// disk, a broker or a network that is away costs no sign of life: the watch goes
// on without it, and says so.
//
// # Order of closing
//
// Sources first (link, page), then the owner, which takes a snapshot, then
// those who tell (outbox worker, export), then broker and store.
package gateway
