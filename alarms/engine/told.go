package engine

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// decideOn notes that it is to be looked at whether n is told.
func (n *node) decideOn(e *Engine) {
	if !n.queued {
		n.queued = true
		e.deciding = append(e.deciding, n)
		n.reviewNode(e)
	}
}

// notAlone decides on all that waits beside st, which has just been heard.
func (e *Engine) notAlone(st *stream) {
	for n := st.node; n != nil; n = n.parent {
		for _, m := range n.held {
			if m.Held {
				m.decideOn(e)
			}
		}
		n.held = n.held[:0]
	}
}

// decide finds whether n, or what is wholly silent above it, is told now.
func (n *node) decide(e *Engine, now timing.Instant) {
	if !n.silent() || n.sparedBy() != nil {
		n.release()
		return
	}
	top := n
	for m := n.parent; m != nil && m.silent(); m = m.parent {
		top = m
	}
	if n != top {
		n.release()
	}
	if top.told() != nil {
		top.release()
		return
	}
	if until, wide := top.mayBeWider(now); wide {
		if !top.Held {
			top.Held = true
			top.parent.held = append(top.parent.held, top)
		}
		if until == 0 {
			e.asideNodes = append(e.asideNodes, top)
		}
		e.panel.Timers.Set(top.holding(), until)
		return
	}
	top.release()
	top.Told, top.Spare = true, timing.Wait{}
	if top.spared != nil {
		e.panel.Timers.Set(top.spared, 0)
	}
	top.reviewBelow(e)
}

// release ends the wait of n.
func (n *node) release() {
	if n.Held {
		n.Held = false
		n.e.panel.Timers.Set(n.hold, 0)
	}
}

// mayBeWider reports whether n, silent, may yet turn out to be part of a wider
// silence, and until when it is held for that: nothing else under the next node
// is on time. It is decided when something there is heard, or falls silent
// too, or after two intervals; until is 0 while nothing can be heard.
func (n *node) mayBeWider(now timing.Instant) (until timing.Instant, wide bool) {
	p := n.parent
	if p == nil || p.quiet == p.serving || p.OnTime >= now || p.alive[0] > 0 {
		return 0, false
	}
	for c := intervalClass(n.Slowest) + 3; c < intervalClasses; c++ {
		if p.alive[c] > 0 {
			return 0, false // so slow that it is not waited for
		}
	}
	until, ok := n.e.panel.Timers.Hearing.Over(n.Quiet, 2*n.Slowest, max(n.Slowest, firstAllowed), now)
	return until, !ok || until > now
}

func (n *node) holding() *timing.Timer {
	if n.hold == nil {
		n.hold = timing.NewTimer(n.order, func(timing.Instant) { n.decideOn(n.e) })
	}
	return n.hold
}

// spare gives what stays silent under n, of which something was heard again,
// one more allowance before it is told by itself.
func (n *node) spare(now timing.Instant) {
	n.Spare, n.Mute = n.e.panel.Timers.Hearing.Await(now), n.alarm.State.Aside()
	if n.isCircuit() {
		n.Back = now
	}
	n.e.panel.Timers.Set(n.sparing(), now.Add(n.sparedFor()))
}

func (n *node) sparedFor() time.Duration { return max(n.Patient, firstAllowed) }

func (n *node) sparing() *timing.Timer {
	if n.spared == nil {
		n.spared = timing.NewTimer(n.order+1, func(due timing.Instant) { n.endSpare(due) })
	}
	return n.spared
}

// endSpare reports what is still silent below n.
func (n *node) endSpare(due timing.Instant) {
	switch end, ok := n.e.panel.Timers.Hearing.Over(n.Spare, n.sparedFor(), max(n.Slowest, firstAllowed), due); {
	case !ok:
		n.e.asideNodes = append(n.e.asideNodes, n)
		return
	case end > due:
		n.e.panel.Timers.Set(n.spared, end)
		return
	}
	n.Spare = timing.Wait{}
	for _, m := range n.fed {
		m.reviewNode(n.e)
	}
	for _, st := range n.leaves {
		if st.Silent && !st.probe.Out {
			st.node.decideOn(n.e)
			st.probe.place.reviewPlace(n.e)
		}
	}
}

// resume looks at what ended for n while nothing could be heard.
func (n *node) resume(now timing.Instant) {
	if n.Held {
		n.decideOn(n.e)
	}
	if n.Spare.From != 0 && n.spared.Due == 0 {
		n.endSpare(now)
	}
}

func (n *node) save() nodeState {
	s := n.nodeState
	if n.hold != nil {
		s.HoldDue = n.hold.Due
	}
	if n.spared != nil {
		s.SpareDue = n.spared.Due
	}
	return s
}

// load takes what was saved of n, after its leaves.
func (n *node) load(s nodeState) {
	n.nodeState = s
	n.HoldDue, n.SpareDue = 0, 0
	aside := false
	if n.Held && n.parent != nil {
		n.parent.held = append(n.parent.held, n)
		n.e.panel.Timers.Set(n.holding(), s.HoldDue)
		aside = s.HoldDue == 0
	}
	if n.Spare.From != 0 {
		n.e.panel.Timers.Set(n.sparing(), s.SpareDue)
		aside = aside || s.SpareDue == 0
	}
	if aside {
		n.e.asideNodes = append(n.e.asideNodes, n)
	}
}

// loadSilences finds again what is silent in the house, and takes what was saved of its
// nodes. What the plan now puts together in another way is decided again.
func (sl *silences) loadSilences(saved map[alarms.AlarmID]nodeState) {
	for _, n := range sl.nodes {
		n.Dead = saved[n.alarm.ID].Dead // by which a witness is counted
	}
	sl.h.e.loading = true
	for _, st := range sl.h.streams {
		sl.h.e.recount(st, sl.h.e.panel.Now)
		if st.leaf && !st.Silent && !st.probe.Out && st.deadline.Due == 0 {
			sl.h.e.aside = append(sl.h.e.aside, st)
		}
	}
	sl.h.e.loading = false
	sl.h.e.forgetNoted()
	for _, n := range sl.nodes {
		if s, ok := saved[n.alarm.ID]; ok {
			n.load(s)
		}
	}
	for _, n := range sl.nodes {
		if n.silent() && !n.Held && n.told() == nil && n.sparedBy() == nil && (n.parent == nil || !n.parent.silent()) {
			n.decideOn(sl.h.e)
		}
	}
}

// Facts are how what n is above fell silent, and what is lost with it.
func (n *node) Facts(_ *lifecycle.Alarm, _ *alarms.Transition, f *alarms.Background) {
	if n.alarm.probe == nil {
		f.Together = n.why().Note // that of the reason may be what a person said
		f.Witness = n.witnessFacts()
		f.Feed = n.alarm.feedLoss()
	}
}

// Present is the last that was heard.
func (n *node) Present(*lifecycle.Alarm) alarms.Present { return n.alarm.presentProbe().Present }

// Aside lets be looked at again what n speaks for.
func (n *node) Aside(*lifecycle.Alarm, timing.Instant) {
	if n.alarm.place != nil {
		n.alarm.place.reviewPlace(n.e)
	} else {
		n.alarm.house.reviewTold()
	}
	n.Mute = n.Mute || n.Spare.From != 0
}
