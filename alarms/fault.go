package alarms

// faultNo numbers the faults of a stream; faultSet holds any of them.
type (
	faultNo  uint8
	faultSet uint16
)

const (
	faultRange faultNo = iota
	faultValue
	faultStuck
	faultSpikes
	faultPinned
	faultGarbled
	faultOutlier
	faultClock
	faultBattery
	faultSignal
	faultWitness
	faultCount
)

var faultNames = [faultCount]Fault{FaultRange, FaultValue, FaultStuck, FaultSpikes, FaultPinned,
	FaultGarbled, FaultOutlier, FaultClock, FaultBattery, FaultSignal, FaultWitness}

// sick reports whether s makes readings unbelievable.
func (s faultSet) sick() bool { return s&(1<<(faultOutlier+1)-1) != 0 }

func (s faultSet) has(f faultNo) bool { return s&(1<<f) != 0 }

// names lists the faults in s.
func (s faultSet) names() []Fault {
	var all []Fault
	for f := range faultCount {
		if s.has(f) {
			all = append(all, faultNames[f])
		}
	}
	return all
}

func (st *stream) fault(f faultNo, on bool) {
	if on {
		st.Faults |= 1 << f
	} else {
		st.Faults &^= 1 << f
	}
}

// clearFaults forgets what is wrong with a probe taken out of service.
func (p *probe) clearFaults() {
	p.ClockOff = false
	for _, st := range p.streams {
		st.Faults, st.Bad, st.Good, st.Garbled, st.Spikes = 0, 0, 0, 0, nil
	}
}

// faultAlarm returns the alarm for fault f of p. Most are never needed, so they
// are not made before.
func (e *Engine) faultAlarm(p *probe, f faultNo) *alarm {
	if p.faults[f] == nil {
		grave := Low
		if f == faultWitness {
			grave = Medium // the power may be gone
		}
		a := &alarm{
			id: p.faultID(f), rule: RuleFault, house: p.place.house, place: p.place, probe: p, circuit: p.circuit,
			priority: always(orPriority(p.plan.Priority, grave)),
			order:    p.faultOrder + alarmTimerCount*int(f),
		}
		a.why = func(_ Move, due instant) Reason {
			r := p.whyFault(faultNames[f], due)
			if r.Quantity == "" && a.Condition != Within && a.Why != nil { // it ends in this instant
				r.Quantity, r.Value = a.Why.Quantity, a.Why.Value
			}
			return r
		}
		p.faults[f] = e.lateAlarm(a)
	}
	return p.faults[f]
}

func (p *probe) faultID(f faultNo) AlarmID {
	return p.place.house.id(p.place.plan.ID, string(p.plan.ID), string(faultNames[f]))
}

// whyFault says what shows fault f.
func (p *probe) whyFault(f Fault, due instant) Reason {
	r := Reason{Fault: f, Since: p.place.house.wall.at(due)}
	for _, st := range p.streams {
		st.catchUp()
		for _, n := range st.Faults.names() {
			if n != f {
				continue
			}
			v := st.Value
			switch f {
			case FaultGarbled:
				r.Affected, r.Quantities = []string{st.GarbleWhy}, p.unreadable()
			case FaultRange, FaultValue:
				v = st.BadValue
			case FaultClock:
				v = float64(p.ClockBy) / 1e9
			case FaultStuck:
				r.Since = p.place.house.wall.at(st.SameFrom)
			case FaultWitness:
				r.Since, r.Affected = p.place.house.wall.at(st.ZeroFrom), st.feed.heardBeside(p)
			case FaultPinned:
				r.Since = p.place.house.wall.at(st.Pinned)
			}
			r.Quantity, r.Value = st.plan.Quantity, &v
			return r
		}
	}
	return r
}

// unreadable lists the quantities of p that cannot be read, nil for all.
func (p *probe) unreadable() []Quantity {
	var some []Quantity
	all := true
	for _, st := range p.streams {
		if st.Faults.has(faultGarbled) {
			some = append(some, st.plan.Quantity)
		} else if st.leaf {
			all = false
		}
	}
	if all {
		return nil
	}
	return some
}
