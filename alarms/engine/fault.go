package engine

import (
	"cmp"
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

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

var faultNames = [faultCount]alarms.Fault{alarms.FaultRange, alarms.FaultValue, alarms.FaultStuck, alarms.FaultSpikes, alarms.FaultPinned,
	alarms.FaultGarbled, alarms.FaultOutlier, alarms.FaultClock, alarms.FaultBattery, alarms.FaultSignal, alarms.FaultWitness}

// blinding are the faults that make readings unbelievable.
var blinding = func() (s faultSet) {
	for f, name := range faultNames {
		if name.Blinds() {
			s |= 1 << f
		}
	}
	return s
}()

// sick reports whether s makes readings unbelievable.
func (s faultSet) sick() bool { return s&blinding != 0 }

func (s faultSet) has(f faultNo) bool { return s&(1<<f) != 0 }

// names lists the faults in s.
func (s faultSet) names() []alarms.Fault {
	var all []alarms.Fault
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
func (p *probe) faultAlarm(e *Engine, f faultNo) *alarm {
	if p.faults[f] == nil {
		grave := alarms.Low
		if f == faultWitness {
			grave = alarms.Medium // the power may be gone
		}
		a := &alarm{of: faultOf{p: p, f: f}, Alarm: lifecycle.Alarm{
			ID: p.faultID(f), Kind: alarms.RuleFault, Priority: lifecycle.Always(cmp.Or(p.plan.Priority, grave)),
			Order: p.faultOrder + lifecycle.TimerCount*int(f),
		}, house: p.place.house, place: p.place, probe: p, circuit: p.circuit}
		a.Because = func(_ alarms.Move, due timing.Instant) alarms.Reason {
			r := p.whyFault(faultNames[f], due)
			if r.Quantity == "" && a.Condition != alarms.Within && a.Why != nil { // it ends in this instant
				r.Quantity, r.Value = a.Why.Quantity, a.Why.Value
			}
			return r
		}
		p.faults[f] = e.lateAlarm(a)
	}
	return p.faults[f]
}

func (p *probe) faultID(f faultNo) alarms.AlarmID {
	return p.place.house.id(p.place.plan.ID, string(p.plan.ID), string(faultNames[f]))
}

// whyFault says what shows fault f.
func (p *probe) whyFault(f alarms.Fault, due timing.Instant) alarms.Reason {
	r := alarms.Reason{Fault: f, Since: p.place.house.wall.At(due)}
	for _, st := range p.streams {
		st.catchUp()
		for _, n := range st.Faults.names() {
			if n != f {
				continue
			}
			v := st.Value
			switch f {
			case alarms.FaultGarbled:
				r.Affected, r.Quantities = []string{st.GarbleWhy}, p.unreadable()
			case alarms.FaultRange, alarms.FaultValue:
				v = st.BadValue
			case alarms.FaultClock:
				v = float64(p.ClockBy) / 1e9
			case alarms.FaultStuck:
				r.Since = p.place.house.wall.At(st.SameFrom)
			case alarms.FaultWitness:
				r.Since, r.Affected = p.place.house.wall.At(st.ZeroFrom), st.feed.heardBeside(p)
			case alarms.FaultPinned:
				r.Since = p.place.house.wall.At(st.Pinned)
			}
			r.Quantity, r.Value = st.plan.Quantity, &v
			return r
		}
	}
	return r
}

// unreadable lists the quantities of p that cannot be read, nil for all.
func (p *probe) unreadable() []alarms.Quantity {
	var some []alarms.Quantity
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

// faultOf is a fault of a probe.
type faultOf struct {
	lifecycle.Plain
	p *probe
	f faultNo
}

// Title names the fault.
func (o faultOf) Title(_ *lifecycle.Alarm, s *alarms.Subject) { s.Fault = faultNames[o.f] }

// Facts tell whether a doubted witness is believed.
func (o faultOf) Facts(_ *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	f.Believed = t.Reason.Fault == alarms.FaultWitness && o.p.gone()
}

func (pt *point) buildDisagree(e *Engine) {
	h := pt.place.house
	pt.disagree = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: h.id(pt.place.plan.ID, string(pt.quantity), string(alarms.FaultDisagree)), Kind: alarms.RuleFault, Quantity: pt.quantity,
		Priority: lifecycle.Always(alarms.Low), Because: func(_ alarms.Move, due timing.Instant) alarms.Reason { return pt.whyDisagree() },
	}, house: h, place: pt.place})
	pt.differ = timing.NewLatch(&e.panel.Timers, func(due timing.Instant) {
		level := alarms.Within
		if pt.differ.On {
			level = alarms.Outer
		}
		pt.disagree.Apply(level, "", due)
	})
	pt.differ.Keeps = true
}

