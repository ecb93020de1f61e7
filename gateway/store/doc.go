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
//   - An input waits for the disk until the next Sync; the owner calls it once a
//     second. A power cut costs that last second at most.
//   - After a crash, Restore of the last snapshot and the inputs that Recover
//     returns lead the core to the state it had: the journal keeps every field
//     of every input. Of ticks only the newest before each flush is kept.
//   - A disk that is full or refuses to write stops nothing: inputs wait in a
//     bounded buffer, what does not fit is counted, and all that waits is
//     written once the disk takes it again. What was saved stays readable.
//   - Open fails for two causes alone: another process has the store, or a newer
//     version wrote it. The rest is below.
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
// # Why a journal beside the database
//
// A transaction for each reading would wear a card out: a commit writes whole
// pages of table, index and log for the few bytes of a reading. So an input is
// appended to a journal (a few bytes each, one sync a second), and once an hour a
// checkpoint lays the readings down in blocks, with the core's snapshot, in one
// transaction; older journal segments then go. A transition is too precious to
// wait: it and its outbox rows are one transaction, after a sync of the journal.
// The two need not commit together, because the core is deterministic: after a
// crash the newest snapshot is restored and the journal replayed. A transition
// that was not yet saved is made again under the ID it would have had, and one
// that was saved is recognised by its ID and changes nothing.
//
// # Damage
//
// Open reads the database through, for up to 5 s. One that is damaged is copied
// into a new one, row by row and round what cannot be read, the state of the
// alarms first and the history last, for up to 15 s; then it is renamed to
// "telltale.db.damaged-DATE". Damage met later has the same done at the next
// write. Journal segments are read past damage, frame by frame; what is put
// aside has "damaged-DATE" behind its name. Nothing removes it but a person.
// Losses says in plain words what could not be read, again after a crash until
// a checkpoint has followed; where that is the state of the alarms Recover says
// so too. Damage to the last transaction, or the last
// flush, cannot be told from a power cut.
//
// A file beside the directory, Options.IDFile, holds the store's name, so that
// one that is gone is missed. Where it cannot be written the log says so.
//
// Where the disk cannot be written at the start, or the directory goes while
// the store is open, the store is apart from its disk (Refusing): queries read
// what the disk still shows, or an empty database in memory; every write is
// refused with a *DiskError; and once a minute, asked for the next write, the
// disk is tried again and gets all that waited. If it could not be read before
// and comes back with an earlier state, what was appended meanwhile is put
// behind its journal, and FoundEarlier asks for the store to be opened again.
//
// The lock is on the directory, and on the file "lock" in it.
//
// # Copies
//
// Copy copies a store, and Inspect reads one through, with a watch beside it or
// without one, and neither takes its lock for longer than a look. SQLite writes the
// copy of the database in one reading transaction; then the journal is copied from
// the segment on that this database asks for, and both again if a checkpoint came
// in between. Package copies makes of it what can be carried to another machine.
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
// # Rooms
//
// A Store is the journal and the state of the alarms. All else has a room of its own,
// with its tables and questions: the Log of transitions and runs, the Outbox with what
// came of telling, the History of readings, the Devices that take pushed alarms, and
// Notes, which one run keeps for the next. They share the disk, which holds the
// database that is open now and says why nothing can be written.
//
// # Concurrency
//
// One goroutine at a time, the owner, calls Recover, Append, Sync, Save, Checkpoint
// and CheckpointDue. All other methods, and all of the rooms, may be called by anybody
// at any time. Close comes last, when all of them have returned.
//
// The owner waits for the disk as long as it takes. Whoever gives a context
// with an end does not: from a disk that does not answer the call comes back
// soon after that end, and leaves a goroutine and its connection behind until
// the disk answers. The outbox is read by a connection of its own.
//
// No page of a file on the disk is mapped into memory, as one that the disk
// keeps back would stop the whole process. The index of SQLite's WAL is in shared
// memory, below /dev/shm, with a symbolic link to it in the place of its file
// "telltale.db-shm": while the store is open, and after a crash until it was open
// again, programs that know SQLite's file alone are refused the database. Only
// where there is no such memory, or another program has the database open before
// the store, is the index in its file.
package store
