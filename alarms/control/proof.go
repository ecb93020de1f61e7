package control

import "time"

// calledLeast is how long a drive must have been called on a day, in total,
// that NeverRan can be said.
const calledLeast = 30 * time.Minute

// Tally counts what a drive did.
type Tally struct {
	Starts    int           `json:"starts,omitempty"`    // seen
	Ran       time.Duration `json:"ran,omitempty"`       // seen running
	CalledFor time.Duration `json:"calledFor,omitempty"` // for certain, while it could be seen
	Right     int           `json:"right,omitempty"`     // complete switchings as they should be
	First     Moment        `json:"first,omitempty"`     // start of the first of them
	FirstTemp float64       `json:"firstTemp,omitempty"` // °C at it
	ByHand    int           `json:"byHand,omitempty"`    // tests
	Wrong     int           `json:"wrong,omitempty"`     // runs not called, barred or off
	Guessed   int           `json:"guessed,omitempty"`   // inferred runs
}

// Proof is what speaks for a drive.
type Proof struct {
	State            Shown
	Call             Call
	Wish             Wish
	Since            Moment // it runs since, if it does
	Today, Yesterday Tally
	Total            Tally
	Last             Moment  // it last did what it should; 0: never seen to
	LastByHand       Moment  // last test by hand; 0: never
	LastGuessed      Moment  // last inferred run; 0: never
	Usual            float64 // A or W, as learned; 0: not yet
}

// Proof tells what speaks for a drive, up to the last event. Asking changes
// nothing.
func (j *Judge) Proof(drive int) Proof {
	now := j.state.Now
	ds := &j.state.Drives[drive]
	p := Proof{State: ds.State, Call: ds.Call, Wish: j.want(drive).Wish, Since: ds.Open.Since, Today: ds.Today, Yesterday: ds.Yesterday,
		Total: ds.Total, Last: ds.Proof, LastByHand: ds.HandProof, LastGuessed: ds.GuessProof, Usual: ds.Usual.Level}
	j.addUp(now, drive, &p.Today)
	j.addUp(now, drive, &p.Total)
	if ds.State == Running && (p.Wish == Run || p.Wish == ByTurns || p.Wish == ByHours && ds.Call == Called) {
		p.Last = now
	}
	return p
}

// Unproven reports whether a drive has not been seen to do what it should, nor
// been tested by hand, within the last so long, and since when: the last time
// it was, or when the Judge began. It is no verdict: it may have had no
// occasion. A drive that nothing is wanted of is not unproven.
func (j *Judge) Unproven(drive int, within time.Duration) (since Moment, unproven bool) {
	p := j.Proof(drive)
	since = max(p.Last, p.LastByHand)
	if since == 0 {
		since = j.state.Began
	}
	wanted := p.Wish == Follow || p.Wish == Run || p.Wish == ByTurns || p.Wish == ByHours
	return since, wanted && since != 0 && j.state.Now.Since(since) >= within
}

// prove counts a run.
func (j *Judge) prove(now Moment, d int, line Switching) {
	ds := &j.state.Drives[d]
	switch {
	case line.Right:
		if ds.Today.Right == 0 {
			ds.Today.First, ds.Today.FirstTemp = line.Ran, line.RanTemp
		}
		ds.Today.Right++
		ds.Total.Right++
		ds.Proof = now
	case line.By == ByTest, line.By == ByHand:
		ds.Today.ByHand++
		ds.Total.ByHand++
		ds.HandProof = now
	case line.By == ByMistake:
		ds.Today.Wrong++
		ds.Total.Wrong++
	case line.By == ByWish:
		ds.Proof = now
	}
}

// Test announces that somebody runs a drive by hand until a moment: until its
// Stop after that nothing is said about its running uncalled.
func (j *Judge) Test(at Moment, drive int, until Moment) Told {
	now := j.begin(at)
	ds := &j.state.Drives[drive]
	ds.TestUntil = max(until, now)
	if ds.State == Running && ds.Open.Started != 0 && ds.Open.Uncalled {
		ds.Open.Test = true
	}
	for k := range ds.Gates {
		if g := &ds.Gates[k]; g.Due != 0 && !g.On {
			g.Due = j.excused(drive, FindingKind(k), g.Due)
		}
	}
	j.schedule()
	return j.told()
}

// Day tells that a new day begins, by local time: what was counted today
// becomes yesterday's, and NeverRan is judged.
func (j *Judge) Day(at Moment) Told {
	now := j.begin(at)
	for d := range j.state.Drives {
		ds := &j.state.Drives[d]
		j.account(now, d)
		j.disbelieve(now, d)
		if ds.Today.CalledFor >= calledLeast && !ds.RanToday && !ds.FailedToday && !ds.Gates[NeverRan].On &&
			!ds.Gates[DidNotStart].On && j.want(d).Wish == Follow && len(ds.Evidence) > 0 {
			j.raise(now, d, NeverRan)
		}
		j.idleTimer(now, d)
		if ds.Gates[SeasonUnfit].On && !ds.RanToday {
			j.end(now, d, SeasonUnfit)
		}
		ds.Yesterday, ds.Today = ds.Today, Tally{}
		ds.FailedToday, ds.RanToday = false, ds.State == Running
	}
	return j.told()
}

// Inferred tells that a drive is thought to have started or stopped, by Sense
// and not by evidence, and when: Sense notices it later than it happened. It is
// counted and logged; no verdict rests on it.
func (j *Judge) Inferred(at Moment, drive int, runs bool, happened Moment) Told {
	now := j.begin(at)
	happened = min(happened, now)
	ds := &j.state.Drives[drive]
	g := &ds.Guessed
	switch {
	case runs && g.Since == 0:
		*g = openRun{Since: now, Started: happened, Call: j.lastCall(drive)}
		if g.Call.Called > happened {
			g.Call.Called, g.Call.CalledT = 0, 0
		}
		g.Temp, g.TempKnown = j.around(drive, happened)
		ds.GuessProof = now
		ds.Today.Guessed++
		ds.Total.Guessed++
	case !runs && g.Since != 0:
		line := g.line(drive, ByNobody)
		line.Stopped, line.Inferred = max(happened, g.Started), true
		line.StoppedTemp, line.StopKnown = j.around(drive, happened)
		j.log = append(j.log, line)
		*g = openRun{}
	}
	return j.told()
}

// Uninferred tells that it cannot be inferred any more whether a drive runs: an
// inferred run that goes on is forgotten.
func (j *Judge) Uninferred(at Moment, drive int) Told {
	j.begin(at)
	j.state.Drives[drive].Guessed = openRun{}
	return j.told()
}

// around returns the reading next to a moment, of those that are kept, if it is
// fresh.
func (j *Judge) around(d int, happened Moment) (celsius float64, known bool) {
	t, nearest := j.felt(j.Bulb(d, -1)), fresh
	for i := range t.N {
		if off := max(happened-t.When[i], t.When[i]-happened).Since(0); off <= nearest {
			celsius, known, nearest = t.Last[i], true, off
		}
	}
	return celsius, known
}
