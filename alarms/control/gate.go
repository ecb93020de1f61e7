package control

import "time"

// gate is one verdict about a drive on its way: armed since a moment, due when
// its grace ends, and then on.
type gate struct {
	On    bool   `json:"on,omitempty"`
	Since Moment `json:"since,omitempty"`
	Due   Moment `json:"due,omitempty"`
}

func (g *gate) disarm() { g.Since, g.Due = 0, 0 }

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
	if kind != DidNotStop && kind != RanUncalled && kind != RanBarred && kind != OpenUnneeded {
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
	g.On, g.Due = true, 0
	switch kind {
	case DidNotStart:
		ds.FailedToday = true
		if ds.Missed = j.lastCall(d); ds.Missed.Called == 0 {
			ds.Missed.Called = g.Since
			ds.Missed.CalledT, _ = j.around(g.Since)
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
			if FindingKind(k) == NoEffect {
				j.state.Drives[d].Open.Checked = true
			}
			switch kind := FindingKind(k); {
			case kind == ShortCycling:
				j.calmed(due, d)
			case kind != NoEffect || j.ineffective(d):
				j.raise(due, d, kind)
			}
		}
	}
	j.schedule()
}
