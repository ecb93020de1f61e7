// Package copies keeps copies of a store, with all that another machine needs
// to go on from one, in a directory.
//
// # What a copy is
//
// A directory "telltale-NUMBER-DATE" with the store (database, journal, the keys
// beside them), the config, every file that the config names as a secret or a
// certificate, and copy.json, which lists each with its SHA-256; copy.sum is that
// of copy.json. Secrets are in it, because without them nobody is told: it is
// made so that its owner alone can read it, where the disk knows owners. Who is
// signed in on the page is not in it.
//
// # What it promises
//
//   - Make may be called while a watch writes to the store, and holds it up
//     nowhere: see store.Copy. Where the disk of the copies hangs, Make may hang
//     with it; Keeper then leaves it alone and says that there is no new copy.
//   - A copy has its name only once it was read back from its disk whole, its
//     database was checked and its state was restored into a core. What is cut
//     short has a name that begins with a dot, and is removed by the next Make.
//   - Only copies of the same store are ever removed, the oldest, and only after a
//     new one has its name.
//   - PutBack refuses a copy of which one byte was changed, and changes nothing
//     before it has checked all of it. The store that it replaces is renamed, not
//     removed. What waited to be told is not told: the store that was copied did.
package copies
