package alarms

import (
	"math"
	"time"
)

func (e *Engine) buildDisagree(pt *point) {
	h := pt.place.house
	pt.disagree = e.newAlarm(&alarm{
		id:   h.id(pt.place.plan.ID, string(pt.quantity), string(FaultDisagree)),
		rule: RuleFault, house: h, place: pt.place, quantity: pt.quantity, priority: always(Low),
		why: func(_ Move, due instant) Reason { return pt.whyDisagree() },
	})
	pt.differ = newLatch(&e.timers, func(due instant) {
		level := Within
		if pt.differ.On {
			level = Outer
		}
		e.apply(pt.disagree, level, nil, due)
	})
	pt.differ.keeps = true
}

// mayDiffer returns how far siblings may differ, 0 for any distance.
func (pt *point) mayDiffer() float64 {
	if v, ok := pt.place.plan.Disagree[pt.quantity]; ok {
		return v
	}
	return defaultDisagreements[pt.quantity]
}

// disagreeBack is the share of the bound below which siblings agree again.
const disagreeBack = 0.8

// agreeFor is how long siblings must agree before that is believed: a probe
// that is wrong by sun or damp is right again every night.
const agreeFor = 24 * time.Hour

// compare holds pt's streams against each other. Where more than half agree,
// one far from their middle is wrong; where they do not, as of two that
// differ, it is not known which is right.
func (e *Engine) compare(pt *point, now instant) {
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
		pt.differ.stand(now)
		for _, st := range pt.streams {
			st.outlier.stand(now)
		}
		return
	}
	wait := pt.place.plan.DisagreeFor
	middle, agree := consensus(fit, bound)
	pt.differ.judge(now, !agree, widest(fit) <= bound*disagreeBack || agree && len(fit) > 2, wait, agreeFor)
	for _, st := range pt.streams {
		if len(fit) == 2 && !st.outlier.On { // not known which is right
			st.outlier.stand(now)
			continue
		}
		d := math.Abs(st.Value - middle)
		st.outlier.judge(now, agree && len(fit) > 2 && d > bound, agree && d <= bound*disagreeBack, wait, agreeFor)
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

func (pt *point) whyDisagree() Reason {
	r := Reason{Fault: FaultDisagree, Since: pt.place.house.wall.at(pt.differ.Since)}
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
