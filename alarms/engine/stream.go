package engine

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/thermostat"
	"telltale/alarms/timing"
)

// stream is one quantity of one probe at work.
type stream struct {
	streamState
	plan     *alarms.Stream
	probe    *probe
	point    *point        // nil for battery, signal and the like
	leaf     bool          // its silence counts
	node     *node         // that it is the only one of, or its probe's
	deadline *timing.Timer // of the next reading
	spiking  *timing.Timer // end of the time in which spikes count
	outlier  *timing.Latch // against its siblings
	usual    usual
	counted  leafCount // by the nodes above
	loop     bool      // a ground loop rests on it
	piped    bool      // it hangs at the outlet of a pipe, where air may be saturated for long
	evidence []thermostat.Evidence
	opens    []*opening // whose contact it is
	feed     *node      // a circuit whose power it shows; nil: none
	absent   *absence   // of the watch
	knows    absence    // what of it st has taken in
}

// streamState is what a snapshot keeps of a stream.
type streamState struct {
	Heard     timing.Instant    `json:"heard,omitempty"`      // last live message
	Base      timing.Instant    `json:"base,omitempty"`       // awaited since, if not heard later
	Wait      timing.Wait       `json:"wait,omitzero"`        // for the next message
	HeardDark time.Duration     `json:"heard_dark,omitempty"` // for how long nothing could be heard, in all, then
	Has       bool              `json:"has,omitempty"`        // a value was ever believed
	Fresh     bool              `json:"fresh,omitempty"`      // and it belongs to the present
	Value     float64           `json:"value,omitempty"`      // newest believed
	ValueAt   timing.Instant    `json:"value_at,omitempty"`
	Held      bool              `json:"held,omitempty"` // has retained value
	Retained  float64           `json:"retained,omitempty"`
	HeldAt    timing.Instant    `json:"held_at,omitempty"`
	Measured  timing.Instant    `json:"measured,omitempty"` // newest by the probe's clock
	Raw       float64           `json:"raw,omitempty"`      // as last sent
	RawAt     timing.Instant    `json:"raw_at,omitempty"`
	Gaps      []int64           `json:"gaps,omitempty"` // ns between messages, newest last
	LongGaps  int               `json:"long_gaps,omitempty"`
	Days      []gapDay          `json:"days,omitempty"` // of a learned interval, newest last
	Silent    bool              `json:"silent,omitempty"`
	SilentAt  timing.Instant    `json:"silent_at,omitempty"`
	Faults    faultSet          `json:"faults,omitempty"`
	Bad       int               `json:"bad,omitempty"`     // unbelievable readings in a row
	Garbled   int               `json:"garbled,omitempty"` // messages without a value in a row
	GarbleWhy string            `json:"garble_why,omitempty"`
	Good      int               `json:"good,omitempty"` // believable ones in a row
	BadValue  float64           `json:"bad_value,omitempty"`
	Jumped    bool              `json:"jumped,omitempty"` // a step waits to be confirmed
	JumpTo    float64           `json:"jump_to,omitempty"`
	Spikes    []timing.Instant  `json:"spikes,omitempty"`
	Same      float64           `json:"same,omitempty"`
	SameFrom  timing.Instant    `json:"same_from,omitempty"`
	SameN     int               `json:"same_n,omitempty"`
	WeakN     int               `json:"weak_n,omitempty"` // weak in a row
	Zeros     int               `json:"zeros,omitempty"`  // of a witness, in a row
	ZeroFrom  timing.Instant    `json:"zero_from,omitempty"`
	Denied    bool              `json:"denied,omitempty"` // something else on the circuit was heard since
	Pinned    timing.Instant    `json:"pinned,omitempty"`
	Course    course            `json:"course,omitempty"`
	Doubted   *doubtedCourse    `json:"doubted,omitempty"` // nil: no reading recently was
	Taken     uint64            `json:"taken,omitempty"`
	Refused   uint64            `json:"refused,omitempty"`
	Due       streamDue         `json:"waits,omitzero"`
	Latch     timing.LatchState `json:"Latch,omitzero"` // of an outlier

	Calibrated calibration       `json:"calibrated,omitzero"`
	Siblings   string            `json:"siblings,omitempty"` // that it is held against, while it is an outlier or may be
	Offset     float64           `json:"offset,omitempty"`   // of the plan
	DueInOrder [3]timing.Instant `json:"Due,omitzero"`       // deadline, grace, spikes: of early snapshots

	sightings
	Slow   time.Duration `json:"slow,omitempty"` // window of a rate for which it was said to report too seldom
	Step   float64       `json:"step,omitempty"` // smallest difference between two readings
	Behind behind        `json:"behind,omitzero"`
}

