package control

import (
	"slices"
	"time"
)

const contradictFor = 2 * time.Minute

// judge tells every verdict what holds now.
func (d *drive) judge() {
	spec, want := d.spec, &d.asked.want
	follows, timed := want.Wish == Follow, want.Wish == ByHours
	stands, runs := d.State == Standing, d.State == Running
	lag := d.asked.lag()
	started := (follows || timed) && d.Call == Called && stands
	over := runs || d.Call == NotCalled || !follows && !timed
	slack := d.Timer.slack(want, &d.Open)
	late := lag + spec.Start + slack
	d.hold(DidNotStart, started && !d.RanInCall, over, late)
	d.hold(StoppedEarly, started && d.RanInCall, over, late)
	if !timed {
		d.endTimer()
	}
	still := spec.Start
	if want.Wish == ByTurns {
		still += scaled(want.OffFor)
	}
	due := want.Wish == Run || want.Wish == ByTurns
	d.hold(StoodStill, due && stands, runs || !due, still)
	d.judgeStop(lag, slack)
	d.judgeBarred()
	d.judgeShutter(lag)
	d.judgeCompany()
	differ, unheard := d.meters.contradicts() >= 0, slices.ContainsFunc(d.Evidence, func(e said) bool { return !e.Known })
	d.hold(Contradiction, differ, !differ && !unheard, max(contradictFor, spec.Start, spec.Stop))
	grace := d.drawGrace()
	d.hold(DrawsMore, d.Draw == drawMore, runs && d.Draw == drawUsual, grace)
	d.hold(DrawsLess, d.Draw == drawLess, runs && d.Draw == drawUsual, grace)
	d.hold(NoEffect, follows && runs && d.answers(), stands || !follows, spec.Effect)
	d.judgeTurns()
	d.hold(NeverRan, false, d.RanToday || !follows, 0)
}

func (d *drive) judgeStop(lag, slack time.Duration) {
	wish := d.asked.want.Wish
	plain := (wish == Follow || wish == Rest || wish == ByHours) && d.spec.Kind != IntakeShutter
	if wish == Rest {
		lag = 0
	}
	on := plain && d.State == Running && d.Call == NotCalled
	off := d.State == Standing || !plain || d.Call == Called
	grace := lag + d.spec.Stop + slack
	d.hold(DidNotStop, on && !d.Open.Uncalled, off, grace)
	d.hold(RanUncalled, on && d.Open.Uncalled, off, max(handTestMost, grace))
}

// judgeBarred judges a drive that must not run in this season. While the dial
// asks for it, the season is what is doubted: the thermostat knows no season.
func (d *drive) judgeBarred() {
	barred, asked := d.asked.want.Wish == Barred, d.asked.asked()
	runs := barred && d.State == Running
	if runs && asked {
		d.Open.Asked = true
	}
	grace := d.spec.Stop
	if d.Open.Asked {
		for _, s := range d.asked.stages {
			grace = max(grace, s.spec.Lag+d.spec.Stop)
		}
	}
	idle := !asked && (!d.Open.Asked || d.asked.home.Known)
	d.hold(RanBarred, runs && idle, d.State == Standing || !barred || asked, grace)
	d.hold(SeasonUnfit, runs && asked, !barred, d.spec.Stop)
}

func (d *drive) judgeShutter(lag time.Duration) {
	if d.spec.Kind != IntakeShutter {
		return
	}
	wish, cold, idle := d.asked.want.Wish, d.around.cold, d.asked.idle()
	needed := firstShown(d.opens, Running) != nil
	open := d.State == Running && allShown(d.opens, Standing) && wish != Barred
	kept := wish == Free || wish == Run // by nobody, or by a switch
	unneeded := kept && cold == Called && idle || !kept && d.Call == NotCalled
	warm := kept && (cold == NotCalled || !idle)
	d.hold(OpenUnneeded, open && unneeded,
		d.State == Standing || needed || wish == Barred || !kept && d.Call == Called || warm, lag+d.spec.Stop)
}

// judgeCompany judges what must and what must not run together with d.
func (d *drive) judgeCompany() {
	stands, runs := d.State == Standing, d.State == Running
	if len(d.with) > 0 {
		grace, other := time.Duration(0), firstShown(d.with, Standing)
		if other != nil {
			grace = other.spec.Start
		}
		d.hold(RanAlone, runs && other != nil, stands || allShown(d.with, Running), grace)
	}
	if len(d.without) > 0 {
		grace, other := time.Duration(0), firstShown(d.without, Running)
		if other != nil {
			grace = other.spec.Stop
		}
		d.hold(RanTogether, runs && other != nil, stands || allShown(d.without, Standing), grace)
	}
}

// judgeTurns judges a drive wanted in turn: by a run that lasts too long, and
// with each start by the share of the last turns.
func (d *drive) judgeTurns() {
	want := &d.asked.want
	seen := d.Source >= 0 && 2*d.meters.every(d.Source) <= min(want.OnFor, want.OffFor) // often enough
	byTurns, good := want.Wish == ByTurns && seen, false
	if byTurns {
		var wrong bool
		if good, wrong = d.Turns.against(want.share()); wrong && !d.Gates[TurnsWrong].On {
			d.raise(TurnsWrong)
		}
	}
	d.hold(TurnsWrong, byTurns && d.State == Running, good || !byTurns, scaled(want.OnFor)+d.spec.Stop)
}

// judgeTimer looks at a whole run for how far the timer is off: as late at its
// end as at its start. A run by hand says nothing. It reports whether the run was
// one that the timer should make.
func (d *drive) judgeTimer(line *Switching) (right bool) {
	w, r := &d.asked.want, &d.Open
	if w.Wish != ByHours || r.Leapt || line.Ran == 0 || line.By == ByHand || line.By == ByTest {
		return false
	}
	late, due, ok := w.Hours.late(r, d.around.now, d.meters.blur())
	right = ok && late == 0
	if !ok || right || (late-d.Timer.Late).Abs() > w.Hours.Slack+r.Blur {
		d.endTimer()
	}
	if g := &d.Gates[TimerOff]; ok && !right && !g.On {
		d.Timer, g.Since = lead{late, due}, r.Started
		d.raise(TimerOff)
	}
	return right
}

// judgeStart judges with a start how many an hour holds.
func (d *drive) judgeStart() {
	most := d.mostStarts()
	d.Starts = d.Starts.add(d.around.now, most)
	g := &d.Gates[ShortCycling]
	if len(d.Starts) > most && !g.On {
		g.Since = d.Starts[0]
		d.raise(ShortCycling)
	}
	if g.On {
		g.Due = d.Starts[max(len(d.Starts)-1-most/2, 0)].Add(time.Hour) // when it will hold half of that, if none comes
	}
}

// judgeDay judges a day that is over.
func (d *drive) judgeDay() {
	never := d.Today.CalledFor >= calledLeast && !d.RanToday && !d.FailedToday
	if never && !d.Gates[NeverRan].On && !d.Gates[DidNotStart].On && d.asked.want.Wish == Follow && len(d.Evidence) > 0 {
		d.raise(NeverRan)
	}
	if d.RanToday {
		return
	}
	d.endTimer()
	if d.Gates[SeasonUnfit].On {
		d.end(SeasonUnfit)
	}
}
