package control

import (
	"math"
	"time"
)

// Shown is what the evidence shows of a drive.
type Shown uint8

// What is shown.
const (
	Unknown Shown = iota
	Standing
	Running
)

var shownNames = [...]string{"unknown", "standing", "running"}

func (s Shown) String() string {
	if int(s) < len(shownNames) {
		return shownNames[s]
	}
	return "unknown"
}

// A run that was not called and lasts this long is taken as a test by hand.
const (
	HandTestLeast = 30 * time.Second
	HandTestMost  = 10 * time.Minute
)

const (
	backShare = 0.1 // of Above by which a current or power must fall to show standing
	backDuct  = 0.5 // K, the same for a duct
)

// said is the last reading of one evidence.
type said struct {
	Known bool    `json:"known,omitempty"`
	Runs  bool    `json:"runs,omitempty"`
	Value float64 `json:"value,omitempty"`
	When  Moment  `json:"when,omitempty"`
	Top   float64 `json:"top,omitempty"` // the highest value of a speed or position

	Gap time.Duration `json:"gap,omitempty"` // since the reading before
	// Prompt says that its last change was heard well before its time: it is sent
	// on change too.
	Prompt bool `json:"prompt,omitempty"`
}

func (e *said) take(now Moment, spec *EvidenceSpec, v float64) {
	if !finite(v) {
		*e = said{Top: e.Top, Prompt: e.Prompt}
		return
	}
	if spec.What == Moving {
		e.Top = max(e.Top, v)
	}
	back := 0.0 // a deadband, so that noise at Above makes no starts
	switch spec.What {
	case Current, Power, Moving:
		back = backShare * spec.Above
	case Duct:
		back = backDuct
	}
	edge := spec.Above
	switch {
	case e.Runs && spec.Inverted:
		edge += back
	case e.Runs:
		edge -= back
	}
	gap, runs, prompt := time.Duration(0), (v >= edge) != spec.Inverted, e.Prompt
	if e.Known {
		gap = now.Since(e.When)
		if runs != e.Runs {
			prompt = gap < spec.Every/2
		}
	}
	*e = said{Known: true, Runs: runs, Value: v, When: now, Top: e.Top, Gap: gap, Prompt: prompt}
}

// calledLately is how long after the dial was passed a start can still be its
// answer, unless it was told to be late.
const calledLately = 30 * time.Minute

// openRun is the run that goes on.
type openRun struct {
	Since     Moment  `json:"since,omitempty"`   // known to run since
	Started   Moment  `json:"started,omitempty"` // 0: not seen
	Call      call    `json:"call"`
	Temp      float64 `json:"temp,omitempty"`
	TempKnown bool    `json:"tempKnown,omitempty"`
	Before    float64 `json:"before,omitempty"` // °C, median of the readings at the start
	Lift      float64 `json:"lift,omitempty"`   // K, by which that was above outside
	LiftKnown bool    `json:"liftKnown,omitempty"`
	Wish      Wish    `json:"wish,omitempty"`
	Uncalled  bool    `json:"uncalled,omitempty"` // began while not called, and was not called since
	Asked     bool    `json:"asked,omitempty"`    // barred, and the dial asked for it
	Mistaken  bool    `json:"mistaken,omitempty"` // began while not called
	Test      bool    `json:"test,omitempty"`     // announced
	Spoilt    bool    `json:"spoilt,omitempty"`   // a verdict fell on it
	Late      bool    `json:"late,omitempty"`     // it was told that it had not started
	Checked   bool    `json:"checked,omitempty"`  // its effect was looked for
	Leapt     bool    `json:"leapt,omitempty"`    // the wall clock was set in it

	Blur time.Duration `json:"blur,omitempty"` // by which its start may have been seen late
}

