package control

import "telltale/alarms/timing"

// take takes a reading of one of its evidences and reports whether all must be judged
// again.
func (d *drive) take(index int, value float64) bool {
	drawn := d.Draw
	changed := d.meters.take(d.around.now, index, value)
	if changed {
		d.resolve()
	}
	if index == d.drawn.index {
		d.draw()
	}
	return changed || d.Draw != drawn
}

// draw judges what it draws.
func (d *drive) draw() {
	now := d.around.now
	e, known := d.draws()
	if !known || !e.Runs || d.State != Running || now.Since(d.Open.Since) < inrush {
		d.Draw = drawUnknown
		return
	}
	_, moves := d.meters.moves()
	if d.drawn.take(now, e.Value, moves) {
		d.DrawFrom, _ = d.felt().median(now, 3)
	}
}

// resolve takes from the evidence what it does. A run that begins or ends because other
// evidence had to speak was not seen to.
func (d *drive) resolve() {
	state, seen := d.meters.read()
	if state == d.State {
		return
	}
	d.account()
	before := d.State
	d.State = state
	if before == Running {
		d.stopped(seen && state == Standing)
	}
	if state == Running {
		d.started(seen)
	}
	d.Draw = drawUnknown
}

// started begins a run.
func (d *drive) started(seen bool) {
	now := d.around.now
	d.Open = openRun{Since: now, Call: call{Stage: -1}, Wish: d.asked.want.Wish, Test: now <= d.TestUntil && d.TestUntil != 0}
	d.RanToday = true
	if d.Call == Called {
		d.RanInCall = true
	}
	if !seen {
		return
	}
	r := &d.Open
	r.Started, r.Blur, r.Call = now, d.meters.blur(), d.asked.last()
	r.Uncalled = d.Call == NotCalled && !d.Timer.soonOn(now, &d.asked.want)
	r.Mistaken = r.Uncalled
	r.Spoilt = d.Gates[DidNotStart].On
	r.Late = r.Spoilt
	t := d.felt()
	r.Temp, r.TempKnown = t.at(now)
	// The warmest reading of then, the coldest for a heater: where it is read seldom a
	// median lags behind.
	r.Before, _ = t.mildest(now, 3, !d.spec.lifts())
	if out, ok := d.around.outside.at(now); ok {
		r.Lift, r.LiftKnown = r.Before-out, true
	}
	d.Today.Starts++
	d.Total.Starts++
	cooled := d.Gates[StoppedEarly].Since != 0 && !d.Fell // not by the dial: a motor that cooled down
	if d.witness != nil && r.TempKnown && !r.Test && !cooled {
		d.switched(DriftedOn, r.Temp)
	}
	d.Turns.start(now)
	d.judgeStart()
}

// stopped ends the run and writes its line of the log.
func (d *drive) stopped(seen bool) {
	now, r := d.around.now, &d.Open
	line := r.line(d.index, r.by(now, seen))
	if seen {
		line.Stopped = now
		line.StoppedTemp, line.StopKnown = d.felt().at(now)
		if d.witness != nil && line.StopKnown {
			d.witness.switchedOff(line.StoppedTemp)
		}
		d.Fell = line.StopKnown && r.TempKnown && d.witness != nil && d.witness.half(r.Temp-line.StoppedTemp)
		if d.witness != nil && line.StopKnown && line.By != ByTest && line.By != ByHand && line.Ran != 0 {
			d.switched(DriftedOff, line.StoppedTemp)
		}
		d.Turns.stop(now)
	} else {
		d.Turns = turns{}
	}
	line.Right = line.By == ByThermostat && seen && r.TempKnown && line.StopKnown && !r.Spoilt && d.Call != Called
	if seen && d.judgeTimer(&line) {
		line.Right = true
	}
	d.record.prove(now, &line)
	d.log(line)
	d.Open = openRun{}
}

// recall takes what changed in its call.
func (d *drive) recall() {
	c := d.asked.call()
	if d.seldom() && d.asked.doubtful(d.around.now) {
		d.Gates.doubt()
	}
	if c == d.Call {
		return
	}
	d.account()
	d.Call = c
	if c == Called {
		d.RanInCall = d.State == Running
	}
	if c != NotCalled {
		d.Open.Uncalled = false
	}
	if c == NotCalled && d.Gates[DidNotStart].On && !d.RanInCall {
		m := &d.Missed
		d.log(Switching{Drive: d.index, Stage: m.Stage, By: ByThermostat, Missed: true, Called: m.Called, CalledTemp: m.CalledT})
	}
}

// rearrange lets what is wanted of it be another from now on.
func (d *drive) rearrange(want Want) {
	was := d.asked.want
	d.asked.want = want
	later := want.Wish == ByHours && was.Wish == ByHours && want.Hours.Ahead == was.Hours.Ahead // in the day of one timer
	if was == want || later {
		return
	}
	d.Open.Spoilt, d.Open.Leapt = true, true // what ends it may not be the dial, and no timer
	d.Gates.rearm()
	d.Turns = turns{}
}

// test announces that somebody runs it by hand until a moment.
func (d *drive) test(until timing.Instant) {
	d.TestUntil = max(until, d.around.now)
	if d.State == Running && d.Open.Started != 0 && d.Open.Uncalled {
		d.Open.Test = true
	}
	for k := range d.Gates {
		if g := &d.Gates[k]; g.Due != 0 && !g.On {
			g.Due = d.excused(FindingKind(k), g.Due)
		}
	}
}

// inferred logs that it is thought to have started or stopped.
func (d *drive) inferred(runs bool, happened timing.Instant) {
	happened = min(happened, d.around.now)
	g := &d.Guessed
	switch {
	case runs && g.Since == 0:
		*g = openRun{Since: d.around.now, Started: happened, Call: d.asked.last()}
		if g.Call.Called > happened {
			g.Call.Called, g.Call.CalledT = 0, 0
		}
		g.Temp, g.TempKnown = d.near(happened)
	case !runs && g.Since != 0:
		line := g.line(d.index, ByNobody)
		line.Stopped, line.Inferred = max(happened, g.Started), true
		line.StoppedTemp, line.StopKnown = d.near(happened)
		d.log(line)
		*g = openRun{}
	}
}
