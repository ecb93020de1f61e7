package control

// finding gathers what a sentence about a verdict needs.
func (j *Judge) finding(due Moment, d int, kind FindingKind, on bool, since Moment) Finding {
	ds, s := &j.state.Drives[d], &j.state
	f := Finding{Kind: kind, On: on, Due: due, Since: since, Drive: d, Other: -1, Evidence: -1,
		Temp: s.Temp.Value, TempKnown: s.Temp.Known, Outside: s.Outside.Value, OutKnown: s.Outside.Known}
	c := j.lastCall(d)
	if ds.Open.Started != 0 {
		c = ds.Open.Call
	}
	f.Stage, f.Called, f.CalledTemp = c.Stage, c.Called, c.CalledT
	switch kind {
	case DidNotStart:
		f.Stage, f.Called, f.CalledTemp = ds.Missed.Stage, ds.Missed.Called, ds.Missed.CalledT
	case RanAlone:
		f.Other = j.firstIn(j.spec.Drives[d].With, Standing)
	case RanTogether:
		f.Other = j.firstIn(j.spec.Drives[d].Without, Running)
	case NoEffect:
		f.Value, f.Limit = s.Temp.Value, ds.Open.Before
	case Contradiction:
		f.Evidence = ds.contradicts()
	case DrawsMore, DrawsLess:
		f.Evidence = j.drawer[d]
		low, high := j.drawLimits(d)
		f.Value, f.Limit, f.Count = ds.Evidence[f.Evidence].Value, high, len(ds.Usual.Samples)
		if kind == DrawsLess {
			f.Limit = low
		}
	case ShortCycling:
		f.Count, f.Limit = len(ds.Starts), float64(j.mostStarts(d))
		f.Value = float64(f.Count)
	case TurnsWrong:
		f.Value, f.Limit, f.Count = ds.Turns.share(), j.wantedShare(d), ds.Turns.N
	case NeverRan:
		f.Value, f.Limit = ds.Today.CalledFor.Minutes(), calledLeast.Minutes()
	}
	return f
}

// Holding returns every verdict that has begun and not ended, in the order of
// drives and kinds, drifts last, as of the last event.
func (j *Judge) Holding() []Finding {
	var on []Finding
	for d := range j.state.Drives {
		for k := range j.state.Drives[d].Gates {
			if g := j.state.Drives[d].Gates[k]; g.On {
				on = append(on, j.finding(j.state.Now, d, FindingKind(k), true, g.Since))
			}
		}
	}
	for i := range j.state.Stages {
		for _, k := range [...]FindingKind{DriftedOn, DriftedOff} {
			if f := j.state.Stages[i].drift(k); f.Told {
				on = append(on, j.driftFinding(j.firstWitness(i), i, k, true))
			}
		}
	}
	return on
}

// OpenRun returns the line of the log of the run that goes on, if one does.
func (j *Judge) OpenRun(drive int) (Switching, bool) {
	ds := &j.state.Drives[drive]
	if ds.State != Running {
		return Switching{}, false
	}
	return ds.Open.line(drive, ds.Open.by(j.state.Now, false)), true
}
