package gateway

import (
	"cmp"
	"context"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/config"
	"telltale/gateway/decode"
	"telltale/gateway/export"
	"telltale/gateway/metrics"
	"telltale/gateway/reach"
)

// exportFeed puts what was judged into the export's terms.
type exportFeed struct {
	to     *export.Exporter
	places map[alarms.ProbeID]export.Reading
}

type noFeed struct{}

func (noFeed) Reading(decode.Value, time.Time) {}
func (noFeed) Transition(alarms.Transition)    {}

func newExportFeed(c *config.Config, e *export.Exporter) handOn {
	if e == nil {
		return noFeed{}
	}
	f := exportFeed{to: e, places: map[alarms.ProbeID]export.Reading{}}
	for _, h := range c.Plan.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				f.places[pr.ID] = export.Reading{House: h.ID, Place: pl.ID, Probe: pr.ID}
			}
		}
	}
	return f
}

func (f exportFeed) Reading(v decode.Value, received time.Time) {
	r := f.places[v.Probe]
	r.Quantity, r.Value, r.At = v.Quantity, v.Value, received
	if !v.Measured.IsZero() {
		r.At = v.Measured
	}
	f.to.AddReading(r)
}

func (f exportFeed) Transition(t alarms.Transition) { f.to.AddTransition(t) }

// forward passes the link's changes on to the owner and, when the broker is
// reached again, says every state again to those who follow: the broker may
// have lost what it retained.
func (p *parts) forward(ctx context.Context) error {
	look := time.Tick(stillEvery)
	for {
		select {
		case <-ctx.Done():
			return nil
		case c := <-p.link.Changes():
			select {
			case p.changes <- c:
			case <-ctx.Done():
				return nil
			}
			if c.Up && p.follow != nil {
				p.republish(ctx)
			}
		case s := <-p.overheard:
			if p.follow.Overheard(ctx, s.topic, s.payload) == reach.Blind {
				p.republish(ctx)
			}
		case <-look:
			if err := p.still(ctx); err != nil && ctx.Err() == nil {
				p.log.Warn().Err(err).Msg("which alarms put aside still hold could not be published")
			}
		}
	}
}

// spoken is what came on a topic that the watch alone should write.
type spoken struct {
	topic   string
	payload []byte
}

// hearForeign passes on what came there. What finds no room is overheard later:
// whoever writes there for long says it again.
func (p *parts) hearForeign(topic string, payload []byte) {
	select {
	case p.overheard <- spoken{topic, payload}:
	default:
	}
}

// stillEvery is how often it is looked whether what was put aside still holds,
// and what others have written in the watch's place.
const stillEvery = 10 * time.Second

// still says that to those who follow, while the broker is reached.
func (p *parts) still(ctx context.Context) error {
	if p.follow == nil || p.watch == nil {
		return nil
	}
	picture := p.watch.Picture()
	if !picture.Link {
		return nil
	}
	ctx, cancel := context.WithTimeout(ctx, stillEvery)
	defer cancel()
	return p.follow.Still(ctx, picture)
}

func (p *parts) republish(ctx context.Context) {
	ask, cancel := context.WithTimeout(ctx, patience)
	defer cancel()
	known, err := p.store.Log.Alarms(ask)
	if err != nil && ctx.Err() == nil {
		p.log.Warn().Err(err).Msg("which alarms there ever were cannot be read; of those that are over the broker may keep another state")
	}
	ctx, cancel = context.WithTimeout(ctx, 10*time.Second)
	defer cancel()
	if err := p.follow.Republish(ctx, p.watch.Picture(), known); err != nil && ctx.Err() == nil {
		p.log.Warn().Err(err).Msg("the states of the alarms could not be published anew")
	}
}

// losses counts the messages lost anywhere between the probes and the core, and
// names a topic that brought too many, "" for none.
func (p *parts) losses() (n uint64, topic string) {
	s := p.link.Stats()
	n, topic = s.Dropped+s.Flooded+p.store.Stats().Dropped+p.writer.dropped.Load(), s.FloodedBy
	if p.broker == nil {
		return n, topic // whose messages a broker dropped it does not say
	}
	b := p.broker.Stats()
	return n + b.Lost + b.Flooded, cmp.Or(b.FloodedBy, topic)
}