// driveState is what is known of a drive.
type driveState struct {
	Evidence    []said      `json:"evidence,omitempty"`
	State       Shown       `json:"state,omitempty"`
	Source      int         `json:"source"` // index of the evidence that says State
	Call        Call        `json:"call,omitempty"`
	Fell        bool        `json:"fell,omitempty"` // in its last run it did at least half of what the dial asks
	RanInCall   bool        `json:"ranInCall,omitempty"`
	Missed      call        `json:"missed"` // the call of DidNotStart
	Open        openRun     `json:"open,omitzero"`
	Gates       [Kinds]gate `json:"gates"`
	Starts      []Moment    `json:"starts,omitempty"` // of the last hour
	Draw        draw        `json:"draw,omitempty"`
	DrawFrom    float64     `json:"drawFrom,omitempty"` // °C when it began to draw otherwise
	Usual       usual       `json:"usual,omitzero"`
	Turns       turns       `json:"turns,omitzero"`
	Timer       lead        `json:"timer,omitzero"`
	TestUntil   Moment      `json:"testUntil,omitempty"`
	Counted     Moment      `json:"counted,omitempty"` // up to which time is accounted
	Today       Tally       `json:"today,omitzero"`
	Yesterday   Tally       `json:"yesterday,omitzero"`
	Total       Tally       `json:"total,omitzero"`
	FailedToday bool        `json:"failedToday,omitempty"`
	RanToday    bool        `json:"ranToday,omitempty"`
	Proof       Moment      `json:"proof,omitempty"`     // of the last right switching
	HandProof   Moment      `json:"handProof,omitempty"` // of the last test by hand
	Guessed     openRun     `json:"guessed,omitzero"`    // an inferred run that goes on
	GuessProof  Moment      `json:"guessProof,omitempty"`
}

// resolve takes from the evidence, in order of trust, what a drive does. A run
// that begins or ends because other evidence had to speak was not seen to.
func (j *Judge) resolve(now Moment, d int) {
	ds := &j.state.Drives[d]
	state, source := Unknown, -1
	for i := range ds.Evidence {
		if e := &ds.Evidence[i]; e.Known {
			state, source = Standing, i
			if e.Runs {
				state = Running
			}
			break
		}
	}
	seen := source == ds.Source && ds.State != Unknown
	ds.Source = source
	if state == ds.State {
		return
	}
	j.account(now, d)
	before := ds.State
	ds.State = state
	if before == Running {
		j.stopped(now, d, seen && state == Standing)
	}
	if state == Running {
		j.started(now, d, seen)
	}
	ds.Draw = drawUnknown
}

// disbelieve forgets what says that d runs, and has not been heard for a day,
// where nothing says how often it should be: a meter that died while the fan ran
// would show it running for ever. That something stands is believed on: of a dead
// meter as of a dead fan somebody then hears.
func (j *Judge) disbelieve(now Moment, d int) {
	ds := &j.state.Drives[d]
	for i := range ds.Evidence {
		if e := &ds.Evidence[i]; e.Known && e.Runs && j.spec.Drives[d].Evidence[i].Every == 0 && now.Since(e.When) > day {
			e.take(now, &j.spec.Drives[d].Evidence[i], math.NaN())
			j.resolve(now, d)
			j.settle(now)
		}
	}
}

// started begins a run.
func (j *Judge) started(now Moment, d int, seen bool) {
	ds := &j.state.Drives[d]
	ds.Open = openRun{Since: now, Call: call{Stage: -1}, Wish: j.want(d).Wish, Test: now <= ds.TestUntil && ds.TestUntil != 0}
	ds.RanToday = true
	if ds.Call == Called {
		ds.RanInCall = true
	}
	if !seen {
		return
	}
	r := &ds.Open
	r.Started = now
	r.Blur = ds.blur()
	r.Uncalled = ds.Call == NotCalled && !j.soonOn(now, d)
	r.Mistaken = r.Uncalled
	r.Spoilt = ds.Gates[DidNotStart].On
	r.Late = r.Spoilt
	r.Call = j.lastCall(d)
	r.Temp, r.TempKnown = j.air(d).at(now)
	r.Before = j.before(now, d)
	if out, ok := j.state.Outside.at(now); ok {
		r.Lift, r.LiftKnown = r.Before-out, true
	}
	ds.Today.Starts++
	ds.Total.Starts++
	j.startDrift(d)
	ds.Turns.start(now)
	j.cycled(now, d)
}

