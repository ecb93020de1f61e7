package control

import "telltale/alarms/timing"

// gate is one verdict about a drive on its way: armed since a moment, due when
// its grace ends, and then on.
type gate struct {
	On    bool           `json:"on,omitempty"`
	Since timing.Instant `json:"since,omitempty"`
	Due   timing.Instant `json:"due,omitempty"`
	Waits timing.Instant `json:"waits,omitempty"` // its grace has ended: for a reading of this moment or later
}

// step is what becomes of a verdict.
type step uint8

const (
	stays step = iota
	begins
	ends
)

func (g *gate) disarm() { g.Since, g.Due, g.Waits = 0, 0, 0 }

// hold tells a verdict what holds now: arms lets it begin when it is due, ends lets
// it end at once. Neither keeps it while it is on.
func (g *gate) hold(now timing.Instant, arms, over bool, due timing.Instant) step {
	switch {
	case g.On && over:
		return ends
	case g.On:
	case !arms:
		g.disarm()
	case g.Since == 0:
		if g.Since, g.Due = now, due; due <= now {
			return begins
		}
	}
	return stays
}

// begin lets it begin, and says since when what it rests on was so.
func (g *gate) begin(now timing.Instant) (since timing.Instant) {
	if g.Since == 0 {
		g.Since = now
	}
	g.On, g.Due, g.Waits = true, 0, 0
	return g.Since
}

// restsFrom returns from when on a reading must be that a verdict can rest on: one
// from before its grace may tell of a state that is over, and one from soon
// after its beginning of a drive that is still on its way.
func (g *gate) restsFrom(kind FindingKind, due timing.Instant) timing.Instant {
	if kind == StoppedEarly {
		return g.Since
	}
	return g.Since + (due-g.Since)/2
}

// gates are all verdicts about a drive.
type gates [Kinds]gate

// next returns the earliest of first and of the graces that have yet to end, 0 for
// none.
func (g *gates) next(first timing.Instant) timing.Instant {
	for k := range g {
		if due := g[k].Due; due != 0 && (first == 0 || due < first) {
			first = due
		}
	}
	return first
}

// rearm lets every grace begin again, but that of an answer to a run that goes on.
func (g *gates) rearm() {
	for k := range g {
		if !g[k].On && FindingKind(k) != NoEffect {
			g[k].disarm()
		}
	}
}

// doubt lets the graces of the verdicts on a drive that runs uncalled begin again: it may
// have been called.
func (g *gates) doubt() {
	for _, k := range [...]FindingKind{DidNotStop, RanUncalled} {
		if !g[k].On {
			g[k].disarm()
		}
	}
}
