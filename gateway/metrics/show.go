package metrics

import "telltale/alarms"

func (s *scrape) house(h *alarms.HousePicture) {
	s.put(s.families.season, 1, string(h.ID), string(h.Season))
	for i := range h.Places {
		p := &h.Places[i]
		for j := range p.Points {
			s.point(string(h.ID), string(p.ID), &p.Points[j])
		}
		for j := range p.Probes {
			s.probe(string(h.ID), string(p.ID), &p.Probes[j])
		}
		for j := range p.Exposures {
			s.exposure(string(h.ID), string(p.ID), &p.Exposures[j])
		}
	}
	s.loop(string(h.ID), h.Loop)
	for i := range h.Drives {
		s.drive(string(h.ID), &h.Drives[i])
	}
}

// point shows a value while it is live, and its age in any case. Of a value
// that is only retained nobody knows the age, so nothing is shown.
func (s *scrape) point(house, place string, p *alarms.PointPicture) {
	if !p.HasValue || p.At.IsZero() || p.Quantity == alarms.Battery || p.Quantity == alarms.Signal {
		return
	}
	f, quantity, probe := &s.families, string(p.Quantity), string(p.Probe)
	live := p.Live && !s.stalled
	s.flag(f.live, live, house, place, quantity, probe)
	if p.Retained {
		return
	}
	s.put(f.age, max(0, s.now.Sub(p.At).Seconds()), house, place, quantity, probe)
	s.time(f.received, p.At, house, place, quantity, probe)
	if !live {
		return
	}
	if of, ok := f.points[p.Quantity]; ok {
		s.put(of.family, p.Value*of.mul, house, place, probe)
	}
	if p.Limits != (alarms.Limits{}) {
		beyond := float64(p.Level)
		if p.Side == alarms.LowSide {
			beyond = -beyond
		}
		s.put(f.beyond, beyond, house, place, quantity)
	}
}

func (s *scrape) probe(house, place string, p *alarms.ProbePicture) {
	f, id := &s.families, string(p.ID)
	s.time(f.heard, p.Heard, house, place, id)
	if p.Interval > 0 {
		s.put(f.interval, p.Interval.Seconds(), house, place, id)
	}
	s.flag(f.silent, p.Silent, house, place, id)
	s.flag(f.outOf, p.OutOf, house, place, id)
	heard := !p.Silent && !p.Heard.IsZero() && !s.stalled
	s.flag(f.healthy, heard && !p.OutOf && len(p.Faults) == 0, house, place, id)
	for _, fault := range p.Faults {
		s.put(f.fault, 1, house, place, id, string(fault))
	}
	if heard && p.Battery != nil {
		s.put(f.battery, *p.Battery/100, house, place, id)
	}
	if heard && p.Signal != nil {
		s.put(f.signal, *p.Signal, house, place, id)
	}
	s.put(f.taken, float64(p.Readings), house, place, id)
	s.put(f.refused, float64(p.Refused), house, place, id)
	s.put(f.garbled, float64(p.Garbled), house, place, id)
}

// exposure shows hours so far unless the watch stands still.
func (s *scrape) exposure(house, place string, x *alarms.ExposurePicture) {
	if s.stalled {
		return
	}
	f, rule := &s.families, string(x.ID)
	if x.LimitDegreeHours > 0 {
		s.put(f.dose, x.DegreeHours*3600, house, place, rule)
		s.put(f.doseLimit, x.LimitDegreeHours*3600, house, place, rule)
	} else {
		s.put(f.exposed, x.Time.Seconds(), house, place, rule)
		s.put(f.exposedLimit, x.Limit.Seconds(), house, place, rule)
	}
	s.put(f.exposedUnknown, x.Unknown.Seconds(), house, place, rule)
	s.flag(f.exposedReached, x.Reached, house, place, rule)
}

// alarms counts by state and priority, zeros too, so that an absent alarm is
// a zero and not a gap; the alarms themselves are shown while not normal.
func (s *scrape) alarms(all []alarms.AlarmPicture) {
	var n [alarms.OutOfService + 1][alarms.High + 1]int
	var aside [alarms.High + 1]int
	for i := range all {
		a := &all[i]
		if a.State > alarms.OutOfService || a.Priority > alarms.High {
			continue
		}
		n[a.State][a.Priority]++
		if a.StillAside() {
			aside[a.Priority]++
		}
		if i < maxAlarms {
			s.flag(s.families.active, a.Active, string(a.ID), string(a.House), string(a.Place), string(a.Quantity), a.Priority.String())
		}
	}
	for state := alarms.Unacknowledged; state <= alarms.OutOfService; state++ {
		for p := alarms.NoPriority; p <= alarms.High; p++ {
			if p != alarms.NoPriority || n[state][p] > 0 {
				s.put(s.families.alarms, float64(n[state][p]), state.String(), p.String())
			}
		}
	}
	for p := alarms.Low; p <= alarms.High; p++ {
		s.put(s.families.aside, float64(aside[p]), p.String())
	}
	s.put(s.families.unlisted, float64(max(0, len(all)-maxAlarms)))
}

