// Package store keeps what the watch must not forget, in one directory: a
// SQLite file for transitions, the outbox, the core's snapshot and the history
// of readings, and an append-only journal of everything the core was given
// since that snapshot.
//
// # What it promises
//
//   - Saved first, then told. When Save returns nil the transitions and what is
//     to be told about them survive a power cut. Only then may anybody be told.
//     A crash in between loses nothing; it may tell twice, and every telling
//     carries an ID by which the second is known.
//   - An input waits at most Options.MaxWait (1 s) for the disk, if the owner
//     calls Sync by SyncDue. A power cut costs that last second at most.
//   - After a crash, Restore of the last snapshot and the inputs that Recover
//     returns lead the core to the state it had: the journal keeps every field
//     of every input. Of ticks only the newest before each flush is kept.
//   - A disk that is full or refuses to write stops nothing: inputs wait in a
//     bounded buffer, what does not fit is counted, and all that waits is
//     written once the disk takes it again. What was saved stays readable.
//   - It is kind to the cards of small boards: over two days of 1,000 probes
//     every 30 s, one flush a second, it wrote 25 bytes a reading as counted at
//     the write calls and 140 in whole pages as the kernel counts them, not
//     counting what the file system writes for itself (see BenchmarkHour). A
//     flush costs one page of 4,096 bytes however few readings it holds: ten
//     probes cost about 5 MB an hour.
//
// Like SQLite in its WAL mode, the journal takes it that a power cut while a
// page is written leaves the unchanged bytes of that page as they were.
//
// # History
//
// The history time of a reading is the probe's own time where it can be
// believed: given, not more than 2 minutes after it was received and not more
// than 7 days before; else the time it was received. It is kept in whole
// milliseconds. Retained and not finite values are not history, and a repeated
// pair of time and value is kept once. Raw readings are kept 90 days, then
// minimum, mean and maximum of every 10 minutes for 5 years, by UTC days.
//
// # Concurrency
//
// One goroutine at a time, the owner, calls Recover, Append, Sync, SyncDue, Save,
// Checkpoint and CheckpointDue. All other methods may be called by anybody at
// any time. Close comes last, when all of them have returned.
//
// The owner waits for the disk as long as it takes. Whoever gives a context
// with an end does not: from a disk that does not answer the call comes back
// soon after that end, and leaves a goroutine and its connection behind until
// the disk answers. The outbox is read by a connection of its own.
package store
