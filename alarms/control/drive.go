package control

import "time"

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
}

func (e *said) take(now Moment, spec *EvidenceSpec, v float64) {
	if !finite(v) {
		*e = said{}
		return
	}
	back := 0.0 // a deadband, so that noise at Above makes no starts
	switch spec.What {
	case Current, Power:
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
	*e = said{Known: true, Runs: (v >= edge) != spec.Inverted, Value: v, When: now}
}

// openRun is the run that goes on.
type openRun struct {
	Since     Moment  `json:"since,omitempty"`   // known to run since
	Started   Moment  `json:"started,omitempty"` // 0: not seen
	Call      call    `json:"call"`
	Temp      float64 `json:"temp,omitempty"`
	TempKnown bool    `json:"tempKnown,omitempty"`
	Before    float64 `json:"before,omitempty"` // °C, median of the readings at the start
	Wish      Wish    `json:"wish,omitempty"`
	Uncalled  bool    `json:"uncalled,omitempty"` // began while not called, and was not called since
	Mistaken  bool    `json:"mistaken,omitempty"` // began while not called
	Test      bool    `json:"test,omitempty"`     // announced
	Spoilt    bool    `json:"spoilt,omitempty"`   // a verdict fell on it
	Checked   bool    `json:"checked,omitempty"`  // its effect was looked for
}

// driveState is what is known of a drive.
type driveState struct {
	Evidence    []said           `json:"evidence,omitempty"`
	State       Shown            `json:"state,omitempty"`
	Source      int              `json:"source"` // index of the evidence that says State
	Call        Call             `json:"call,omitempty"`
	RanInCall   bool             `json:"ranInCall,omitempty"`
	Missed      call             `json:"missed"` // the call of DidNotStart
	Open        openRun          `json:"open,omitzero"`
	Gates       [driveKinds]gate `json:"gates"`
	Starts      []Moment         `json:"starts,omitempty"` // of the last hour
	Draw        draw             `json:"draw,omitempty"`
	Usual       usual            `json:"usual,omitzero"`
	Turns       turns            `json:"turns,omitzero"`
	TestUntil   Moment           `json:"testUntil,omitempty"`
	Counted     Moment           `json:"counted,omitempty"` // up to which time is accounted
	Today       Tally            `json:"today,omitzero"`
	Yesterday   Tally            `json:"yesterday,omitzero"`
	Total       Tally            `json:"total,omitzero"`
	FailedToday bool             `json:"failedToday,omitempty"`
	RanToday    bool             `json:"ranToday,omitempty"`
	Proof       Moment           `json:"proof,omitempty"`     // of the last right switching
	HandProof   Moment           `json:"handProof,omitempty"` // of the last test by hand
	Guessed     openRun          `json:"guessed,omitzero"`    // an inferred run that goes on
	GuessProof  Moment           `json:"guessProof,omitempty"`
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
	r.Uncalled = ds.Call == NotCalled
	r.Mistaken = r.Uncalled
	r.Spoilt = ds.Gates[DidNotStart].On
	r.Temp, r.TempKnown = j.state.Temp.at(now)
	r.Before, _ = j.state.Temp.median(now, 3)
	r.Call = j.lastCall(d)
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
		line.StoppedTemp, line.StopKnown = j.state.Temp.at(now)
		j.stopDrift(d, line)
		ds.Turns.stop(now)
	} else {
		ds.Turns = turns{}
	}
	line.Right = line.By == ByThermostat && seen && r.TempKnown && line.StopKnown && !r.Spoilt && ds.Call != Called
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
	return l
}

// by says who made a run.
func (r openRun) by(now Moment, seen bool) By {
	switch length := now.Since(r.Started); {
	case r.Started == 0:
		return ByNobody
	case r.Test:
		return ByTest
	case r.Mistaken && seen && length >= HandTestLeast && length <= HandTestMost:
		return ByHand
	case r.Wish == Rest, r.Wish == Barred, r.Mistaken:
		return ByMistake
	case r.Wish == Run, r.Wish == ByTurns:
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
