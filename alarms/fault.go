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
	faultCount
)

var faultNames = [faultCount]Fault{FaultRange, FaultValue, FaultStuck, FaultSpikes, FaultPinned,
	FaultGarbled, FaultOutlier, FaultClock, FaultBattery, FaultSignal}

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
	p.Garbled, p.LateRun, p.ClockOff = 0, 0, false
	for _, st := range p.streams {
		st.Faults, st.Bad, st.Good, st.Spikes = 0, 0, 0, nil
	}
}

// faultAlarm returns the alarm for fault f of p. Most are never needed, so they
// are not made before.
func (e *Engine) faultAlarm(p *probe, f faultNo) *alarm {
	if p.faults[f] == nil {
		a := &alarm{
			id: p.faultID(f), rule: RuleFault, house: p.place.house, place: p.place, probe: p, circuit: p.circuit,
			priority: always(orPriority(p.plan.Priority, Low)),
			why:      func(_ Move, due instant) Reason { return p.whyFault(faultNames[f], due) },
			order:    p.faultOrder + alarmTimerCount*int(f),
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
	r := Reason{Fault: f, Since: due.time()}
	if f == FaultGarbled {
		r.Affected = []string{p.GarbleWhy}
	}
	for _, st := range p.streams {
		for _, n := range st.Faults.names() {
			if n != f {
				continue
			}
			v := st.Value
			switch f {
			case FaultRange, FaultValue:
				v = st.BadValue
			case FaultClock:
				v = float64(p.ClockBy) / 1e9
			case FaultStuck:
				r.Since = st.SameFrom.time()
			case FaultPinned:
				r.Since = st.Pinned.time()
			}
			r.Quantity, r.Value = st.plan.Quantity, &v
			return r
		}
	}
	return r
}
