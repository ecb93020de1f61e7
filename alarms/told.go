package alarms

import "time"

// decideOn notes that it is to be looked at whether n is told.
func (e *Engine) decideOn(n *node) {
	if !n.queued {
		n.queued = true
		e.deciding = append(e.deciding, n)
		e.reviewNode(n)
	}
}

// notAlone decides on all that waits beside st, which has just been heard.
func (e *Engine) notAlone(st *stream) {
	for n := st.node; n != nil; n = n.parent {
		for _, m := range n.held {
			if m.Held {
				e.decideOn(m)
			}
		}
		n.held = n.held[:0]
	}
}

// decide finds whether n, or what is wholly silent above it, is told now.
func (e *Engine) decide(n *node, now instant) {
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
		e.timers.set(top.holding(), until)
		return
	}
	top.release()
	top.Told, top.Spare = true, wait{}
	if top.spared != nil {
		e.timers.set(top.spared, 0)
	}
	e.reviewBelow(top)
}

// release ends the wait of n.
func (n *node) release() {
	if n.Held {
		n.Held = false
		n.e.timers.set(n.hold, 0)
	}
}

// mayBeWider reports whether n, silent, may yet turn out to be part of a wider
// silence, and until when it is held for that: nothing else under the next node
// is on time. It is decided when something there is heard, or falls silent
// too, or after two intervals; until is 0 while nothing can be heard.
func (n *node) mayBeWider(now instant) (until instant, wide bool) {
	p := n.parent
	if p == nil || p.quiet == p.serving || p.OnTime >= now || p.alive[0] > 0 {
		return 0, false
	}
	for c := paceClass(n.Slowest) + 3; c < paceClasses; c++ {
		if p.alive[c] > 0 {
			return 0, false // so slow that it is not waited for
		}
	}
	until, ok := n.e.timers.hearing.over(n.Quiet, 2*n.Slowest, max(n.Slowest, firstAllowed), now)
	return until, !ok || until > now
}

func (n *node) holding() *timer {
	if n.hold == nil {
		n.hold = newTimer(n.order, func(instant) { n.e.decideOn(n) })
	}
	return n.hold
}

// spare gives what stays silent under n, of which something was heard again,
// one more allowance before it is told by itself.
func (n *node) spare(now instant) {
	n.Spare, n.Mute = n.e.timers.hearing.wait(now), n.alarm.State.Aside()
	if n.isCircuit() {
		n.Back = now
	}
	n.e.timers.set(n.sparing(), now.add(n.sparedFor()))
}

func (n *node) sparedFor() time.Duration { return max(n.Patient, firstAllowed) }

func (n *node) sparing() *timer {
	if n.spared == nil {
		n.spared = newTimer(n.order+1, func(due instant) { n.endSpare(due) })
	}
	return n.spared
}

// endSpare tells what is still silent below n.
func (n *node) endSpare(due instant) {
	switch end, ok := n.e.timers.hearing.over(n.Spare, n.sparedFor(), max(n.Slowest, firstAllowed), due); {
	case !ok:
		n.e.asideNodes = append(n.e.asideNodes, n)
		return
	case end > due:
		n.e.timers.set(n.spared, end)
		return
	}
	n.Spare = wait{}
	for _, m := range n.fed {
		n.e.reviewNode(m)
	}
	for _, st := range n.leaves {
		if st.Silent && !st.probe.Out {
			n.e.decideOn(st.node)
			n.e.reviewPlace(st.probe.place)
		}
	}
}

// resume looks at what ended for n while nothing could be heard.
func (n *node) resume(now instant) {
	if n.Held {
		n.e.decideOn(n)
	}
	if n.Spare.From != 0 && n.spared.due == 0 {
		n.endSpare(now)
	}
}

func (n *node) save() nodeState {
	s := n.nodeState
	if n.hold != nil {
		s.HoldDue = n.hold.due
	}
	if n.spared != nil {
		s.SpareDue = n.spared.due
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
		n.e.timers.set(n.holding(), s.HoldDue)
		aside = s.HoldDue == 0
	}
	if n.Spare.From != 0 {
		n.e.timers.set(n.sparing(), s.SpareDue)
		aside = aside || s.SpareDue == 0
	}
	if aside {
		n.e.asideNodes = append(n.e.asideNodes, n)
	}
}

// loadSilences finds anew what is silent in h, and takes what was saved of its
// nodes. What the plan now puts together in another way is decided anew.
func (e *Engine) loadSilences(h *house, saved map[AlarmID]nodeState) {
	for _, n := range h.nodes {
		n.Dead = saved[n.alarm.id].Dead // by which a witness is counted
	}
	e.loading = true
	for _, st := range h.streams {
		e.recount(st, e.now)
		if st.leaf && !st.Silent && !st.probe.Out && st.deadline.due == 0 {
			e.aside = append(e.aside, st)
		}
	}
	e.loading = false
	e.forgetNoted()
	for _, n := range h.nodes {
		if s, ok := saved[n.alarm.id]; ok {
			n.load(s)
		}
	}
	for _, n := range h.nodes {
		if n.silent() && !n.Held && n.told() == nil && n.sparedBy() == nil && (n.parent == nil || !n.parent.silent()) {
			e.decideOn(n)
		}
	}
}
