package control

import (
	"math"
	"time"
)

// draw says what a running drive draws.
type draw uint8

const (
	drawUnknown draw = iota // it stands, or the inrush
	drawUsual
	drawAside // between usual and unusual
	drawMore
	drawLess
)

// Learning and judging of the draw (common practice, no source): motors differ
// by less than a third from run to run, a locked rotor draws several times as
// much, a missing load a third to a half less. A fan with several speeds draws
// as differently as that; what tells them apart is whether it does its work.
const (
	inrush     = 10 * time.Second
	drawLow    = 0.7
	drawHigh   = 1.3
	drawBack   = 0.05 // of the limit, deadband
	drawNoise  = 4.0  // standard deviations that are usual in any case
	samples    = 30   // learned from
	sampleStep = 30 * time.Second
	levels     = 4   // of several speeds, learned
	heldShare  = 2.5 // of the highest level, from which a motor of one speed is held
	partly     = 0.8 // of the highest speed, or draw, below which a fan runs at a part of it
)

// usual learns what a drive draws while it runs, from its first readings, and
// then stays: a slow change must not pass for usual.
type usual struct {
	Samples []float64 `json:"samples,omitempty"`
	Last    Moment    `json:"last,omitempty"`
	Level   float64   `json:"level,omitempty"` // 0: not learned yet
	Spread  float64   `json:"spread,omitempty"`
	Others  []float64 `json:"others,omitempty"` // at other speeds, at which it did its work
}

func (u *usual) learn(now Moment, v float64) {
	if u.Level != 0 || u.Last != 0 && now.Since(u.Last) < sampleStep {
		return
	}
	u.Samples, u.Last = append(u.Samples, v), now
	if len(u.Samples) < samples {
		return
	}
	v2 := append([]float64(nil), u.Samples...)
	u.Level = medianOf(v2)
	u.Spread = spreadOf(v2, u.Level)
}

// drawLimits are what a running drive usually draws at least and at most, 0
// where nothing is known.
func (j *Judge) drawLimits(d int) (low, high float64) {
	e, u := &j.spec.Drives[d].Evidence[j.drawer[d]], &j.state.Drives[d].Usual
	if e.UsualLow != 0 || e.UsualHigh != 0 || u.Level == 0 {
		return e.UsualLow, e.UsualHigh
	}
	noise := drawNoise * u.Spread
	low, high = math.Min(drawLow*u.Level, u.Level-noise), math.Max(drawHigh*u.Level, u.Level+noise)
	for _, v := range u.Others {
		low, high = math.Min(low, drawLow*v), math.Max(high, drawHigh*v)
	}
	return low, high
}

// draw takes a reading of what d draws.
func (j *Judge) draw(now Moment, d int) {
	ds := &j.state.Drives[d]
	e := ds.Evidence[j.drawer[d]]
	if !e.Known || !e.Runs || ds.State != Running || now.Since(ds.Open.Since) < inrush {
		ds.Draw = drawUnknown
		return
	}
	_, moves := j.moves(d)
	low, high := 0.0, j.spec.Drives[d].Evidence[j.drawer[d]].UsualHigh
	switch {
	case !moves:
		ds.Usual.learn(now, e.Value)
		low, high = j.drawLimits(d)
	case high == 0:
		ds.Draw = drawUnknown // it draws as fast as it runs
		return
	}
	was := ds.Draw
	ds.Draw = drawn(e.Value, low, high)
	if ds.Draw != was && (ds.Draw == drawMore || ds.Draw == drawLess) {
		ds.DrawFrom, _ = j.air(d).median(now, 3)
	}
}

// drawn holds what is drawn against what usually is.
func drawn(v, low, high float64) draw {
	switch {
	case high != 0 && v > high:
		return drawMore
	case v < low:
		return drawLess
	case high != 0 && v > high*(1-drawBack), v < low*(1+drawBack):
		return drawAside
	}
	return drawUsual
}

// Relearn forgets what a drive usually draws: its motor was changed.
func (j *Judge) Relearn(at Moment, drive int) Told {
	now := j.begin(at)
	j.state.Drives[drive].Usual = usual{}
	for _, k := range [...]FindingKind{DrawsMore, DrawsLess} {
		if j.state.Drives[drive].Gates[k].On {
			j.end(now, drive, k)
		}
	}
	j.state.Drives[drive].Draw = drawUnknown
	j.settle(now)
	return j.told()
}
