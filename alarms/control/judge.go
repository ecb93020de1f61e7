package control

import (
	"math"
	"slices"
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
	spec     Spec
	opens    [][]int // per drive: the drives it must run with
	stagesOf [][]int // per drive: its stages and those of drives it opens for
	twin     []int   // per stage: the one of its other part of the day, -1 for none
	drawer   []int   // per drive: its first current or power, -1 for none
	state    State
	low      float64 // °C, limits of the place, NaN for none
	high     float64
	next     Moment // the earliest grace to end, 0 for none
	findings []Finding
	log      []Switching
}

// NewJudge begins with nothing known. The error says all that is wrong with s.
func NewJudge(s Spec) (*Judge, error) {
	if err := s.Check(); err != nil {
		return nil, err
	}
	j := &Judge{spec: s.filled(), low: math.NaN(), high: math.NaN()}
	n := len(s.Drives)
	j.opens, j.stagesOf, j.drawer = make([][]int, n), make([][]int, n), make([]int, n)
	j.twin = slices.Repeat([]int{-1}, len(s.Stages))
	for _, pair := range s.Turns {
		j.twin[pair[0]], j.twin[pair[1]] = pair[1], pair[0]
	}
	for d := range s.Drives {
		for _, w := range s.Drives[d].With {
			j.opens[w] = append(j.opens[w], d)
		}
	}
	for d := range s.Drives {
		j.drawer[d] = slices.IndexFunc(s.Drives[d].Evidence, func(e EvidenceSpec) bool { return e.What == Current || e.What == Power })
		for i, st := range s.Stages {
			if slices.Contains(st.Drives, d) || slices.ContainsFunc(j.opens[d], func(f int) bool { return slices.Contains(st.Drives, f) }) {
				j.stagesOf[d] = append(j.stagesOf[d], i)
			}
		}
	}
	j.state = newState(s)
	return j, nil
}

// Temperature is Feel of the first bulb.
func (j *Judge) Temperature(at Moment, celsius float64) Told { return j.Feel(at, 0, celsius) }

// Feel tells how warm, or humid, it is where a bulb hangs, °C or %; NaN: not known
// any more.
func (j *Judge) Feel(at Moment, bulb int, value float64) Told {
	now := j.begin(at)
	t := j.felt(bulb)
	t.take(now, value)
	changed := false
	for i := range j.spec.Stages {
		if j.spec.Stages[i].Bulb != bulb {
			continue
		}
		beyond := j.high
		if !j.spec.Stages[i].Mode.Above() {
			beyond = j.low
		}
		if j.state.Stages[i].feel(now, &j.spec.Stages[i], *t, beyond) {
			changed = true
		}
	}
	for d := range j.state.Drives {
		if j.state.Drives[d].Gates[NoEffect].On && j.answered(d) {
			j.end(now, d, NoEffect)
		}
	}
	if changed {
		j.recall(now)
	}
	if t.Known {
		j.confirm(now)
	}
	return j.told()
}

// felt is what is known of a bulb.
func (j *Judge) felt(bulb int) *series {
	if bulb > 0 {
		return &j.state.More[bulb-1]
	}
	return &j.state.Temp
}

// Bulb is the bulb of a stage, for -1 that by which a drive is judged where no
// stage is meant: the first one of its stages that feels a temperature.
func (j *Judge) Bulb(drive, stage int) int {
	if stage >= 0 && stage < len(j.spec.Stages) {
		return j.spec.Stages[stage].Bulb
	}
	of := j.stagesOf[drive]
	for _, i := range of {
		if !j.spec.Stages[i].Mode.Humid() {
			return j.spec.Stages[i].Bulb
		}
	}
	if len(of) == 0 {
		return 0
	}
	return j.spec.Stages[of[0]].Bulb
}

// ranBy is the stage that the run of a drive which goes on was called by, -1 for none.
func (j *Judge) ranBy(d int) int {
	if r := &j.state.Drives[d].Open; r.Started != 0 && r.Call.Stage < len(j.spec.Stages) {
		return r.Call.Stage
	}
	return -1
}

// air is what is felt where the stage hangs that called the run of d.
func (j *Judge) air(d int) *series { return j.felt(j.Bulb(d, j.ranBy(d))) }

// Limits tells beyond which temperatures it is too cold and too warm where the bulb
// hangs, °C; NaN: none. Beyond them no drift of the dial excuses a drive. It is
// not saved: tell it before each Feel.
func (j *Judge) Limits(low, high float64) { j.low, j.high = low, high }

// Outside tells how warm it is outside, °C; NaN: not known any more.
func (j *Judge) Outside(at Moment, celsius float64) Told {
	now := j.begin(at)
	j.state.Outside.take(now, celsius)
	cold := j.state.Cold
	switch o := j.state.Outside; {
	case !o.Known:
		cold = Between
	case o.Value < Frosty:
		cold = Called
	case o.Value >= Frosty+1:
		cold = NotCalled
	}
	if cold != j.state.Cold {
		j.state.Cold = cold
		j.settle(now)
	}
	return j.told()
}

// Evidence tells a reading that shows whether a drive runs, by its index; NaN:
// not known any more.
func (j *Judge) Evidence(at Moment, drive, index int, value float64) Told {
	now := j.begin(at)
	e := &j.state.Drives[drive].Evidence[index]
	said, known := e.Runs, e.Known
	e.take(now, &j.spec.Drives[drive].Evidence[index], value)
	drawn := j.state.Drives[drive].Draw
	if e.Known != known || e.Runs != said {
		j.resolve(now, drive)
	}
	if index == j.drawer[drive] {
		j.draw(now, drive)
	}
	if e.Known != known || e.Runs != said || drawn != j.state.Drives[drive].Draw {
		j.settle(now)
	}
	if e.Known {
		j.confirm(now)
	}
	return j.told()
}

// Blind tells that nothing is known any more: a restart, a lost link. What was
// called, running or about to be told is forgotten; verdicts that have begun
// stay until what is seen ends them.
func (j *Judge) Blind(at Moment) Told {
	now := j.begin(at)
	s := &j.state
	s.Temp, s.Outside, s.Cold = series{}, series{}, Between
	clear(s.More)
	for i := range s.Stages {
		s.Stages[i].forget()
	}
	for d := range s.Drives {
		for i := range s.Drives[d].Evidence {
			s.Drives[d].Evidence[i] = said{Top: s.Drives[d].Evidence[i].Top, Prompt: s.Drives[d].Evidence[i].Prompt}
		}
		s.Drives[d].Draw = drawUnknown
		j.resolve(now, d)
	}
	j.recall(now)
	return j.told()
}

// Advance lets time pass.
func (j *Judge) Advance(to Moment) Told {
	j.begin(to)
	return j.told()
}

// Next returns when the next grace ends, if one runs.
func (j *Judge) Next() (Moment, bool) { return j.next, j.next != 0 }

// begin starts an event and returns its moment.
func (j *Judge) begin(at Moment) Moment {
	j.findings, j.log = j.findings[:0], j.log[:0]
	s := &j.state
	if at < s.Now {
		at = s.Now
	}
	for j.next != 0 && j.next <= at {
		s.Now = j.next
		j.expire(s.Now)
	}
	s.Now = at
	if s.Began == 0 {
		s.Began = at
	}
	return at
}

func (j *Judge) told() Told { return Told{j.findings, j.log} }

// settle judges all drives and finds the next grace to end.
func (j *Judge) settle(now Moment) {
	for d := range j.state.Drives {
		j.judgeDrive(now, d)
	}
	j.schedule()
}
