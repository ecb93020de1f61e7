package control

import (
	"math"
	"time"
)

// moves returns the speed or position that shows how fast d runs.
func (j *Judge) moves(d int) (e said, known bool) {
	for i, e := range j.state.Drives[d].Evidence {
		if e.Known && j.spec.Drives[d].Evidence[i].What == Moving {
			return e, true
		}
	}
	return said{}, false
}

// part reports whether d runs at a part of its speed, as far as that shows.
func (j *Judge) part(d int) bool {
	for _, i := range j.stagesOf[d] {
		if st := &j.state.Stages[i]; j.contacts(d) > 1 && !j.spec.Stages[i].Mode.Humid() && j.acts(i) && !st.Calls && st.Certain != Called {
			return true // a stage more is to come
		}
	}
	if e, known := j.moves(d); known {
		return e.Value < partly*e.Top
	}
	ds := &j.state.Drives[d]
	if j.drawer[d] < 0 || len(ds.Usual.Others) == 0 {
		return false
	}
	top := ds.Usual.Level
	for _, v := range ds.Usual.Others {
		top = math.Max(top, v)
	}
	e := ds.Evidence[j.drawer[d]]
	return e.Known && e.Runs && e.Value < partly*top
}

// speeds reports whether the temperature can tell another speed of d from a
// fault: it is expected to answer, and what is usual was learned of one speed,
// or several stages drive it.
func (j *Judge) speeds(d int) bool {
	spec := &j.spec.Drives[d]
	answers := spec.Effect > 0 && (spec.Kind == ExhaustFan || spec.Kind == Heater) && j.works(d)
	if !answers || !j.air(d).Known || j.drawer[d] < 0 {
		return false
	}
	if j.contacts(d) > 1 {
		return true
	}
	e := &spec.Evidence[j.drawer[d]]
	return e.UsualLow == 0 && e.UsualHigh == 0 && !j.held(d)
}

// held reports whether d draws as much as a held rotor.
func (j *Judge) held(d int) bool {
	_, high := j.drawLimits(d)
	return !(j.state.Drives[d].Evidence[j.drawer[d]].Value < heldShare/drawHigh*high)
}

// unlearned reports whether d has more stages than speeds that were learned, so
// that what it draws now may be the next of them. A held rotor draws more.
func (j *Judge) unlearned(d int) bool {
	return 1+len(j.state.Drives[d].Usual.Others) < j.contacts(d) && !j.held(d)
}

// drawGrace is how long d must draw otherwise before that is told.
func (j *Judge) drawGrace(d int) time.Duration {
	if j.speeds(d) {
		return j.spec.Drives[d].Effect
	}
	return drawsFor
}

// otherwise judges at the end of that time whether d draws otherwise because of a
// fault. Where the temperature has answered it runs at another speed, which is
// learned; where it has neither answered nor gone on, it is looked at again.
func (j *Judge) otherwise(due Moment, d int, kind FindingKind) bool {
	ds := &j.state.Drives[d]
	t, known := j.air(d).median(due, 3)
	if !j.speeds(d) {
		return true
	}
	rose, expected := t-ds.DrawFrom, j.unlearned(d)
	if j.spec.Drives[d].Kind == Heater {
		rose = -rose
	}
	switch {
	case known && rose > risesStill && !expected:
		return true
	case (expected || known && rose < -answersBy) && ds.Usual.Level != 0 && len(ds.Usual.Others) < levels:
		ds.Usual.Others = append(ds.Usual.Others, ds.Evidence[j.drawer[d]].Value)
		ds.Draw = drawUsual
		ds.Gates[kind].disarm()
	default:
		ds.Gates[kind].Due = due.add(j.drawGrace(d))
	}
	return false
}
