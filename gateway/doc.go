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
// # Order of closing
//
// Sources first (link, page), then the owner, which takes a snapshot, then
// those who tell (outbox worker, export), then broker and store.
package gateway
