package alarms

import "slices"

// reviewNow finds anew which silences, unwatched places and probe faults of h
// are to be told, and which of them another one already says; then applies it.
func (e *Engine) reviewNow(h *house, now instant) {
	e.decide(h, now)
	for _, p := range h.places {
		p.Dark = p.darkNow()
	}
	for _, n := range h.nodes {
		e.apply(n.alarm, n.level(), e.causeOfSilence(n), now)
	}
	for _, p := range h.places {
		e.apply(p.unwatched, p.darkLevel(), e.causeOfDark(p), now)
		for _, pr := range p.probes {
			e.reviewFaults(pr, now)
		}
	}
}

// level of n: told itself, or a probe, circuit or house that would be told
// were it not part of a wider silence.
func (n *node) level() Level {
	if n.Told {
		return Outer
	}
	stream := n.alarm.quantity != ""
	if stream || !n.silent() {
		return Within
	}
	if n.told() != nil || n.graced() != "" {
		return Outer
	}
	return Within
}

// graced returns the alarm that still speaks for all of n, "" for none.
func (n *node) graced() AlarmID {
	var id AlarmID
	for _, st := range n.leaves {
		if st.probe.Out {
			continue
		}
		if st.Grace == 0 {
			return ""
		}
		id = st.GraceFor
	}
	return id
}

func (e *Engine) causeOfSilence(n *node) *alarm {
	if e.link.Told {
		return e.link.alarm
	}
	if top := n.told(); top != nil && top != n {
		return top.alarm
	}
	if id := n.graced(); id != "" && id != n.alarm.id {
		return e.alarms[id]
	}
	if p := n.alarm.place; p != nil && p.darkLevel() != Within {
		for _, st := range n.leaves {
			if slices.Contains(p.Dark, st.plan.Quantity) {
				return p.unwatched
			}
		}
	}
	return nil
}

// darkNow lists the quantities of p that must be watched and have no probe
// that can be believed.
func (p *place) darkNow() []Quantity {
	var dark []Quantity
	for _, pt := range p.watched {
		if pt.dark() {
			dark = append(dark, pt.quantity)
		}
	}
	return dark
}

func (pt *point) dark() bool {
	for _, st := range pt.streams {
		if !st.Faults.sick() && !st.probe.Out && !pt.place.house.owned(st) {
			return false
		}
	}
	return len(pt.streams) > 0
}

// darkLevel is Outer when something of p is unwatched, Inner when all is.
func (p *place) darkLevel() Level {
	switch len(p.Dark) {
	case 0:
		return Within
	case len(p.watched):
		return Inner
	}
	return Outer
}

// causeOfDark returns the wider silence that explains all of p's darkness.
func (e *Engine) causeOfDark(p *place) *alarm {
	if e.link.Told {
		return e.link.alarm
	}
	var cause *alarm
	for _, pt := range p.watched {
		if !pt.dark() {
			continue
		}
		for _, st := range pt.streams {
			if st.probe.Out {
				continue
			}
			if !st.Silent {
				return nil
			}
			var wide *alarm
			if top := st.node.told(); top != nil {
				wide = top.alarm
			} else if st.Grace != 0 {
				wide = e.alarms[st.GraceFor]
			}
			if wide == nil || wide.place != nil {
				return nil
			}
			cause = wide
		}
	}
	return cause
}

func (e *Engine) reviewFaults(pr *probe, now instant) {
	var all faultSet
	inTheDark := faultSet(0)
	for _, st := range pr.streams {
		all |= st.Faults
		if slices.Contains(pr.place.Dark, st.plan.Quantity) {
			inTheDark |= st.Faults
		}
	}
	for n := range faultCount {
		level := Within
		if all.has(n) {
			level = Outer
		}
		if a := pr.faults[n]; level == Within && (a == nil || a.Condition == Within) {
			continue
		}
		var cause *alarm
		if inTheDark.has(n) && faultSet(1<<n).sick() {
			cause = pr.place.unwatched
		}
		e.apply(e.faultAlarm(pr, n), level, cause, now)
	}
}

// whyDark names what is unwatched and why.
func (p *place) whyDark(due instant) Reason {
	r := Reason{Since: due.time(), Quantities: p.Dark}
	for _, pr := range p.probes {
		trouble := pr.troubles()
		r.Includes = append(r.Includes, trouble...)
		if len(trouble) > 0 {
			r.Affected = append(r.Affected, pr.plan.Name)
		}
	}
	return r
}

// troubles lists the alarms that say why pr's readings are missing.
func (pr *probe) troubles() []AlarmID {
	var all []AlarmID
	switch {
	case pr.Out, pr.node.silent():
		all = append(all, pr.node.alarm.id)
	default:
		for _, st := range pr.streams {
			if st.Silent {
				all = append(all, st.node.alarm.id)
			}
		}
	}
	for f := range faultCount {
		for _, st := range pr.streams {
			if st.Faults.has(f) && faultSet(1<<f).sick() {
				all = append(all, pr.faultID(f))
				break
			}
		}
	}
	return all
}
