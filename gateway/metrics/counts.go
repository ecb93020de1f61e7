package metrics

import (
	"telltale/gateway/modem"
	"time"
)

// Counts is what the parts of the service have counted. A nil part is not
// shown. All totals only grow while the service runs.
type Counts struct {
	Link   *LinkCounts
	Decode *DecodeCounts
	Store  *StoreCounts
	Outbox *OutboxCounts
	Core   *CoreCounts
	Export []ExportCounts
	Modem  *modem.State
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
	Size      int64         // bytes on disk
	LastFlush time.Time     // zero: none yet
	Copied    bool          // there is a good copy
	CopyAge   time.Duration // of the newest
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

// countFigures are the metrics of what the parts count.
type countFigures struct {
	link                      []figure[*LinkCounts]
	decode                    []figure[*DecodeCounts]
	store                     []figure[*StoreCounts]
	outbox                    []figure[*OutboxCounts]
	core                      []figure[*CoreCounts]
	sink                      []figure[ExportCounts]
	modem                     []figure[*modem.State]
	problems, attempts, texts *family
}

func newCountFigures(b *builder) countFigures {
	return countFigures{
		link: table(b, nil, []row[*LinkCounts]{
			{"link_messages_received_total", "Messages received from the broker.", func(l *LinkCounts) float64 { return float64(l.Received) }},
			{"link_messages_dropped_total", "Messages dropped because the queue behind the link was full.", func(l *LinkCounts) float64 { return float64(l.Dropped) }},
			{"link_messages_flooded_total", "Messages left out because their topic brought far more than any probe would.", func(l *LinkCounts) float64 { return float64(l.Flooded) }},
			{"link_broker_dropped_messages_total", "Messages that the broker did not deliver because a client, the watch or another, did not take them.", func(l *LinkCounts) float64 { return float64(l.Broker) }},
			{"link_connects_total", "Times that the broker was connected to.", func(l *LinkCounts) float64 { return float64(l.Connects) }},
			{"link_queue_messages", "Messages waiting to be decoded.", func(l *LinkCounts) float64 { return float64(l.Queue) }},
		}),
		decode: table(b, nil, []row[*DecodeCounts]{
			{"decode_values_total", "Values read from payloads.", func(d *DecodeCounts) float64 { return float64(d.Values) }},
			{"decode_unclaimed_messages_total", "Messages under topics that no probe claims.", func(d *DecodeCounts) float64 { return float64(d.Unclaimed) }},
			{"decode_emptied_messages_total", "Empty messages, which delete a retained one.", func(d *DecodeCounts) float64 { return float64(d.Emptied) }},
		}),
		store: table(b, nil, []row[*StoreCounts]{
			{"store_written_bytes_total", "Bytes written to disk by the store.", func(s *StoreCounts) float64 { return float64(s.Written) }},
			{"store_flushes_total", "Times that the store waited for the disk.", func(s *StoreCounts) float64 { return float64(s.Flushes) }},
			{"store_errors_total", "Failed writes of the store.", func(s *StoreCounts) float64 { return float64(s.Errors) }},
			{"store_size_bytes", "Size of the store on disk.", func(s *StoreCounts) float64 { return float64(s.Size) }},
			{"store_flush_timestamp_seconds", "When the store last reached the disk, Unix time.", func(s *StoreCounts) float64 { return unix(s.LastFlush) }},
			{"store_copy_age_seconds", "Age of the newest good copy of the store, if there is one.", func(s *StoreCounts) float64 { return only(s.Copied, s.CopyAge.Seconds()) }},
		}),
		outbox: table(b, nil, []row[*OutboxCounts]{
			{"outbox_pending_messages", "Messages to people that are not yet delivered.", func(o *OutboxCounts) float64 { return float64(o.Pending) }},
			{"outbox_oldest_timestamp_seconds", "When the oldest message not yet delivered was due, Unix time.", func(o *OutboxCounts) float64 { return unix(o.Oldest) }},
		}),
		core: table(b, nil, []row[*CoreCounts]{
			{"core_steps_total", "Inputs that the core has judged.", func(c *CoreCounts) float64 { return float64(c.Steps) }},
			{"core_transitions_total", "Transitions that the core has brought out.", func(c *CoreCounts) float64 { return float64(c.Transitions) }},
			{"core_queue_inputs", "Inputs waiting for the core.", func(c *CoreCounts) float64 { return float64(c.Queue) }},
		}),
		sink: table(b, []string{"sink"}, []row[ExportCounts]{
			{"export_lines_total", "Lines exported.", func(e ExportCounts) float64 { return float64(e.Lines) }},
			{"export_lines_dropped_total", "Lines given up: refused, or the buffer was full.", func(e ExportCounts) float64 { return float64(e.Dropped) }},
			{"export_failures_total", "Attempts to export that failed.", func(e ExportCounts) float64 { return float64(e.Failures) }},
			{"export_buffered_bytes", "Bytes waiting on disk until the endpoint is back.", func(e ExportCounts) float64 { return float64(e.Buffered) }},
		}),
		modem: table(b, nil, []row[*modem.State]{
			{"modem_present", "Whether the modem answers (1) or not (0).", func(m *modem.State) float64 { return oneIf(m.Present) }},
			{"modem_ready", "Whether a text message could go out now (1) or not (0).", func(m *modem.State) float64 { return oneIf(m.Ready) }},
			{"modem_signal_dbm", "Strength at which the modem receives its network; left out when not known.", func(m *modem.State) float64 { return known(m.Signal) }},
			{"modem_today_messages", "Text messages sent today; each part of a long one counts.", func(m *modem.State) float64 { return float64(m.SentToday) }},
			{"modem_most_messages", "Text messages that may be sent in a day, but for high priority.", func(m *modem.State) float64 { return float64(m.MostPerDay) }},
			{"modem_received_messages_total", "Text messages received.", func(m *modem.State) float64 { return float64(m.Received) }},
			{"modem_unreadable_messages_total", "What the modem gave and could not be read.", func(m *modem.State) float64 { return float64(m.Unreadable) }},
			{"modem_calls_total", "Calls that rang.", func(m *modem.State) float64 { return float64(m.Calls) }},
		}),
		problems: b.family("decode_problems_total", "Payloads that could not be read as configured, by cause.", "probe", "cause"),
		attempts: b.family("outbox_attempts_total", "Attempts to deliver a message to people.", "channel", "result"),
		texts:    b.family("modem_texts_total", "Texts that the network took (sent), and what it reported of them.", "result"),
	}
}

func (s *scrape) counts(c *Counts) {
	f := &s.count
	showAny(s, f.link, c.Link)
	showAny(s, f.decode, c.Decode)
	if c.Decode != nil {
		for _, p := range c.Decode.Problems {
			s.put(f.problems, float64(p.Count), p.Probe, p.Cause)
		}
	}
	showAny(s, f.store, c.Store)
	showAny(s, f.outbox, c.Outbox)
	if c.Outbox != nil {
		for _, a := range c.Outbox.Attempts {
			s.put(f.attempts, float64(a.Sent), a.Channel, "sent")
			s.put(f.attempts, float64(a.Rehearsed), a.Channel, "rehearsed")
			s.put(f.attempts, float64(a.Failed), a.Channel, "failed")
		}
	}
	showAny(s, f.core, c.Core)
	for _, e := range c.Export {
		show(s, f.sink, e, e.Sink)
	}
	showAny(s, f.modem, c.Modem)
	if m := c.Modem; m != nil {
		s.put(f.texts, float64(m.Sent), "sent")
		s.put(f.texts, float64(m.Delivered), "delivered")
		s.put(f.texts, float64(m.Undelivered), "not-delivered")
	}
}