// stopped ends the run and writes its line of the log.
func (j *Judge) stopped(now Moment, d int, seen bool) {
	ds := &j.state.Drives[d]
	r := ds.Open
	line := r.line(d, r.by(now, seen))
	if seen {
		line.Stopped = now
		line.StoppedTemp, line.StopKnown = j.air(d).at(now)
		if i := j.witness(d); i >= 0 && line.StopKnown {
			j.state.Stages[i].switchedOff(&j.spec.Stages[i], line.StoppedTemp)
		}
		ds.Fell = line.StopKnown && r.TempKnown && j.worked(d, r.Temp-line.StoppedTemp)
		j.stopDrift(d, line)
		ds.Turns.stop(now)
	} else {
		ds.Turns = turns{}
	}
	line.Right = line.By == ByThermostat && seen && r.TempKnown && line.StopKnown && !r.Spoilt && ds.Call != Called
	if seen && j.judgeTimer(now, d, line) {
		line.Right = true
	}
	j.prove(now, d, line)
	j.log = append(j.log, line)
	ds.Open = openRun{}
}

// line is the line of the log about a run that has not stopped.
func (r openRun) line(d int, by By) Switching {
	l := Switching{Drive: d, Stage: r.Call.Stage, By: by, Called: r.Call.Called, CalledTemp: r.Call.CalledT,
		Ran: r.Started, RanTemp: r.Temp, RanTempKnown: r.TempKnown}
	if l.Called != 0 && l.Ran != 0 {
		l.RanAfter = l.Ran.Since(l.Called)
	}
	if l.RanAfter > calledLately && !r.Late { // the dial was passed long before: not of this start
		l.Called, l.CalledTemp, l.RanAfter = 0, 0, 0
	}
	return l
}

// by says who made a run.
func (r openRun) by(now Moment, seen bool) By {
	switch length := now.Since(r.Started); {
	case r.Started == 0:
		return ByNobody
	case r.Test:
		return ByTest
	case r.Asked:
		return ByNobody
	case r.Mistaken && seen && length >= HandTestLeast && length <= HandTestMost:
		return ByHand
	case r.Wish == Rest, r.Wish == Barred, r.Mistaken:
		return ByMistake
	case r.Wish == Run, r.Wish == ByTurns, r.Wish == ByHours:
		return ByWish
	case r.Wish == Follow:
		return ByThermostat
	}
	return ByNobody
}

// missed writes a line for a call in which nothing ran.
func (j *Judge) missed(d int) {
	m := j.state.Drives[d].Missed
	j.log = append(j.log, Switching{Drive: d, Stage: m.Stage, By: ByThermostat, Missed: true, Called: m.Called, CalledTemp: m.CalledT})
}

// call is when and how warm the dial was passed.
type call struct {
	Stage   int     `json:"stage"`
	Called  Moment  `json:"called,omitempty"`
	CalledT float64 `json:"calledT,omitempty"`
}

// lastCall is the call of a drive as the dial has it, stage -1 for none.
func (j *Judge) lastCall(d int) call {
	c := call{Stage: -1}
	if w := j.want(d); w.Wish == ByHours && w.Hours.On {
		c.Called = w.Hours.Since
	}
	if j.want(d).Wish != Follow {
		return c
	}
	if c.Stage = j.stageFor(d); c.Stage >= 0 {
		if st := &j.state.Stages[c.Stage]; st.Passed != 0 {
			c.Called, c.CalledT = st.Passed, st.PassedTemp
		}
	}
	return c
}

// account adds up the time since it was last done. It must be called before a
// state or call changes.
func (j *Judge) account(now Moment, d int) {
	ds := &j.state.Drives[d]
	j.addUp(now, d, &ds.Today)
	j.addUp(now, d, &ds.Total)
	ds.Counted = now
}

// addUp adds to t what has not been accounted yet; it changes nothing else.
func (j *Judge) addUp(now Moment, d int, t *Tally) {
	ds := &j.state.Drives[d]
	if ds.Counted == 0 {
		return
	}
	passed := now.Since(ds.Counted)
	if ds.State == Running {
		t.Ran += passed
	}
	blindFor := len(ds.Evidence) > 0 && ds.State == Unknown
	if ds.Call == Called && j.want(d).Wish == Follow && !blindFor {
		t.CalledFor += passed
	}
}
