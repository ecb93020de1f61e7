package control

import (
	"math"
	"slices"
	"time"
)

// WellAbove is by how many kelvin a house must be warmer than outside that a
// running exhaust fan must show in its temperature.
const WellAbove = 6.0

const (
	contradictFor = 2 * time.Minute
	risesStill    = 0.5 // K above the start, where it is well above outside
	answersBy     = 0.5 // K that ends NoEffect
	risesBy       = 1.0 // K above the start, where outside is not known
	chillsBy      = 0.3 // K below the start, under a heater
	turnsSlack    = 1.5
	drawsFor      = time.Minute
	effects       = 4 // times Effect, in which an answer is looked for
)

// judgeDrive tells every verdict of a drive what holds now.
func (j *Judge) judgeDrive(now Moment, d int) {
	ds, spec, want := &j.state.Drives[d], &j.spec.Drives[d], j.want(d)
	follows, timed := want.Wish == Follow, want.Wish == ByHours
	stands, runs := ds.State == Standing, ds.State == Running
	called, uncalled := ds.Call == Called, ds.Call == NotCalled
	lag := j.lagOf(d)
	started := (follows || timed) && called && stands
	over := runs || uncalled || !follows && !timed
	j.hold(now, d, DidNotStart, started && !ds.RanInCall, over, lag+spec.Start+j.slackOf(d))
	j.hold(now, d, StoppedEarly, started && ds.RanInCall, over, lag+spec.Start+j.slackOf(d))
	j.dropTimer(now, d)
	still := spec.Start
	if want.Wish == ByTurns {
		still += scaled(want.OffFor)
	}
	due := want.Wish == Run || want.Wish == ByTurns
	j.hold(now, d, StoodStill, due && stands, runs || !due, still)
	j.judgeStop(now, d, lag)
	j.judgeShutter(now, d, lag)
	j.judgeCompany(now, d)
	differ, agree := ds.agreement()
	j.hold(now, d, Contradiction, differ, agree, max(contradictFor, spec.Start, spec.Stop))
	grace := j.drawGrace(d)
	j.hold(now, d, DrawsMore, ds.Draw == drawMore, runs && ds.Draw == drawUsual, grace)
	j.hold(now, d, DrawsLess, ds.Draw == drawLess, runs && ds.Draw == drawUsual, grace)
	j.hold(now, d, NoEffect, follows && runs && j.answers(d), ds.State == Standing || !follows, spec.Effect)
	j.judgeTurns(now, d, want)
	j.hold(now, d, NeverRan, false, ds.RanToday || !follows, 0)
}

func scaled(d time.Duration) time.Duration { return time.Duration(float64(d) * turnsSlack) }

func (j *Judge) judgeStop(now Moment, d int, lag time.Duration) {
	ds, spec, wish := &j.state.Drives[d], &j.spec.Drives[d], j.want(d).Wish
	stands, runs := ds.State == Standing, ds.State == Running
	plain := (wish == Follow || wish == Rest || wish == ByHours) && spec.Kind != IntakeShutter
	if wish == Rest {
		lag = 0
	}
	on := plain && runs && ds.Call == NotCalled
	off := stands || !plain || ds.Call == Called
	grace := lag + spec.Stop + j.slackOf(d)
	j.hold(now, d, DidNotStop, on && !ds.Open.Uncalled, off, grace)
	j.hold(now, d, RanUncalled, on && ds.Open.Uncalled, off, max(HandTestMost, grace))
	j.judgeBarred(now, d, stands, runs)
}

// judgeBarred judges a drive that must not run in this season. While the dial
// asks for it, the season is what is doubted: the thermostat knows no season.
func (j *Judge) judgeBarred(now Moment, d int, stands, runs bool) {
	ds, stop := &j.state.Drives[d], j.spec.Drives[d].Stop
	barred, asked := j.want(d).Wish == Barred, j.asks(d)
	if barred && runs && asked {
		ds.Open.Asked = true
	}
	grace := stop
	if ds.Open.Asked {
		for _, i := range j.stagesOf[d] {
			grace = max(grace, j.spec.Stages[i].Lag+stop)
		}
	}
	idle := !asked && (!ds.Open.Asked || j.felt(j.Bulb(d, -1)).Known)
	j.hold(now, d, RanBarred, barred && runs && idle, stands || !barred || asked, grace)
	j.hold(now, d, SeasonUnfit, barred && runs && asked, !barred, stop)
}

// asks reports whether the dial asks for d, whatever season and selectors say.
func (j *Judge) asks(d int) bool {
	return slices.ContainsFunc(j.stagesOf[d], func(i int) bool {
		return !j.out(i) && (j.certain(i) == Called || j.state.Stages[i].Calls)
	})
}

func (j *Judge) judgeShutter(now Moment, d int, lag time.Duration) {
	if j.spec.Drives[d].Kind != IntakeShutter {
		return
	}
	ds, wish := &j.state.Drives[d], j.want(d).Wish
	needed, spared := false, true // a fan that needs it runs; all stand
	for _, f := range j.opens[d] {
		needed = needed || j.state.Drives[f].State == Running
		spared = spared && j.state.Drives[f].State == Standing
	}
	open := ds.State == Running && spared && wish != Barred
	kept := wish == Free || wish == Run // by nobody, or by a switch
	cold := kept && j.state.Cold == Called && j.idle(d)
	warm := kept && (j.state.Cold == NotCalled || !j.idle(d))
	j.hold(now, d, OpenUnneeded, open && (cold || !kept && ds.Call == NotCalled),
		ds.State == Standing || needed || wish == Barred || !kept && ds.Call == Called || warm, lag+j.spec.Drives[d].Stop)
}

