package control

// finding gathers what a sentence about a verdict needs.
func (j *Judge) finding(due Moment, d int, kind FindingKind, on bool, since Moment) Finding {
	ds, s := &j.state.Drives[d], &j.state
	f := Finding{Kind: kind, On: on, Due: due, Since: since, Drive: d, Other: -1, Evidence: -1,
		OtherStage: -1, Outside: s.Outside.Value, OutKnown: s.Outside.Known,
		Stands: ds.State == Standing && ds.Call == Called}
	c := j.lastCall(d)
	if ds.Open.Started != 0 {
		c = ds.Open.Call
	}
	f.Stage, f.Called, f.CalledTemp = c.Stage, c.Called, c.CalledT
	f.Timer = j.want(d).Wish == ByHours
	if kind == DidNotStart {
		f.Stage, f.Called, f.CalledTemp = ds.Missed.Stage, ds.Missed.Called, ds.Missed.CalledT
	}
	t := j.felt(j.Bulb(d, f.Stage))
	f.Temp, f.TempKnown, f.TempAt = t.Value, t.Known, t.last()
	switch kind {
	case TimerOff:
		f.Value, f.Called = ds.Timer.Late.Minutes(), ds.Timer.Due
	case RanAlone:
		f.Other = j.firstIn(j.spec.Drives[d].With, Standing)
	case RanTogether:
		if f.Other = j.firstIn(j.spec.Drives[d].Without, Running); f.Other >= 0 && j.state.Drives[f.Other].Call == Called {
			f.OtherStage = j.lastCall(f.Other).Stage
		}
	case NoEffect, SeasonUnfit:
		f.Value, f.Limit = t.Value, ds.Open.Before
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

// ReadAt returns when the last reading of a bulb came, 0 for never.
func (j *Judge) ReadAt(bulb int) Moment { return j.felt(bulb).last() }

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
