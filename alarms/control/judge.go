package control

import (
	"math"

	"telltale/alarms/timing"
)

// Judge holds what happens against the dial: it takes temperatures, evidence
// and arrangements as they come, and says verdicts and switchings. Every event
// carries its moment; all graces that end up to it are fired first, in order,
// each with its own moment, so that an extra or late Advance changes nothing.
// An event before the last one is taken to happen with it. Readings must be
// believed ones: a Judge does not look for spikes.
//
// It is not safe for use by several goroutines.
type Judge struct {
	around    air
	stages    []*stage
	drives    []*drive
	arranged  Arrangement
	began     timing.Instant
	low, high float64        // °C, limits of the place, NaN for none
	next      timing.Instant // the earliest grace to end, 0 for none
	told      Told
}

// NewJudge begins with nothing known.
func NewJudge(s Spec) *Judge {
	s = s.filled()
	j := &Judge{low: math.NaN(), high: math.NaN()}
	bulbs := 1
	for _, st := range s.Stages {
		bulbs = max(bulbs, st.Bulb+1)
	}
	j.around.bulbs = make([]series, bulbs)
	for i := range s.Stages {
		st := &stage{index: i, spec: &s.Stages[i], around: &j.around}
		st.felt = &j.around.bulbs[st.spec.Bulb]
		st.On.Dial, st.Off.Dial = st.spec.On, st.spec.Off
		j.stages = append(j.stages, st)
	}
	for _, pair := range s.Turns {
		one, other := j.stages[pair[0]], j.stages[pair[1]]
		one.twin, other.twin = other, one
	}
	for d := range s.Drives {
		j.drives = append(j.drives, newDrive(d, &s.Drives[d], &j.around, &j.told))
	}
	for _, d := range j.drives {
		d.join(j.drives)
	}
	for _, d := range j.drives {
		d.hang(j.stages, j.around.bulbs)
	}
	j.arrange(Arrangement{})
	return j
}

// begin starts an event at a moment.
func (j *Judge) begin(at timing.Instant) {
	j.told.Findings, j.told.Switchings = j.told.Findings[:0], j.told.Switchings[:0]
	now := &j.around.now
	at = max(at, *now)
	for j.next != 0 && j.next <= at {
		*now = j.next
		for _, d := range j.drives {
			d.expire()
		}
		j.schedule()
	}
	*now = at
	if j.began == 0 {
		j.began = at
	}
}

// schedule finds the earliest grace to end.
func (j *Judge) schedule() {
	j.next = 0
	for _, d := range j.drives {
		j.next = d.Gates.next(j.next)
	}
}

// settle judges all drives and finds the next grace to end.
func (j *Judge) settle() {
	for _, d := range j.drives {
		d.judge()
	}
	j.schedule()
}

// recall takes what changed in the calls, then judges all drives.
func (j *Judge) recall() {
	for _, d := range j.drives {
		d.recall()
	}
	j.settle()
}

// confirm lets begin what waited for a reading.
func (j *Judge) confirm() {
	for _, d := range j.drives {
		d.confirm()
	}
}

// arrange lets the stages and drives know what is wanted, and who shows whose switch
// points then.
func (j *Judge) arrange(a Arrangement) {
	j.arranged = a
	for i, d := range j.drives {
		d.asked.want = a.want(i)
	}
	for i, s := range j.stages {
		s.acting, s.shown = a.Acts == nil || a.Acts[i], j.shows(s)
	}
	for _, d := range j.drives {
		if d.witness = d.asked.witness(); d.witness != nil && d.witness.shown != d.index {
			d.witness = nil
		}
	}
}

// shows returns the drive whose switchings show where a stage switches, -1 for none: the
// first with evidence that follows; a shutter, slow as it is, only where nothing else does.
func (j *Judge) shows(s *stage) int {
	shutter := -1
	for _, i := range s.spec.Drives {
		switch d := j.drives[i]; {
		case len(d.Evidence) == 0 || d.asked.want.Wish != Follow:
		case d.spec.Kind != IntakeShutter:
			return i
		case shutter < 0:
			shutter = i
		}
	}
	return shutter
}