// countFamilies are the metric names of what the parts count.
type countFamilies struct {
	received, dropped, flooded, undelivered   *family
	connects, queue                           *family
	decoded, problems, unclaimed, emptied     *family
	written, flushes, errors, size, lastFlush *family
	pending, oldest, attempts                 *family
	steps, transitions, inputs                *family
	lines, linesDropped, failures, buffered   *family
}

func newCountFamilies(b *builder) countFamilies {
	return countFamilies{
		received:    b.counter("link_messages_received_total", "Messages received from the broker."),
		dropped:     b.counter("link_messages_dropped_total", "Messages dropped because the queue behind the link was full."),
		flooded:     b.counter("link_messages_flooded_total", "Messages left out because their topic brought far more than any probe would."),
		undelivered: b.counter("link_broker_dropped_messages_total", "Messages that the broker did not deliver because a client, the watch or another, did not take them."),
		connects:    b.counter("link_connects_total", "Times that the broker was connected to."),
		queue:       b.gauge("link_queue_messages", "Messages waiting to be decoded."),

		decoded:   b.counter("decode_values_total", "Values read from payloads."),
		problems:  b.counter("decode_problems_total", "Payloads that could not be read as configured, by cause.", "probe", "cause"),
		unclaimed: b.counter("decode_unclaimed_messages_total", "Messages under topics that no probe claims."),
		emptied:   b.counter("decode_emptied_messages_total", "Empty messages, which delete a retained one."),

		written:   b.counter("store_written_bytes_total", "Bytes written to disk by the store."),
		flushes:   b.counter("store_flushes_total", "Times that the store waited for the disk."),
		errors:    b.counter("store_errors_total", "Failed writes of the store."),
		size:      b.gauge("store_size_bytes", "Size of the store on disk."),
		lastFlush: b.gauge("store_flush_timestamp_seconds", "When the store last reached the disk, Unix time."),

		pending:  b.gauge("outbox_pending_messages", "Messages to people that are not yet delivered."),
		oldest:   b.gauge("outbox_oldest_timestamp_seconds", "When the oldest message not yet delivered was due, Unix time."),
		attempts: b.counter("outbox_attempts_total", "Attempts to deliver a message to people.", "channel", "result"),

		steps:       b.counter("core_steps_total", "Inputs that the core has judged."),
		transitions: b.counter("core_transitions_total", "Transitions that the core has brought out."),
		inputs:      b.gauge("core_queue_inputs", "Inputs waiting for the core."),

		lines:        b.counter("export_lines_total", "Lines exported.", "sink"),
		linesDropped: b.counter("export_lines_dropped_total", "Lines given up: refused, or the buffer was full.", "sink"),
		failures:     b.counter("export_failures_total", "Attempts to export that failed.", "sink"),
		buffered:     b.gauge("export_buffered_bytes", "Bytes waiting on disk until the endpoint is back.", "sink"),
	}
}

func (s *scrape) counts(c *Counts) {
	f := &s.families.counts
	if l := c.Link; l != nil {
		s.put(f.received, float64(l.Received))
		s.put(f.dropped, float64(l.Dropped))
		s.put(f.flooded, float64(l.Flooded))
		s.put(f.undelivered, float64(l.Broker))
		s.put(f.connects, float64(l.Connects))
		s.put(f.queue, float64(l.Queue))
	}
	if d := c.Decode; d != nil {
		s.put(f.decoded, float64(d.Values))
		for _, p := range d.Problems {
			s.put(f.problems, float64(p.Count), p.Probe, p.Cause)
		}
		s.put(f.unclaimed, float64(d.Unclaimed))
		s.put(f.emptied, float64(d.Emptied))
	}
	if st := c.Store; st != nil {
		s.put(f.written, float64(st.Written))
		s.put(f.flushes, float64(st.Flushes))
		s.put(f.errors, float64(st.Errors))
		s.put(f.size, float64(st.Size))
		s.time(f.lastFlush, st.LastFlush)
	}
	s.outputs(c)
}

func (s *scrape) outputs(c *Counts) {
	f := &s.families.counts
	if o := c.Outbox; o != nil {
		s.put(f.pending, float64(o.Pending))
		s.time(f.oldest, o.Oldest)
		for _, a := range o.Attempts {
			s.put(f.attempts, float64(a.Sent), a.Channel, "sent")
			s.put(f.attempts, float64(a.Rehearsed), a.Channel, "rehearsed")
			s.put(f.attempts, float64(a.Failed), a.Channel, "failed")
		}
	}
	if k := c.Core; k != nil {
		s.put(f.steps, float64(k.Steps))
		s.put(f.transitions, float64(k.Transitions))
		s.put(f.inputs, float64(k.Queue))
	}
	for _, e := range c.Export {
		s.put(f.lines, float64(e.Lines), e.Sink)
		s.put(f.linesDropped, float64(e.Dropped), e.Sink)
		s.put(f.failures, float64(e.Failures), e.Sink)
		s.put(f.buffered, float64(e.Buffered), e.Sink)
	}
}
