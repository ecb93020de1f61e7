package metrics

import "time"

// Counts is what the parts of the service have counted. A nil part is not
// shown. All totals only grow while the service runs.
type Counts struct {
	Link   *LinkCounts
	Decode *DecodeCounts
	Store  *StoreCounts
	Outbox *OutboxCounts
	Core   *CoreCounts
	Export []ExportCounts
	Modem  *ModemCounts
}

// LinkCounts counts the connection to the broker.
type LinkCounts struct {
	Received uint64 // messages
	Dropped  uint64 // messages, because the queue was full
	Flooded  uint64 // messages left out because their topic brought too many
	Broker   uint64 // messages that the broker did not deliver, to the watch or to others
	Connects uint64
	Queue    int // messages waiting
}

// DecodeCounts counts what payloads gave.
type DecodeCounts struct {
	Values    uint64
	Problems  []ProblemCount
	Unclaimed uint64 // messages under topics that no probe claims
	Emptied   uint64 // empty messages: retained ones deleted
}

// ProblemCount counts one cause of one probe. Probe and Cause together must
// come once.
type ProblemCount struct {
	Probe string
	Cause string
	Count uint64
}

// StoreCounts counts what was written to disk.
type StoreCounts struct {
	Written   uint64 // bytes
	Flushes   uint64 // times that the disk was waited for
	Errors    uint64
	Size      int64     // bytes on disk
	LastFlush time.Time // zero: none yet
}

// OutboxCounts counts what people were told, and were to be told.
type OutboxCounts struct {
	Pending  int       // messages not yet delivered
	Oldest   time.Time // when the oldest pending one was due; zero: none
	Attempts []AttemptCounts
}

// AttemptCounts counts the attempts over one channel. A channel must come once.
type AttemptCounts struct {
	Channel   string
	Sent      uint64
	Rehearsed uint64 // of which nothing was sent, because the channel only rehearses
	Failed    uint64
}

// CoreCounts counts the work of the judging core.
type CoreCounts struct {
	Steps       uint64
	Transitions uint64
	Queue       int // inputs waiting
}

// ExportCounts counts one sink of exported readings. A sink must come once.
type ExportCounts struct {
	Sink     string
	Lines    uint64 // delivered
	Dropped  uint64 // lines given up
	Failures uint64 // attempts that failed
	Buffered int64  // bytes waiting on disk
}
