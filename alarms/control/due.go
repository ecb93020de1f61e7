package control

import (
	"math"
	"slices"

	"telltale/alarms/timing"
)

// expire lets what was due begin, in the order of kinds.
func (d *drive) expire() {
	due := d.around.now
	for k := range d.Gates {
		g, kind := &d.Gates[k], FindingKind(k)
		if g.Due != due {
			continue
		}
		g.Due = 0
		switch from := g.restsFrom(kind, due); {
		case kind == NoEffect && !d.decide():
		case kind == ShortCycling:
			d.Starts = d.Starts.lastHour(due)
			d.end(ShortCycling)
		case d.heard(kind) < from:
			g.Waits = from // see confirm
		default:
			d.conclude(kind)
		}
	}
}

// confirm lets the verdicts begin whose grace has ended, and which waited for a
// reading to say that what they rest on still is so.
func (d *drive) confirm() {
	for k := range d.Gates {
		g := &d.Gates[k]
		if !g.On && g.Waits != 0 && d.heard(FindingKind(k)) >= g.Waits {
			g.Waits = 0
			d.conclude(FindingKind(k))
		}
	}
}

// conclude lets a verdict begin whose time has come, if it still is so.
func (d *drive) conclude(kind FindingKind) {
	switch {
	case (kind == DrawsMore || kind == DrawsLess) && !d.otherwise(kind):
	case kind == NoEffect && (d.Call == NotCalled || d.part() || !d.Open.vain(d.spec, d.felt(), d.around)):
	default:
		d.raise(kind)
	}
}

// heard returns when that was last heard which a verdict rests on beside
// what armed it; of what is heard as soon as it changes, now.
func (d *drive) heard(kind FindingKind) timing.Instant {
	oldest := d.around.now
	if (kind == DidNotStop || kind == RanUncalled) && d.seldom() && d.Call == NotCalled && !d.asked.idles(d.meters.heard(oldest, d.Source)) {
		return 0 // it may have been called when it was last seen to run
	}
	if (kind == StoppedEarly || kind == RanUncalled) && d.asked.want.Wish == Follow {
		oldest = d.asked.readAt(kind == StoppedEarly) // it begins with what the drive does: the call may be one of long ago
	}
	var others []*drive
	switch kind {
	case DidNotStart, StoodStill, DidNotStop, RanUncalled, RanBarred:
	case DrawsMore, DrawsLess:
		return d.meters.heard(oldest, d.drawn.index)
	case OpenUnneeded:
		others = d.opens
	case RanAlone:
		if d.seldom() && d.Call != Called {
			return 0 // it may have stopped and started in between; where that is so the house is not too hot
		}
		others = d.with
	case RanTogether:
		others = d.without
	default:
		return oldest
	}
	oldest = min(oldest, d.meters.heard(d.around.now, d.Source))
	for _, o := range others {
		oldest = min(oldest, o.meters.heard(d.around.now, o.Source))
	}
	return oldest
}

// seldom reports whether it or what must run with it can have started and stopped
// between two readings of what shows that.
func (d *drive) seldom() bool {
	late := func(o *drive) bool { return o.meters.blurred(o.spec.Start) }
	return late(d) || slices.ContainsFunc(d.with, late)
}

const effects = 4 // times Effect, in which an answer is looked for

// decide reports whether it can be judged that it changes nothing: not where the
// readings are so far apart that it may have stood in between, and the house is not
// beyond its dial for certain. Then it is tried again, but not for ever: what is too
// weak for this weather is no fault.
func (d *drive) decide() bool {
	t := d.felt()
	undecided := t.Known && d.Call == Between && !t.follows(d.around.now, math.Inf(1))
	if undecided && d.around.now.Since(d.Open.Started) < effects*d.spec.Effect {
		d.Gates[NoEffect].Due = d.around.now.Add(d.spec.Effect)
	} else {
		d.Open.Checked = true
	}
	return !undecided
}

// otherwise judges at the end of that time whether it draws otherwise because of a
// fault. Where the temperature has answered it runs at another speed, which is
// learned; where it has neither answered nor gone on, it is looked at again. So it is
// where more stages drive it than speeds were learned: what it draws may be the next.
func (d *drive) otherwise(kind FindingKind) bool {
	if !d.speeds() {
		return true
	}
	t, known := d.felt().median(d.around.now, 3)
	rose, expected := t-d.DrawFrom, 1+len(d.Usual.Others) < d.asked.contacts() && !d.held()
	if d.spec.Kind == Heater {
		rose = -rose
	}
	if known && rose > risesStill && !expected {
		return true
	}
	g := &d.Gates[kind]
	if (expected || known && rose < -answersBy) && d.Usual.speed(d.Evidence[d.drawn.index].Value) {
		d.Draw = drawUsual
		g.disarm()
	} else {
		g.Due = d.around.now.Add(d.drawGrace())
	}
	return false
}
