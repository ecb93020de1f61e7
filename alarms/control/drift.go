package control

import (
	"math"
)

const (
	driftMost   = 20 // cycles looked at
	driftLeast  = 6
	driftErrors = 2.0 // standard errors
	driftBack   = 0.8 // of the tolerance, to end
	medianError = 1.2533
	resolution  = 0.1 // K; a spread is never taken smaller
	lateApart   = 1.0 // K, of two late switchings that are a drift
	slackLeast  = 0.5 // K by which it may switch on beyond that
)

// drift is one switch point as found: the temperatures at which a drive was
// seen to start, or stop.
type drift struct {
	Told   bool      `json:"told,omitempty"`
	Since  Moment    `json:"since,omitempty"`
	Dial   float64   `json:"dial"`
	Found  float64   `json:"found,omitempty"` // °C, the median
	Temps  []float64 `json:"temps,omitempty"`
	Latest []float64 `json:"latest,omitempty"` // °C, of the last two: the most that the air had by then
}

// Point is a switch point as it was found.
type Point struct {
	Median float64 // °C
	Spread float64 // K, standard deviation about the median
	Error  float64 // K, standard error of the median
	Count  int     // cycles; 0: none
}

func (f *drift) point() Point {
	n := len(f.Temps)
	if n == 0 {
		return Point{}
	}
	var buf [driftMost]float64
	v := buf[:copy(buf[:], f.Temps)]
	m := medianOf(v)
	sd := math.Max(resolution, spreadOf(v, m))
	return Point{m, sd, medianError * sd / math.Sqrt(float64(n)), n}
}

// found is where it switches as far as that is told, else the dial.
func (f *drift) found() float64 {
	if f.Told {
		return f.Found
	}
	return f.Dial
}

// still is up to where it may switch on, by where it was found to: beyond that it
// fails. sign is 1 where that is warmer, -1 where it is colder.
func (f *drift) still(sign float64) float64 {
	far := sign * f.found()
	for _, v := range f.Latest {
		far = math.Max(far, sign*v)
	}
	return far + math.Max(slackLeast, 2*f.point().Spread)
}

// late reports whether the last two switchings are beyond the dial by more than so
// much, above it or below by sign, and about the same.
func (f *drift) late(tolerance, sign float64) bool {
	n := len(f.Temps)
	if n < 2 {
		return false
	}
	a, b := f.Temps[n-2], f.Temps[n-1]
	return sign*(a-f.Dial) > tolerance && sign*(b-f.Dial) > tolerance && math.Abs(a-b) <= lateApart
}

// right reports whether the last two switchings are near the dial again.
func (f *drift) right(tolerance float64) bool {
	n := len(f.Temps)
	return n >= 2 && math.Abs(f.Temps[n-1]-f.Dial) <= driftBack*tolerance && math.Abs(f.Temps[n-2]-f.Dial) <= driftBack*tolerance
}

// lastTwo forgets all but the last two: the dial stands otherwise since.
func (f *drift) lastTwo() {
	f.Temps = append(f.Temps[:0], f.Temps[len(f.Temps)-2:]...)
}

func (f *drift) take(temp float64) {
	if len(f.Temps) == driftMost {
		copy(f.Temps, f.Temps[1:])
		f.Temps = f.Temps[:driftMost-1]
	}
	f.Temps = append(f.Temps, temp)
}

// Points returns where a stage switches on and off, by what was seen of the
// last 20 cycles.
func (j *Judge) Points(stage int) (on, off Point) {
	s := &j.state.Stages[stage]
	return s.On.point(), s.Off.point()
}

// witness returns the stage whose switch points a drive shows, -1 for none, as for
// one that feels humidity, of which too little is known: the acting stage that
// drives it, of several of one mode the one that switches it on first and off last,
// and of its drives the first with evidence that follows; a shutter, slow as it is,
// only where nothing else does.
func (j *Judge) witness(d int) int {
	found := -1
	for _, i := range j.stagesOf[d] {
		st := &j.spec.Stages[i]
		switch {
		case !j.acts(i):
		case found < 0:
			found = i
		case st.Mode != j.spec.Stages[found].Mode, j.twin[i] == found:
			return -1
		case (st.On < j.spec.Stages[found].On) == (st.Mode == Cooling):
			found = i
		}
	}
	if found < 0 || j.spec.Stages[found].Mode.Humid() || j.firstWitness(found) != d {
		return -1
	}
	return found
}

