package alarms

// stream is one quantity of one probe at work.
type stream struct {
	streamState
	plan     *Stream
	probe    *probe
	point    *point // nil for battery, signal and the like
	leaf     bool   // its silence counts
	node     *node  // that it is the only one of, or its probe's
	deadline *timer // of the next reading
	grace    *timer // after a shared silence ended elsewhere
	spiking  *timer // end of the time in which spikes count
	outlier  *latch // against its siblings
	loop     bool   // a ground loop rests on it
	piped    bool   // it hangs at the outlet of a pipe, where air may be saturated for long
	evidence []evidenceOf
}

// streamState is what a snapshot keeps of a stream.
type streamState struct {
	Heard    instant   `json:"heard,omitempty"` // last live message
	Base     instant   `json:"base,omitempty"`  // silence counts from here
	Has      bool      `json:"has,omitempty"`   // a value was ever believed
	Fresh    bool      `json:"fresh,omitempty"` // and it belongs to the present
	Value    float64   `json:"value,omitempty"` // newest believed
	ValueAt  instant   `json:"value_at,omitempty"`
	Held     bool      `json:"held,omitempty"` // has retained value
	Retained float64   `json:"retained,omitempty"`
	HeldAt   instant   `json:"held_at,omitempty"`
	Measured instant   `json:"measured,omitempty"` // newest by the probe's clock
	Raw      float64   `json:"raw,omitempty"`      // as last sent
	RawAt    instant   `json:"raw_at,omitempty"`
	Gaps     []int64   `json:"gaps,omitempty"` // ns between messages, newest last
	LongGaps int       `json:"long_gaps,omitempty"`
	Silent   bool      `json:"silent,omitempty"`
	SilentAt instant   `json:"silent_at,omitempty"`
	Grace    instant   `json:"grace,omitempty"`
	GraceFor AlarmID   `json:"grace_for,omitempty"`
	Faults   faultSet  `json:"faults,omitempty"`
	Bad      int       `json:"bad,omitempty"`  // unbelievable readings in a row
	Good     int       `json:"good,omitempty"` // believable ones in a row
	BadValue float64   `json:"bad_value,omitempty"`
	Jumped   bool      `json:"jumped,omitempty"` // a step waits to be confirmed
	JumpTo   float64   `json:"jump_to,omitempty"`
	Spikes   []instant `json:"spikes,omitempty"`
	Same     float64   `json:"same,omitempty"`
	SameFrom instant   `json:"same_from,omitempty"`
	SameN    int       `json:"same_n,omitempty"`
	WeakN    int       `json:"weak_n,omitempty"` // weak in a row
	Pinned   instant   `json:"pinned,omitempty"`
	Course   course    `json:"course,omitempty"`
	Taken    uint64    `json:"taken,omitempty"`
	Refused  uint64    `json:"refused,omitempty"`
	Due      [3]instant
	Latch    latchState

	Calibrated calibration `json:"calibrated,omitzero"`
}

func (e *Engine) buildStream(p *probe, plan *Stream) *stream {
	st := &stream{plan: plan, probe: p}
	switch plan.Quantity {
	case Temperature, Humidity, Surface, Soil:
		st.leaf = true
	case Contact, Current, Power, Speed, Pressure:
		st.leaf = p.plan.Every > 0
	}
	h := p.place.house
	st.deadline = e.timers.build(func(due instant) { e.fallSilent(st, due) })
	st.grace = e.timers.build(func(due instant) { e.endGrace(st, due) })
	st.spiking = e.timers.build(func(due instant) {
		st.Spikes = nil
		st.fault(faultSpikes, false)
		e.rejudge(p.place, due)
		e.review(h)
	})
	st.outlier = newLatch(&e.timers, func(due instant) {
		st.fault(faultOutlier, st.outlier.On)
		e.rejudge(p.place, due)
		e.review(h)
	})
	return st
}

// usable reports whether st's value may be judged: known, believed, present.
func (st *stream) usable() bool {
	return st.Fresh && !st.Silent && !st.probe.Out && !st.Faults.sick()
}

// forgetPresent drops what needs an unbroken course of readings.
func (st *stream) forgetPresent() {
	st.Fresh, st.Jumped = false, false
	st.Course = course{}
	st.SameN, st.SameFrom, st.Pinned, st.RawAt = 0, 0, 0, 0
	st.outlier.forget()
}

func (st *stream) save() streamState {
	s := st.streamState
	s.Gaps = append([]int64(nil), s.Gaps...)
	s.Spikes = append([]instant(nil), s.Spikes...)
	s.Due = [3]instant{st.deadline.due, st.grace.due, st.spiking.due}
	s.Latch = st.outlier.save()
	return s
}

func (e *Engine) loadStream(st *stream, s streamState) {
	st.streamState = s
	for i, t := range []*timer{st.deadline, st.grace, st.spiking} {
		e.timers.set(t, s.Due[i])
	}
	st.outlier.load(s.Latch)
	st.Due, st.Latch = [3]instant{}, latchState{}
}