// muteAfter is how long a channel to people must fail before that is told.
const muteAfter = 5 * time.Minute

// mute keeps which channels to people have failed for long, "" for none. What
// follows over MQTT is no person, and that the broker is lost is told anyway.
func (p *parts) mute() string {
	if why := p.phones.trouble(); why != "" {
		return why
	}
	if why := p.box.unreadable(); why != "" {
		return why
	}
	for _, s := range p.worker.Stats() {
		if slices.Contains(p.owner.rules.Follow, s.Channel) {
			continue
		}
		if !s.FailingSince.IsZero() && p.clock.Core().Sub(s.FailingSince) > muteAfter {
			return tongue.Keep("channel %s has failed since %s: %s", s.Channel, p.clock.Wall(s.FailingSince), s.LastError)
		}
	}
	return ""
}

// counts collects what the parts have counted, for the metrics.
func (p *parts) counts() metrics.Counts {
	l, s := p.link.Stats(), p.store.Stats()
	c := metrics.Counts{
		Link: &metrics.LinkCounts{Received: l.Received, Dropped: l.Dropped, Flooded: l.Flooded, Connects: l.Connects, Queue: l.Queued},
		Store: &metrics.StoreCounts{Written: s.JournalBytes + s.DatabaseBytes, Flushes: s.Flushes + s.DatabaseSyncs,
			Errors: s.Failures, LastFlush: s.LastFlush},
		Core: &metrics.CoreCounts{Steps: p.owner.steps.Load(), Transitions: p.owner.made.Load()},
	}
	c.Link.Broker = l.BrokerDropped
	copied := p.keeper.State()
	c.Store.Copied, c.Store.CopyAge = !copied.Made.IsZero(), copied.Age
	if p.broker != nil {
		b := p.broker.Stats()
		c.Link.Flooded, c.Link.Broker = c.Link.Flooded+b.Flooded, b.Dropped
	}
	ctx, cancel := context.WithTimeout(context.Background(), time.Second)
	defer cancel()
	if size, err := p.store.Size(ctx); err == nil { // else it cannot be told now
		c.Store.Size = size
	}
	d := &metrics.DecodeCounts{Unclaimed: p.table.Unclaimed(), Emptied: p.table.Emptied()}
	for _, st := range p.table.Stats() {
		d.Values += st.Values
		for _, pr := range st.Problems {
			d.Problems = append(d.Problems, metrics.ProblemCount{Probe: string(st.Probe), Cause: string(pr.Cause), Count: pr.Count})
		}
	}
	c.Decode = d
	c.Export = p.exportCounts()
	out := &metrics.OutboxCounts{}
	if n, err := p.store.Outbox.Counts(ctx); err == nil {
		out.Pending = n.Waiting
	}
	for _, ch := range p.worker.Stats() {
		out.Attempts = append(out.Attempts, metrics.AttemptCounts{Channel: ch.Channel, Sent: ch.Delivered, Rehearsed: ch.Rehearsed,
			Failed: ch.Failed + ch.Refused + ch.GivenUp})
	}
	c.Outbox = out
	c.Modem = p.phones.counts()
	return c
}

func (p *parts) exportCounts() []metrics.ExportCounts {
	if p.export == nil {
		return nil
	}
	var all []metrics.ExportCounts
	s := p.export.Stats()
	if f := s.File; f != nil {
		all = append(all, metrics.ExportCounts{Sink: "file", Lines: f.Lines, Dropped: f.Dropped, Failures: f.Failures})
	}
	if h := s.HTTP; h != nil {
		all = append(all, metrics.ExportCounts{Sink: "http", Lines: h.Lines, Dropped: h.Dropped, Failures: h.Failures, Buffered: h.Buffered})
	}
	return all
}
