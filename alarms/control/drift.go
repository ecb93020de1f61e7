package control

import (
	"math"
	"slices"
)

const (
	driftMost   = 20 // cycles looked at
	driftLeast  = 6
	driftErrors = 2.0 // standard errors
	driftBack   = 0.8 // of the tolerance, to end
	medianError = 1.2533
	resolution  = 0.1 // K; a spread is never taken smaller
)

// drift is one switch point as found: the temperatures at which a drive was
// seen to start, or stop.
type drift struct {
	Told  bool      `json:"told,omitempty"`
	Since Moment    `json:"since,omitempty"`
	Dial  float64   `json:"dial"`
	Found float64   `json:"found,omitempty"` // °C, the median
	Temps []float64 `json:"temps,omitempty"`
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

// witness returns the stage whose switch points a drive shows, -1 for none: the
// one acting stage that drives it, and of its drives the first with evidence
// that follows; a shutter, slow as it is, only where nothing else does.
func (j *Judge) witness(d int) int {
	found := -1
	for i := range j.spec.Stages {
		if !j.acts(i) || !slices.Contains(j.spec.Stages[i].Drives, d) {
			continue
		}
		if found >= 0 {
			return -1
		}
		found = i
	}
	if found < 0 || j.firstWitness(found) != d {
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
	if i := j.witness(d); i >= 0 && r.TempKnown && !r.Test {
		j.drifted(d, i, DriftedOn, r.Temp)
	}
}

func (j *Judge) stopDrift(d int, line Switching) {
	if i := j.witness(d); i >= 0 && line.StopKnown && line.By != ByTest && line.By != ByHand && line.Ran != 0 {
		j.drifted(d, i, DriftedOff, line.StoppedTemp)
	}
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
	s, tolerance := &j.state.Stages[stage], j.spec.Stages[stage].Tolerance
	if !j.state.Temp.follows(j.state.Now, tolerance/2) {
		return // the last reading says too little of this moment
	}
	f := s.drift(kind)
	f.take(min(max(f.Dial, min(temp, s.Bulb)), max(temp, s.Bulb)))
	p := f.point()
	f.Found = p.Median
	off := math.Abs(p.Median - f.Dial)
	switch {
	case !f.Told && p.Count >= driftLeast && off > tolerance && off > driftErrors*p.Error:
		f.Told, f.Since = true, j.state.Now
		j.findings = append(j.findings, j.driftFinding(d, stage, kind, true))
	case f.Told && off <= driftBack*tolerance:
		j.findings = append(j.findings, j.driftFinding(d, stage, kind, false))
		f.Told, f.Since = false, 0
	}
}

func (j *Judge) driftFinding(d, stage int, kind FindingKind, on bool) Finding {
	f := j.state.Stages[stage].drift(kind)
	p := f.point()
	return Finding{Kind: kind, On: on, Due: j.state.Now, Since: f.Since, Drive: -1, Stage: stage, Other: d, Evidence: -1,
		Temp: j.state.Temp.Value, TempKnown: j.state.Temp.Known, Outside: j.state.Outside.Value, OutKnown: j.state.Outside.Known,
		Value: p.Median, Limit: f.Dial, Spread: p.Spread, Count: p.Count}
}