func (j *Judge) firstWitness(stage int) int {
	shutter := -1
	for _, d := range j.spec.Stages[stage].Drives {
		if len(j.spec.Drives[d].Evidence) == 0 || j.want(d).Wish != Follow {
			continue
		}
		if j.spec.Drives[d].Kind != IntakeShutter {
			return d
		}
		if shutter < 0 {
			shutter = d
		}
	}
	return shutter
}

func (j *Judge) startDrift(d int) {
	r := &j.state.Drives[d].Open
	ds := &j.state.Drives[d]
	again := ds.Gates[StoppedEarly].Since != 0 && !ds.Fell // not by the dial: a motor that cooled down
	if i := j.witness(d); i >= 0 && r.TempKnown && !r.Test && !again {
		j.drifted(d, i, DriftedOn, r.Temp)
	}
}

func (j *Judge) stopDrift(d int, line Switching) {
	if i := j.witness(d); i >= 0 && line.StopKnown && line.By != ByTest && line.By != ByHand && line.Ran != 0 {
		j.drifted(d, i, DriftedOff, line.StoppedTemp)
	}
}

// worked reports whether a run of d that took so many kelvin off the temperature
// did half of what the stage that d is a witness of asks for.
func (j *Judge) worked(d int, fell float64) bool {
	i := j.witness(d)
	if i < 0 {
		return false
	}
	asked := j.spec.Stages[i].On - j.spec.Stages[i].Off // negative when heating
	return math.Abs(fell) >= math.Abs(asked)/2 && (fell > 0) == (asked > 0)
}

func (s *stageState) drift(kind FindingKind) *drift {
	if kind == DriftedOff {
		return &s.Off
	}
	return &s.On
}

// drifted adds a switching to a switch point and judges it. The thermostat
// felt something between what its bulb would have and what the probe has; of
// that the dial is given what is nearest to it.
func (j *Judge) drifted(d, stage int, kind FindingKind, temp float64) {
	s, tolerance, late := &j.state.Stages[stage], j.spec.Stages[stage].Tolerance, 1.0
	if !j.spec.Stages[stage].Mode.Above() {
		late = -1
	}
	f := s.drift(kind)
	latest := late * max(late*temp, late*s.Bulb)
	temp = min(max(f.Dial, min(temp, s.Bulb)), max(temp, s.Bulb))
	near := j.felt(j.spec.Stages[stage].Bulb).follows(j.state.Now, tolerance/2) && !j.blurred(d, dense)
	if !near && !(kind == DriftedOn && late*(temp-f.Dial) > tolerance) {
		return // the last readings say too little of the moment at which it switched, but that it was later than that
	}
	f.take(temp)
	two := f.late(tolerance, late) && (kind == DriftedOn || j.state.Drives[d].Fell)
	f.Latest = append(f.Latest[max(0, len(f.Latest)-1):len(f.Latest):len(f.Latest)], latest)
	switch {
	case !f.Told && two, f.Told && f.right(tolerance):
		f.lastTwo()
	}
	p := f.point()
	f.Found = p.Median
	off := math.Abs(p.Median - f.Dial)
	switch {
	case !f.Told && off > tolerance && (p.Count >= driftLeast && off > driftErrors*p.Error || two):
		f.Told, f.Since = true, j.state.Now
		j.findings = append(j.findings, j.driftFinding(d, stage, kind, true))
	case f.Told && off <= driftBack*tolerance:
		j.findings = append(j.findings, j.driftFinding(d, stage, kind, false))
		f.Told, f.Since = false, 0
	}
}

func (j *Judge) driftFinding(d, stage int, kind FindingKind, on bool) Finding {
	f := j.state.Stages[stage].drift(kind)
	p, t := f.point(), j.felt(j.spec.Stages[stage].Bulb)
	return Finding{Kind: kind, On: on, Due: j.state.Now, Since: f.Since, Drive: -1, Stage: stage, Other: d, Evidence: -1,
		Temp: t.Value, TempKnown: t.Known, Outside: j.state.Outside.Value, OutKnown: j.state.Outside.Known,
		Value: p.Median, Limit: f.Dial, Spread: p.Spread, Count: p.Count}
}