// mayDiffer returns how far siblings may differ, 0 for any distance.
func (pt *point) mayDiffer() float64 {
	if v, ok := pt.place.plan.Disagree[pt.quantity]; ok {
		return v
	}
	return pt.quantity.Facts().Differ
}

// disagreeBack is the share of the bound below which siblings agree again.
const disagreeBack = 0.8

// agreeFor is how long siblings must agree before that is believed: a probe
// that is wrong by sun or damp is right again every night.
const agreeFor = 24 * time.Hour

// compare holds pt's streams against each other. Where more than half agree,
// one far from their middle is wrong; where they do not, as of two that
// differ, it is not known which is right.
func (pt *point) compare(e *Engine, now timing.Instant) {
	bound := pt.mayDiffer()
	if bound <= 0 {
		return
	}
	var fit []*stream
	for _, st := range pt.streams {
		st.catchUp()
		if st.Fresh && !st.Silent && !st.probe.Out && (!st.Faults.sick() || st.Faults.onlyOutlier()) {
			fit = append(fit, st)
		}
	}
	if len(fit) < 2 { // not known
		pt.differ.Stand(now)
		for _, st := range pt.streams {
			st.outlier.Stand(now)
		}
		return
	}
	wait := pt.place.plan.DisagreeFor
	middle, agree := consensus(fit, bound)
	pt.differ.Judge(now, !agree, widest(fit) <= bound*disagreeBack || agree && len(fit) > 2, wait, agreeFor)
	for _, st := range pt.streams {
		if len(fit) == 2 && !st.outlier.On { // not known which is right
			st.outlier.Stand(now)
			continue
		}
		d := math.Abs(st.Value - middle)
		st.outlier.Judge(now, agree && len(fit) > 2 && d > bound, agree && d <= bound*disagreeBack, wait, agreeFor)
	}
}

// consensus returns the median of fit, and whether more than half of them lie
// within bound of it: two of two, two of three, three of four.
func consensus(fit []*stream, bound float64) (middle float64, agree bool) {
	if len(fit) < 2 {
		return 0, false
	}
	if len(fit) == 2 {
		return (fit[0].Value + fit[1].Value) / 2, widest(fit) <= bound
	}
	var buf [16]float64
	v := buf[:0]
	for _, st := range fit {
		v = append(v, st.Value)
	}
	middle = median(v)
	near := 0
	for _, st := range fit {
		if math.Abs(st.Value-middle) <= bound {
			near++
		}
	}
	return middle, 2*near > len(fit)
}

// widest returns the distance between the lowest and the highest of fit.
func widest(fit []*stream) float64 {
	lo, hi := fit[0].Value, fit[0].Value
	for _, st := range fit {
		lo, hi = min(lo, st.Value), max(hi, st.Value)
	}
	return hi - lo
}

func (s faultSet) onlyOutlier() bool { return s.sick() && !(s &^ (1 << faultOutlier)).sick() }

func (pt *point) whyDisagree() alarms.Reason {
	r := alarms.Reason{Fault: alarms.FaultDisagree, Since: pt.place.house.wall.At(pt.differ.Since)}
	var fit []*stream
	for _, st := range pt.streams {
		if st.usable() {
			fit = append(fit, st)
			r.Affected = append(r.Affected, st.probe.plan.Name)
		}
	}
	if len(fit) > 1 {
		d, bound := widest(fit), pt.mayDiffer()
		r.Value, r.Limit = &d, &bound
	}
	return r
}
