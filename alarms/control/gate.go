package control

import (
	"slices"
	"time"
)

// gate is one verdict about a drive on its way: armed since a moment, due when
// its grace ends, and then on.
type gate struct {
	On    bool   `json:"on,omitempty"`
	Since Moment `json:"since,omitempty"`
	Due   Moment `json:"due,omitempty"`
	Waits Moment `json:"waits,omitempty"` // its grace has ended: for a reading of this moment or later
}

func (g *gate) disarm() { g.Since, g.Due, g.Waits = 0, 0, 0 }

// hold tells a verdict what holds now: begins arms it and lets it begin after
// the grace, ends lets it end at once. Neither keeps it while it is on.
func (j *Judge) hold(now Moment, d int, kind FindingKind, begins, ends bool, grace time.Duration) {
	g := &j.state.Drives[d].Gates[kind]
	switch {
	case g.On:
		if ends {
			j.end(now, d, kind)
		}
	case !begins:
		g.disarm()
	case g.Since == 0:
		g.Since = now
		g.Due = j.excused(d, kind, now.add(grace))
		if g.Due <= now {
			j.raise(now, d, kind)
		}
	}
}

// excused moves a grace behind an announced test.
func (j *Judge) excused(d int, kind FindingKind, due Moment) Moment {
	switch kind {
	case DidNotStop, RanUncalled, RanBarred, OpenUnneeded, SeasonUnfit:
	default:
		return due
	}
	if until := j.state.Drives[d].TestUntil; until != 0 {
		return max(due, until.add(j.spec.Drives[d].Stop))
	}
	return due
}

func (j *Judge) raise(due Moment, d int, kind FindingKind) {
	ds := &j.state.Drives[d]
	g := &ds.Gates[kind]
	if g.Since == 0 {
		g.Since = due
	}
	g.On, g.Due, g.Waits = true, 0, 0
	switch kind {
	case DidNotStart:
		ds.FailedToday = true
		if ds.Missed = j.lastCall(d); ds.Missed.Called == 0 {
			ds.Missed.Called = g.Since
			ds.Missed.CalledT, _ = j.around(d, g.Since)
		}
	case DidNotStop, NoEffect, Contradiction, RanAlone:
		ds.Open.Spoilt = true
	}
	j.findings = append(j.findings, j.finding(due, d, kind, true, g.Since))
}

func (j *Judge) end(now Moment, d int, kind FindingKind) {
	g := &j.state.Drives[d].Gates[kind]
	j.findings = append(j.findings, j.finding(now, d, kind, false, g.Since))
	*g = gate{}
}

// aged reports whether a verdict of a kind begins with what a drive does, so that
// the call it is held against may be one of long ago.
func (j *Judge) aged(d int, kind FindingKind) bool {
	return (kind == StoppedEarly || kind == RanUncalled) && j.want(d).Wish == Follow
}

// restsFrom returns from when on a reading must be that a verdict can rest on: one
// from before its grace may tell of a state that is over, and one from soon
// after its beginning of a drive that is still on its way.
func (j *Judge) restsFrom(d int, kind FindingKind, due Moment) Moment {
	since := j.state.Drives[d].Gates[kind].Since
	if kind == StoppedEarly {
		return since
	}
	return since + (due-since)/2
}

// heard returns when that was last heard which a verdict about d rests on beside
// what armed it; of what is heard as soon as it changes, now.
func (j *Judge) heard(d int, kind FindingKind) Moment {
	oldest := j.state.Now
	if j.aged(d, kind) {
		oldest = j.readAt(d, kind)
	}
	of := func(drives ...int) {
		for _, x := range drives {
			oldest = min(oldest, j.seen(x, j.state.Drives[x].Source))
		}
	}
	switch kind {
	case DidNotStart, StoodStill, DidNotStop, RanUncalled, RanBarred:
		of(d)
	case DrawsMore, DrawsLess:
		oldest = j.seen(d, j.drawer[d])
	case OpenUnneeded:
		of(d)
		of(j.opens[d]...)
	case RanAlone:
		if j.seldom(d) && j.state.Drives[d].Call != Called {
			return 0 // it may have stopped and started in between; where that is so the house is not too hot
		}
		of(d)
		of(j.spec.Drives[d].With...)
	case RanTogether:
		of(d)
		of(j.spec.Drives[d].Without...)
	}
	return oldest
}