// idle reports whether no cooling stage that could need d calls.
func (j *Judge) idle(d int) bool {
	for _, i := range j.stagesOf[d] {
		if j.spec.Stages[i].Mode == Cooling && !j.out(i) && j.state.Stages[i].Certain != NotCalled {
			return false
		}
	}
	return true
}

// judgeCompany judges what must and what must not run together with d.
func (j *Judge) judgeCompany(now Moment, d int) {
	ds, spec := &j.state.Drives[d], &j.spec.Drives[d]
	stands, runs := ds.State == Standing, ds.State == Running
	if len(spec.With) > 0 {
		other := j.firstIn(spec.With, Standing)
		grace, all := time.Duration(0), true
		if other >= 0 {
			grace = j.spec.Drives[other].Start
		}
		for _, w := range spec.With {
			all = all && j.state.Drives[w].State == Running
		}
		j.hold(now, d, RanAlone, runs && other >= 0, stands || all, grace)
	}
	if len(spec.Without) > 0 {
		other := j.firstIn(spec.Without, Running)
		grace, none := time.Duration(0), true
		if other >= 0 {
			grace = j.spec.Drives[other].Stop
		}
		for _, w := range spec.Without {
			none = none && j.state.Drives[w].State == Standing
		}
		j.hold(now, d, RanTogether, runs && other >= 0, stands || none, grace)
	}
}

// firstIn returns the first of list that is shown so, -1 for none.
func (j *Judge) firstIn(list []int, shown Shown) int {
	i := slices.IndexFunc(list, func(d int) bool { return j.state.Drives[d].State == shown })
	if i < 0 {
		return -1
	}
	return list[i]
}

// agreement reports whether known evidence contradicts, and whether all
// evidence is known and agrees.
func (ds *driveState) agreement() (differ, agree bool) {
	agree = true
	for i := range ds.Evidence {
		e := &ds.Evidence[i]
		if !e.Known {
			agree = false
		} else if e.Runs != (ds.State == Running) {
			differ = true
		}
	}
	return differ, agree && !differ
}

// contradicts returns the first evidence that contradicts the state, -1 for
// none.
func (ds *driveState) contradicts() int {
	return slices.IndexFunc(ds.Evidence, func(e said) bool { return e.Known && e.Runs != (ds.State == Running) })
}

// answers reports whether the temperature must yet answer to this run of d.
func (j *Judge) answers(d int) bool {
	spec := &j.spec.Drives[d]
	r := &j.state.Drives[d].Open
	return spec.Effect > 0 && j.works(d) && r.Started != 0 && r.TempKnown && !r.Checked
}

// works reports whether d does by its kind what it was called for: a fan cools, a
// heater heats, misting moistens. Where no stage is known to have called it, it does.
func (j *Judge) works(d int) bool {
	i := j.ranBy(d)
	switch j.spec.Drives[d].Kind {
	case ExhaustFan:
		return i < 0 || j.spec.Stages[i].Mode == Cooling
	case Heater:
		return i < 0 || j.spec.Stages[i].Mode == Heating
	case Misting:
		return i >= 0 && j.spec.Stages[i].Mode == Moistening
	}
	return false
}

// lifts reports whether what d answers by must rise.
func (j *Judge) lifts(d int) bool {
	return j.spec.Drives[d].Kind == Heater || j.spec.Drives[d].Kind == Misting
}

// undecided reports whether it cannot be told yet whether d changes nothing: the
// readings are so far apart that it may have stood in between, and the house is
// not beyond its dial for certain.
func (j *Judge) undecided(d int) bool {
	return j.air(d).Known && j.state.Drives[d].Call == Between && !j.air(d).follows(j.state.Now, math.Inf(1))
}

// decide reports whether it can be judged that d changes nothing. If not it is
// tried again, but not for ever: what is too weak for this weather is no fault.
func (j *Judge) decide(due Moment, d int) bool {
	ds, effect := &j.state.Drives[d], j.spec.Drives[d].Effect
	undecided := j.undecided(d)
	if undecided && due.Since(ds.Open.Started) < effects*effect {
		ds.Gates[NoEffect].Due = due.add(effect)
	} else {
		ds.Open.Checked = true
	}
	return !undecided
}

// ineffective judges at the end of Effect whether d changed nothing.
func (j *Judge) ineffective(d int) bool {
	now, before := j.state.Now, j.state.Drives[d].Open.Before
	t, ok := j.air(d).mildest(now, recent, j.lifts(d))
	switch {
	case !ok, j.state.Drives[d].Call == NotCalled, j.part(d):
		return false
	case j.spec.Drives[d].Kind == Misting:
		return t <= before
	}
	out, outside := j.state.Outside.at(now)
	if r := &j.state.Drives[d].Open; j.spec.Drives[d].Kind == Heater {
		colder := outside && r.LiftKnown && t-out >= r.Lift // it warms, and the night is too cold for it
		return t < before-chillsBy && !colder
	}
	if outside {
		return t > before+risesStill && t-out >= WellAbove
	}
	return t > before+risesBy
}

// before is how warm it was when d started: the warmest reading of then, the
// coldest for a heater. Where it is read seldom a median lags behind.
func (j *Judge) before(now Moment, d int) float64 {
	t, _ := j.air(d).mildest(now, 3, !j.lifts(d))
	return t
}

// answered reports whether the temperature has answered after all.
func (j *Judge) answered(d int) bool {
	before := j.state.Drives[d].Open.Before
	t, ok := j.air(d).median(j.state.Now, recent)
	ok = ok && j.state.Drives[d].Open.Started != 0
	if j.lifts(d) {
		return ok && t > before+answersBy
	}
	return ok && t < before-answersBy
}
