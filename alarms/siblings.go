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

// compare holds pt's streams against each other. Of two that differ it is not
// known which is right; of three or more, one far from the middle of the
// others is wrong.
func (e *Engine) compare(pt *point, now instant) {
	bound := pt.mayDiffer()
	if bound <= 0 {
		return
	}
	var fit []*stream
	for _, st := range pt.streams {
		if st.Fresh && !st.Silent && !st.probe.Out && (!st.Faults.sick() || st.Faults.onlyOutlier()) {
			fit = append(fit, st)
		}
	}
	wait := pt.place.plan.DisagreeFor
	if len(fit) == 2 {
		d := math.Abs(fit[0].Value - fit[1].Value)
		pt.differ.judge(now, d > bound, d <= bound*disagreeBack, wait, agreeFor)
	} else {
		pt.differ.judge(now, false, len(fit) > 2, wait, agreeFor)
	}
	for _, st := range pt.streams {
		d := 0.0
		if len(fit) > 2 {
			d = math.Abs(st.Value - medianWithout(fit, st))
		}
		st.outlier.judge(now, d > bound, d <= bound*disagreeBack && len(fit) > 2, wait, agreeFor)
	}
}

func (s faultSet) onlyOutlier() bool { return s.sick() && !(s &^ (1 << faultOutlier)).sick() }

func medianWithout(fit []*stream, not *stream) float64 {
	var buf [16]float64
	v := buf[:0]
	for _, st := range fit {
		if st != not {
			v = append(v, st.Value)
		}
	}
	return median(v)
}

func (pt *point) whyDisagree() Reason {
	r := Reason{Fault: FaultDisagree, Since: pt.differ.Since.time()}
	var first *stream
	for _, st := range pt.streams {
		if !st.usable() {
			continue
		}
		r.Affected = append(r.Affected, st.probe.plan.Name)
		if first == nil {
			first = st
			continue
		}
		d := math.Abs(st.Value - first.Value)
		bound := pt.mayDiffer()
		r.Value, r.Limit = &d, &bound
	}
	return r
}