// seldom reports whether d or what must run with it can have started and stopped
// between two readings of what shows that.
func (j *Judge) seldom(d int) bool {
	return slices.ContainsFunc(append([]int{d}, j.spec.Drives[d].With...), func(x int) bool {
		return j.blurred(x, j.spec.Drives[x].Start)
	})
}

// blurred reports whether what shows d may be heard later than within after it
// changed.
func (j *Judge) blurred(d int, within time.Duration) bool {
	return j.every(d, j.state.Drives[d].Source) > within
}

// every is the time between two readings of the evidence of d by an index; 0 where
// it is not known, or where a change is heard at once.
func (j *Judge) every(d, index int) time.Duration {
	if index < 0 || j.state.Drives[d].Evidence[index].Prompt {
		return 0
	}
	return j.spec.Drives[d].Evidence[index].Every
}

// seen returns when the evidence of d by an index was last heard.
func (j *Judge) seen(d, index int) Moment {
	if j.every(d, index) == 0 {
		return j.state.Now
	}
	return j.state.Drives[d].Evidence[index].When
}

// readAt is when the last reading came on which the call of d rests: that it
// should run on one of its bulbs, that it should not on all of them.
func (j *Judge) readAt(d int, kind FindingKind) Moment {
	if kind == StoppedEarly {
		return j.felt(j.Bulb(d, j.stageFor(d))).last()
	}
	oldest, any := Moment(0), false
	for _, i := range j.stagesOf[d] {
		if at := j.felt(j.spec.Stages[i].Bulb).last(); j.acts(i) && (!any || at < oldest) {
			oldest, any = at, true
		}
	}
	if !any {
		return j.felt(j.Bulb(d, -1)).last()
	}
	return oldest
}

// confirm lets the verdicts begin whose grace has ended, and which waited for a
// reading to say that what they rest on still is so.
func (j *Judge) confirm(now Moment) {
	for d := range j.state.Drives {
		for k := range j.state.Drives[d].Gates {
			g := &j.state.Drives[d].Gates[k]
			if !g.On && g.Waits != 0 && j.heard(d, FindingKind(k)) >= g.Waits {
				g.Waits = 0
				j.conclude(now, d, FindingKind(k))
			}
		}
	}
}

// conclude lets a verdict begin whose time has come, if it still is so.
func (j *Judge) conclude(now Moment, d int, kind FindingKind) {
	switch {
	case (kind == DrawsMore || kind == DrawsLess) && !j.otherwise(now, d, kind):
	case kind == NoEffect && !j.ineffective(d):
	default:
		j.raise(now, d, kind)
	}
}

// schedule finds the earliest grace to end.
func (j *Judge) schedule() {
	j.next = 0
	for d := range j.state.Drives {
		gates := &j.state.Drives[d].Gates
		for k := range gates {
			if due := gates[k].Due; due != 0 && (j.next == 0 || due < j.next) {
				j.next = due
			}
		}
	}
}

// expire fires every grace that ends at due, in the order of drives and kinds.
func (j *Judge) expire(due Moment) {
	for d := range j.state.Drives {
		for k := range j.state.Drives[d].Gates {
			g := &j.state.Drives[d].Gates[k]
			if g.Due != due {
				continue
			}
			g.Due = 0
			if FindingKind(k) == NoEffect && !j.decide(due, d) {
				continue
			}
			switch kind := FindingKind(k); {
			case kind == ShortCycling:
				j.calmed(due, d)
			default:
				if from := j.restsFrom(d, kind, due); j.heard(d, kind) < from {
					g.Waits = from // see confirm
				} else {
					j.conclude(due, d, kind)
				}
			}
		}
	}
	j.schedule()
}