// streamDue is when the timers of a stream are due.
type streamDue struct {
	Deadline timing.Instant `json:"deadline,omitempty"`
	Spikes   timing.Instant `json:"spikes,omitempty"`
}

func (p *probe) buildStream(e *Engine, plan *alarms.Stream) *stream {
	st := &stream{plan: plan, probe: p, absent: &e.absent}
	st.leaf = p.counts(plan.Quantity)
	st.setUsual()
	st.deadline = e.panel.Timers.Build(func(due timing.Instant) { st.overdue(e, due) })
	st.spiking = e.panel.Timers.Build(func(due timing.Instant) {
		st.Spikes = nil
		st.fault(faultSpikes, false)
		p.place.rejudge(e, due)
		p.place.reviewPlace(e)
	})
	st.outlier = timing.NewLatch(&e.panel.Timers, func(due timing.Instant) {
		st.fault(faultOutlier, st.outlier.On)
		p.place.rejudge(e, due)
		p.place.reviewPlace(e)
	})
	st.outlier.Keeps = true
	return st
}

// usable reports whether st's value may be judged: known, believed, present.
func (st *stream) usable() bool {
	st.catchUp()
	return st.Fresh && !st.Silent && !st.probe.Out && !st.Faults.sick()
}

// absence is how often the watch was away, and for how long in all. Each stream
// takes it in when it is looked at: then its readings from before are not of the
// present any more.
type absence struct {
	times  int
	lasted time.Duration
}

// catchUp takes in that nothing was seen for a time: a value that never changes
// has been the same over what was seen.
func (st *stream) catchUp() {
	if st.knows.times == st.absent.times {
		return
	}
	d := st.absent.lasted - st.knows.lasted
	st.knows = *st.absent
	same, from, pinned := st.SameN, st.SameFrom, st.Pinned
	st.forgetPresent()
	if same > 0 {
		st.SameN, st.SameFrom = same, from.Add(d)
	}
	if pinned != 0 {
		st.Pinned = pinned.Add(d)
	}
}

// forgetPresent drops what needs an unbroken course of readings.
func (st *stream) forgetPresent() {
	st.Fresh, st.Jumped = false, false
	st.unsee()
	st.Course, st.Doubted = course{}, nil
	st.SameN, st.SameFrom, st.Pinned, st.RawAt = 0, 0, 0, 0
}

func (st *stream) save() streamState {
	st.catchUp()
	s := st.streamState
	s.Gaps = append([]int64(nil), s.Gaps...)
	s.Spikes = append([]timing.Instant(nil), s.Spikes...)
	s.Days = append([]gapDay(nil), s.Days...)
	s.Doubted = s.Doubted.clone()
	s.Due = streamDue{st.deadline.Due, st.spiking.Due}
	if s.Latch = st.outlier.Save(); s.Latch != (timing.LatchState{}) {
		s.Siblings = st.point.siblings()
	}
	s.Offset = st.plan.Offset
	return s
}

func (e *Engine) loadStream(st *stream, s streamState) {
	if old := s.DueInOrder; old != [3]timing.Instant{} {
		s.Due = streamDue{old[0], old[2]}
	}
	e.panel.Timers.Set(st.deadline, s.Due.Deadline)
	e.panel.Timers.Set(st.spiking, s.Due.Spikes)
	st.outlier.Load(s.Latch)
	s.Due, s.DueInOrder, s.Latch, s.Siblings, s.Offset = streamDue{}, [3]timing.Instant{}, timing.LatchState{}, "", 0
	st.streamState = s
	st.Doubted = s.Doubted.clone()
	st.setUsual()
}