// Arrange reports what is wanted from at on.
func (j *Judge) Arrange(at timing.Instant, a Arrangement) Told {
	j.begin(at)
	for i, d := range j.drives {
		d.account()
		d.rearrange(a.want(i))
	}
	before := j.arranged
	j.arrange(Arrangement{append([]bool(nil), a.Acts...), append([]Want(nil), a.Wants...)})
	for i, s := range j.stages {
		s.turned(before.Acts == nil || before.Acts[i])
	}
	j.recall()
	return j.told
}

// Feel reports how warm, or humid, it is where a bulb hangs, °C or %; NaN: not known
// any more.
func (j *Judge) Feel(at timing.Instant, bulb int, value float64) Told {
	j.begin(at)
	t := &j.around.bulbs[bulb]
	t.take(j.around.now, value)
	changed := false
	for _, s := range j.stages {
		if s.felt != t {
			continue
		}
		beyond := j.high
		if !s.spec.Mode.Above() {
			beyond = j.low
		}
		if s.feel(beyond) {
			changed = true
		}
	}
	for _, d := range j.drives {
		if d.Gates[NoEffect].On && d.Open.answered(d.spec, d.felt(), j.around.now) {
			d.end(NoEffect)
		}
	}
	if changed {
		j.recall()
	}
	if t.Known {
		j.confirm()
	}
	return j.told
}

// Limits tells beyond which temperatures it is too cold and too warm where the bulb
// hangs, °C; NaN: none. Beyond them no drift of the dial excuses a drive. It is
// not saved: tell it before each Feel.
func (j *Judge) Limits(low, high float64) { j.low, j.high = low, high }

// Outside reports how warm it is outside, °C; NaN: not known any more.
func (j *Judge) Outside(at timing.Instant, celsius float64) Told {
	j.begin(at)
	if j.around.takeOutside(celsius) {
		j.settle()
	}
	return j.told
}

// Evidence tells a reading that shows whether a drive runs, by its index; NaN:
// not known any more.
func (j *Judge) Evidence(at timing.Instant, drive, index int, value float64) Told {
	j.begin(at)
	d := j.drives[drive]
	if d.take(index, value) {
		j.settle()
	}
	if d.Evidence[index].Known {
		j.confirm()
	}
	return j.told
}

// Blind reports that nothing is known any more: a restart, a lost link. What was
// called, running or about to be told is forgotten; verdicts that have begun
// stay until what is seen ends them.
func (j *Judge) Blind(at timing.Instant) Told {
	j.begin(at)
	j.around.forget()
	for _, s := range j.stages {
		s.forget()
	}
	for _, d := range j.drives {
		d.meters.forget()
		d.Draw = drawUnknown
		d.resolve()
	}
	j.recall()
	return j.told
}

// Advance lets time pass.
func (j *Judge) Advance(to timing.Instant) Told {
	j.begin(to)
	return j.told
}

// Test announces that somebody runs a drive by hand until a moment: until its
// Stop after that nothing is said about its running uncalled.
func (j *Judge) Test(at timing.Instant, drive int, until timing.Instant) Told {
	j.begin(at)
	j.drives[drive].test(until)
	j.schedule()
	return j.told
}

// Day reports that a new day begins, by local time: what was counted today
// becomes yesterday's, and NeverRan is judged.
func (j *Judge) Day(at timing.Instant) Told {
	j.begin(at)
	for _, d := range j.drives {
		d.account()
		for d.meters.disbelieve(j.around.now) {
			d.resolve()
			j.settle()
		}
		d.judgeDay()
		d.Yesterday, d.Today = d.Today, Tally{}
		d.FailedToday, d.RanToday = false, d.State == Running
	}
	return j.told
}

// Inferred reports that a drive is thought to have started or stopped, by its
// temperatures and not by evidence, and when: that is noticed later than it happened. It is
// logged; no verdict rests on it.
func (j *Judge) Inferred(at timing.Instant, drive int, runs bool, happened timing.Instant) Told {
	j.begin(at)
	j.drives[drive].inferred(runs, happened)
	return j.told
}

// Uninferred reports that it cannot be inferred any more whether a drive runs: an
// inferred run that goes on is forgotten.
func (j *Judge) Uninferred(at timing.Instant, drive int) Told {
	j.begin(at)
	j.drives[drive].Guessed = openRun{}
	return j.told
}

// Shift moves what was heard of a bulb by so many K, when its probe was found to have
// been off by so much. What is called and what runs stays as it is until the next
// reading.
func (j *Judge) Shift(bulb int, by float64) { j.around.bulbs[bulb].shift(by) }
