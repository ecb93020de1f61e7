package engine

import (
	"cmp"
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// badInARow is how many unbelievable readings in a row make a fault.
const badInARow = 2

// believe reports whether v, as the probe sent it, may be taken for the truth, and keeps the books
// of st's faults.
func (st *stream) believe(e *Engine, v float64, now timing.Instant) bool {
	if f, bad := st.unbelievable(v, now); bad {
		st.Bad++
		st.Good, st.BadValue = 0, v
		if st.Bad >= badInARow {
			st.fault(f, true)
		}
		return false
	}
	st.Bad = 0
	st.Good++
	if st.Good >= badInARow {
		st.fault(faultRange, false)
		st.fault(faultValue, false)
	}
	st.Garbled = 0
	st.fault(faultGarbled, false)
	st.watchSame(v, now)
	st.watchWeak(v)
	return st.steady(e, v, now)
}

// changedFaults follows up a change in what is wrong with st.
func (st *stream) changedFaults(e *Engine, before faultSet, now timing.Instant) {
	if before.sick() && !st.Faults.sick() {
		st.Course = course{}
	}
	st.probe.place.rejudge(e, now)
	st.probe.place.reviewPlace(e)
}

// unbelievable reports the fault that v alone, or v after the last value, shows.
func (st *stream) unbelievable(v float64, now timing.Instant) (faultNo, bool) {
	switch {
	case st.isFaultValue(v, now):
		return faultValue, true
	case v < st.plan.Min.Value, v > st.plan.Max.Value:
		return faultRange, true
	}
	return 0, false
}

// Values that 1-wire thermometers give when they fail: the register at power
// on, and what much-used drivers give for "no device".
const (
	powerOn  = 85.0
	noDevice = -127.0
)

func (st *stream) isFaultValue(v float64, now timing.Instant) bool {
	if !st.plan.Quantity.Absolute() || st.probe.plan.Kind != alarms.KindOneWire && st.probe.plan.Kind != alarms.KindPlain {
		return false
	}
	if v == noDevice {
		return true
	}
	near := st.Fresh && math.Abs(st.Value-st.offset()-powerOn) <= 5
	return v == powerOn && !near
}

// jumpTime is in what time a step of the plan's Jump is always believable:
// 10 K in 5 min, 2 K a minute. Common practice, no source.
const jumpTime = 5 * time.Minute

// mayStep returns how far st's value may be from the last one: as far as the
// plan's Jump, or as far as such a quantity may go in the time since then,
// whichever is more.
func (st *stream) mayStep(now timing.Instant) float64 {
	return st.plan.Jump * max(1, float64(now.Since(st.ValueAt))/float64(jumpTime))
}

// steady reports whether v follows from the last value, or confirms a step.
// A single step that is larger than believable waits for the next reading; one
// that does not hold counts as a spike.
func (st *stream) steady(e *Engine, v float64, now timing.Instant) bool {
	v += st.offset()
	limit := st.mayStep(now)
	if limit <= 0 || !st.Fresh || now.Since(st.ValueAt) > st.memory() {
		st.Jumped = false
		return true
	}
	step := math.Abs(v-st.Value) > limit
	switch {
	case !step && st.Jumped:
		st.Jumped = false
		st.spiked(e, now)
		return true
	case !step:
		return true
	case st.Jumped && math.Abs(v-st.JumpTo) <= limit/2:
		st.Jumped = false
		st.Course = course{}
		if st.Doubted != nil {
			st.Doubted.Agreed = true
		}
		return true
	case st.Jumped:
		st.spiked(e, now)
	}
	st.Jumped, st.JumpTo = true, v
	return false
}

// memory is how long a value serves to judge the next one by.
func (st *stream) memory() time.Duration { return max(15*time.Minute, 2*st.interval()) }

const (
	spikesInHour = 3
	spikeMemory  = time.Hour
)

func (st *stream) spiked(e *Engine, now timing.Instant) {
	keep := st.Spikes[:0]
	for _, t := range st.Spikes {
		if now.Since(t) < spikeMemory {
			keep = append(keep, t)
		}
	}
	st.Spikes = append(keep, now)
	e.panel.Timers.Set(st.spiking, now.Add(spikeMemory))
	if len(st.Spikes) >= spikesInHour {
		st.fault(faultSpikes, true)
	}
}

const (
	sameReadings = 20   // at least, before unchanged is stuck
	pinnedAt     = 99.5 // %RH
	pinnedOff    = 98.0 // %RH
)

// watchSame looks for a value that never changes and for humidity that stays
// at the top of the scale.
func (st *stream) watchSame(v float64, now timing.Instant) {
	d := st.plan.StuckFor
	if d <= 0 {
		return
	}
	if by := math.Abs(v - st.Same); st.SameN > 0 && by > 0 && (st.Step == 0 || by < st.Step) {
		st.Step = by
	}
	if v != st.Same || st.SameN == 0 {
		st.Same, st.SameFrom, st.SameN = v, now, 0
	}
	st.SameN++
	humid := st.plan.Quantity == alarms.Humidity
	top := humid && v >= pinnedAt
	stuck := !top && st.SameN >= sameReadings && now.Since(st.SameFrom) >= st.mayRest(v, d)
	st.fault(faultStuck, stuck)
	switch {
	case top && st.Pinned == 0:
		st.Pinned = now
	case humid && v < pinnedOff:
		st.Pinned = 0
	}
	st.fault(faultPinned, !st.piped && st.Pinned != 0 && now.Since(st.Pinned) >= d)
}

// How finely a probe measures that would show its noise within the plan's
// StuckFor, and how much longer one that measures more coarsely may rest on a
// value, as a heated house or air near saturation does. Common practice, no source.
const (
	fineUsual   = 0.1  // in its unit
	restLongest = 6    // times StuckFor
	saturated   = 95.0 // %RH, from which a coarse value may rest for ever
)

// mayRest returns for how long st may give v without change before it is
// stuck: d, longer for one that measures coarsely. How coarsely is what two
// readings differed by at least; of one that never changed, whole numbers are
// taken for all it can give.
func (st *stream) mayRest(v float64, d time.Duration) time.Duration {
	step, fine := st.Step, cmp.Or(st.plan.Quantity.Facts().Fine, fineUsual)
	if step == 0 && v == math.Trunc(v) {
		step = 1
	}
	if st.plan.Quantity == alarms.Humidity && step >= 0.5 && v >= saturated {
		return math.MaxInt64
	}
	return time.Duration(float64(d) * min(max(step/fine, 1), restLongest))
}

// watchWeak looks for a battery or radio signal that needs care.
func (st *stream) watchWeak(v float64) {
	w := st.plan.Weak
	if !w.Set {
		return
	}
	f := faultBattery
	if st.plan.Quantity == alarms.Signal {
		f = faultSignal
	}
	switch {
	case v < w.Value:
		st.WeakN++
		if st.WeakN >= badInARow {
			st.fault(f, true)
		}
	default:
		st.WeakN = 0
		if v >= w.Value+weakDeadband {
			st.fault(f, false)
		}
	}
}

// weakDeadband keeps a tired battery or radio from coming and going, % or dB.
const weakDeadband = 5
