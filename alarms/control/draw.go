package control

import (
	"math"
	"slices"
	"time"

	"telltale/alarms/timing"
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
	drawsFor   = time.Minute
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
	Samples []float64      `json:"samples,omitempty"`
	Last    timing.Instant `json:"last,omitempty"`
	Level   float64        `json:"level,omitempty"` // 0: not learned yet
	Spread  float64        `json:"spread,omitempty"`
	Others  []float64      `json:"others,omitempty"` // at other speeds, at which it did its work
}

func (u *usual) learn(now timing.Instant, v float64) {
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

// speed learns what it draws at another speed, if there is room for one more.
func (u *usual) speed(v float64) bool {
	if u.Level == 0 || len(u.Others) >= levels {
		return false
	}
	u.Others = append(u.Others, v)
	return true
}

// drawState is what a drive draws now, and usually.
type drawState struct {
	Draw     draw    `json:"draw,omitempty"`
	DrawFrom float64 `json:"drawFrom,omitempty"` // °C when it began to draw otherwise
	Usual    usual   `json:"usual,omitzero"`
}

// drawing judges what a drive draws, by its first current or power.
type drawing struct {
	*drawState
	index int // of that evidence, -1 for none
	spec  *EvidenceSpec
}

// bounded reports whether it was told what is usual.
func (g *drawing) bounded() bool { return g.spec.UsualLow != 0 || g.spec.UsualHigh != 0 }

// limits are what a running drive usually draws at least and at most, 0
// where nothing is known.
func (g *drawing) limits() (low, high float64) {
	u := &g.Usual
	if g.bounded() || u.Level == 0 {
		return g.spec.UsualLow, g.spec.UsualHigh
	}
	noise := drawNoise * u.Spread
	low, high = math.Min(drawLow*u.Level, u.Level-noise), math.Max(drawHigh*u.Level, u.Level+noise)
	for _, v := range u.Others {
		low, high = math.Min(low, drawLow*v), math.Max(high, drawHigh*v)
	}
	return low, high
}

// take takes a reading of a drive that runs, and whether a speed shows beside it, and
// reports whether it draws otherwise from now on.
func (g *drawing) take(now timing.Instant, v float64, moves bool) bool {
	low, high := 0.0, g.spec.UsualHigh
	switch {
	case !moves:
		g.Usual.learn(now, v)
		low, high = g.limits()
	case high == 0:
		g.Draw = drawUnknown // it draws as fast as it runs
		return false
	}
	was := g.Draw
	g.Draw = drawn(v, low, high)
	return g.Draw != was && (g.Draw == drawMore || g.Draw == drawLess)
}

// held reports whether it draws as much as a held rotor.
func (g *drawing) held(v float64) bool {
	_, high := g.limits()
	return !(v < heldShare/drawHigh*high)
}

// part reports whether v is drawn at a part of the speeds that were learned.
func (g *drawing) part(v float64) bool {
	return len(g.Usual.Others) > 0 && v < partly*max(g.Usual.Level, slices.Max(g.Usual.Others))
}

// signs are what it draws in signs. Where it may be another speed as well, what is
// unusual is none.
func (g *drawing) signs(v float64, speeds bool) Sign {
	_, high := g.limits()
	switch {
	case g.Draw == drawUsual:
		return DrawsUsually
	case speeds:
	case g.Draw == drawMore && v > farOver*high:
		return DrawsTooMuch | DrawsFar
	case g.Draw == drawMore:
		return DrawsTooMuch
	case g.Draw == drawLess:
		return DrawsTooLittle
	}
	return 0
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
