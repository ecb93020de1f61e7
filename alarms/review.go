package alarms

import "slices"

// reviewPlaces finds anew which silences, unwatched places and probe faults are
// to be told, and which of them another one already says; then applies it.
func (e *Engine) reviewPlaces(places []*place, nodes []*node, now instant) {
	for _, p := range places {
		p.look()
	}
	e.reviewLosses(places)
	for _, n := range nodes {
		e.apply(n.alarm, n.level(), e.causeOfSilence(n), now)
		e.respeakFed(n)
	}
	for _, p := range places {
		for _, pr := range p.probes {
			for _, n := range pr.nodes {
				e.apply(n.alarm, n.level(), e.causeOfSilence(n), now)
			}
		}
	}
	for _, p := range places {
		e.apply(p.unwatched, p.darkLevel(), e.causeOfDark(p), now)
		for _, pr := range p.probes {
			e.reviewFaults(pr, now)
		}
	}
}

// level of n: told itself, or a probe, circuit or house that would be told
// were it not part of a wider silence.
func (n *node) level() Level {
	stream := n.alarm.quantity != ""
	switch {
	case n.Told, n.Dead:
	case stream || !n.silent():
		return Within
	case n.told() == nil && n.sparedBy() == nil:
		return Within
	}
	if n.alarm.house.known > 0 {
		return Outer
	}
	for _, st := range n.leaves {
		if p := st.probe.place; st.point != nil && st.point == p.air && p.lastOf(Outer, st.itself) == Last {
			return Last
		}
	}
	return Outer
}

func (st *stream) itself(o *stream) bool { return st == o }

func (e *Engine) causeOfSilence(n *node) *alarm {
	if e.link.speaks() {
		return e.link.alarm
	}
	for _, by := range []*node{n.speaker(), n.sparer()} {
		if by != nil && by != n {
			return by.alarm
		}
	}
	if p := n.alarm.place; p != nil && p.darkLevel() != Within && !p.unwatched.State.Aside() {
		for _, st := range n.leaves {
			if slices.Contains(p.Dark, st.plan.Quantity) {
				return p.unwatched
			}
		}
	}
	return nil
}

// look finds what of p is unwatched now.
func (p *place) look() {
	was := len(p.Dark) > 0
	p.Dark = p.darkNow()
	switch is := len(p.Dark) > 0; {
	case is && !was:
		p.house.dark++
	case was && !is:
		p.house.dark--
	}
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
		if !st.Faults.sick() && !st.probe.Out && !st.owned() {
			return false
		}
	}
	return len(pt.streams) > 0
}

// darkLevel is Outer when something of p is unwatched, Inner when all is.
func (p *place) darkLevel() Level {
	level := Outer
	switch len(p.Dark) {
	case 0:
		return Within
	case len(p.watched):
		level = Inner
	}
	return p.lastOf(level, func(st *stream) bool { return st.probe.inTheDark() })
}

// inTheDark reports whether pr measures something that is unwatched.
func (pr *probe) inTheDark() bool {
	return slices.ContainsFunc(pr.streams, func(st *stream) bool { return slices.Contains(pr.place.Dark, st.plan.Quantity) })
}

// causeOfDark returns the wider silence that explains all of p's darkness.
func (e *Engine) causeOfDark(p *place) *alarm {
	if e.link.speaks() {
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
			wide := st.node.speaker()
			if st.node.told() == nil {
				wide = st.node.sparer()
			}
			if wide == nil || wide.alarm.place != nil {
				return nil
			}
			cause = wide.alarm
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
			if faultSet(1 << n).sick() {
				level = pr.place.lastOf(level, func(st *stream) bool { return st.probe == pr && st.Faults.has(n) })
			}
		}
		if a := pr.faults[n]; level == Within && (a == nil || a.Condition == Within) {
			continue
		}
		var cause *alarm
		if inTheDark.has(n) && faultSet(1<<n).sick() && !pr.place.unwatched.State.Aside() {
			cause = pr.place.unwatched
		}
		e.apply(e.faultAlarm(pr, n), level, cause, now)
	}
}

// whyDark names what is unwatched and why.
func (p *place) whyDark(due instant) Reason {
	r := Reason{Since: p.house.wall.at(due), Quantities: p.Dark}
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
