package engine

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// reviewPlaces finds again which silences, unwatched places and probe faults are
// to be told, and which of them another one already says; then applies it.
func (e *Engine) reviewPlaces(places []*place, nodes []*node, now timing.Instant) {
	for _, p := range places {
		p.look()
	}
	e.reviewLosses(places)
	for _, n := range nodes {
		n.alarm.Apply(n.level(), n.causeOfSilence(e).name(), now)
		n.respeakFed(e)
	}
	for _, p := range places {
		for _, pr := range p.probes {
			for _, n := range pr.nodes {
				n.alarm.Apply(n.level(), n.causeOfSilence(e).name(), now)
			}
		}
	}
	for _, p := range places {
		p.unwatched.Apply(p.darkLevel(), p.causeOfDark(e).name(), now)
		for _, pr := range p.probes {
			pr.reviewFaults(e, now)
		}
	}
}

// level of n: told itself, or a probe, circuit or house that would be told
// were it not part of a wider silence.
func (n *node) level() alarms.Level {
	stream := n.alarm.Quantity != ""
	switch {
	case n.Told, n.Dead:
	case stream || !n.silent():
		return alarms.Within
	case n.told() == nil && n.sparedBy() == nil:
		return alarms.Within
	}
	if n.alarm.house.known > 0 {
		return alarms.Outer
	}
	for _, st := range n.leaves {
		if p := st.probe.place; st.point != nil && st.point == p.air && p.lastOf(alarms.Outer, st.itself) == alarms.Last {
			return alarms.Last
		}
	}
	return alarms.Outer
}

func (st *stream) itself(o *stream) bool { return st == o }

func (n *node) causeOfSilence(e *Engine) *alarm {
	if e.link.speaks() {
		return e.link.alarm
	}
	for _, by := range []*node{n.speaker(), n.sparer()} {
		if by != nil && by != n {
			return by.alarm
		}
	}
	if p := n.alarm.place; p != nil && p.darkLevel() != alarms.Within && !p.unwatched.State.Aside() {
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
func (p *place) darkNow() []alarms.Quantity {
	var dark []alarms.Quantity
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
func (p *place) darkLevel() alarms.Level {
	level := alarms.Outer
	switch len(p.Dark) {
	case 0:
		return alarms.Within
	case len(p.watched):
		level = alarms.Inner
	}
	return p.lastOf(level, func(st *stream) bool { return st.probe.inTheDark() })
}

// inTheDark reports whether pr measures something that is unwatched.
func (pr *probe) inTheDark() bool {
	return slices.ContainsFunc(pr.streams, func(st *stream) bool { return slices.Contains(pr.place.Dark, st.plan.Quantity) })
}

// causeOfDark returns the wider silence that explains all of p's darkness.
func (p *place) causeOfDark(e *Engine) *alarm {
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

func (pr *probe) reviewFaults(e *Engine, now timing.Instant) {
	var all faultSet
	inTheDark := faultSet(0)
	for _, st := range pr.streams {
		all |= st.Faults
		if slices.Contains(pr.place.Dark, st.plan.Quantity) {
			inTheDark |= st.Faults
		}
	}
	for n := range faultCount {
		level := alarms.Within
		if all.has(n) {
			level = alarms.Outer
			if faultSet(1 << n).sick() {
				level = pr.place.lastOf(level, func(st *stream) bool { return st.probe == pr && st.Faults.has(n) })
			}
		}
		if a := pr.faults[n]; level == alarms.Within && (a == nil || a.Condition == alarms.Within) {
			continue
		}
		var cause *alarm
		if inTheDark.has(n) && faultSet(1<<n).sick() && !pr.place.unwatched.State.Aside() {
			cause = pr.place.unwatched
		}
		pr.faultAlarm(e, n).Apply(level, cause.name(), now)
	}
}

// whyDark names what is unwatched and why.
func (p *place) whyDark(due timing.Instant) alarms.Reason {
	r := alarms.Reason{Since: p.house.wall.At(due), Quantities: p.Dark}
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
func (pr *probe) troubles() []alarms.AlarmID {
	var all []alarms.AlarmID
	switch {
	case pr.Out, pr.node.silent():
		all = append(all, pr.node.alarm.ID)
	default:
		for _, st := range pr.streams {
			if st.Silent {
				all = append(all, st.node.alarm.ID)
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

// Facts are what ails the probes of p.
func (p *place) Facts(_ *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	f.Ails, f.Partly = p.ails(p.house.e), len(t.Reason.Quantities) < len(p.watched)
}

// Present is the last that was heard.
func (p *place) Present(*lifecycle.Alarm) alarms.Present { return p.unwatched.presentProbe().Present }

// Aside lets be looked at again what it speaks for that p is unwatched.
func (p *place) Aside(*lifecycle.Alarm, timing.Instant) { p.reviewPlace(p.house.e) }
