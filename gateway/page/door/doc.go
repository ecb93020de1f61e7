// Package door lets people and programs in to the page, and keeps others out.
//
// What it promises:
//
//   - Secrets are kept as hashes alone; wrong names and wrong passwords look the
//     same and cost the same. Guessing is slowed by client and by account, and
//     keeps nobody out of a browser in which they were signed in before.
//   - Sessions outlive a restart by Memory; a changed password ends them.
//   - A request that another web page sent changes nothing, and none is answered
//     under a foreign host name.
//   - A link of AckLinks acknowledges one alarm for one person until it ends, and
//     nobody without the key can make one.
//
// Its waits and deadlines go by the machine's clock. All of it may be used by
// many goroutines at once.
package door
