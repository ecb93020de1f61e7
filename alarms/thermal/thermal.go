// Package thermal learns what one house is like from its own readings, and says
// how long its air has until a limit if a drive fails now.
//
// The model is a grey box of three nodes, the air, light things such as plants and
// cover, and the mass of beds, walls and water, with a probe that follows the air:
//
//	dA/dt = b (L - A) + a (M - A) + (l + v fan) (O - A) + s light cloud + h heater + p loop (G - A)
//	dL/dt = b q (A - L) + n light cloud
//	dM/dt = a r (A - M) + m light cloud
//	dP/dt = (A - P) / lag
//
// with P what the probe reads, O the air outside, light that of a clear sky (1 at
// 1 kW/m²), cloud the part of it that comes through, and G what the ground loop draws
// towards. What stands before each is estimated on line, together with P, A, L, M,
// cloud and, where there is no probe, O, by an extended Kalman filter (Jazwinski 1970, Stochastic Processes and
// Filtering Theory, chapter 8) in logarithms, within physical bounds. Only rates can
// be seen in temperatures: watts, square metres and true air changes cannot.
//
// A filter that fits the wrong equations does not know how wrong it is. So whenever
// a drive stops, and from time to time while it stands, the model says what will
// come if it goes on standing, and is held against what came: the intervals are
// quantiles of those errors, by how far ahead was looked. Where a drive was not seen
// running and standing often enough, nothing is said.
//
// A House is deterministic, looks at the past alone, is of a fixed size, and
// allocates nothing after New but when it is saved or its figures are asked for.
// Saved and brought back at any point it goes on as if nothing had happened.
//
// What it says is a guess for plants: not for people or animals, and no leave to stay
// away from a drive that has failed.
package thermal

import (
	"math"
	"time"
)

// Drive is what warms or cools a house.
type Drive uint8

// Drives that the model knows.
const (
	ExhaustFan Drive = iota
	LoopFan
	Heater
	drives
)

// In is what is known of a house at a moment.
type In struct {
	At      time.Time // of the core
	Wall    time.Time // on the wall, for the sun
	Air     float64   // °C, of the house
	Outside float64   // °C; NaN where it is not known
	// Share of its full power at which each drive ran since the last Step, 0 to 1;
	// NaN where it is not known. A drive that a house does not have stands.
	Drives [drives]float64
}

const (
	soonest = 20.0    // s between two steps
	longest = 25 * 60 // s over which a step may go; more is a gap
	stride  = 150.0   // s, the longest at once
	stale   = 15 * 60 // s after which the last reading is not now any more
	usually = 1800.0  // s over which it is seen at what share a drive runs
	enough  = 2000    // h, more are not counted

	firstAbove = 3.0  // K, of a house over outside where nothing else is known
	coldTime   = 12.0 // h of the loop's fan over which it is learned how cold it is then
	roughTime  = 6.0  // h over which it is learned how far the model is off from step to step
	brightTime = 20.0 // h of sun over which the brightest is
	stands     = 0.05 // share of its power under which a drive stands
	runs       = 0.5  // and over which it runs
	bright     = 0.25 // light from which a standing fan tells of the sun
)

// House is what is known of one house. Begin with New.
type House struct {
	latitude, longitude float64
	f                   filter
	day, inside         dayCurve        // usual courses of the air outside, and of the house's
	at, wall, heard     int64           // Unix s, of the last step; of the last reading of outside, by the core
	share               [drives]float64 // at which each drive ran since the step before
	usual               [drives]float64 // the same, over the last half hour
	sun                 float64         // light, at the last step
	brightest           float32         // cloud that only a quarter of the sunny time surpasses
	learned             float32         // h
	cold                float32         // °C, of the air while the loop's fan ran, of late
	today               today
	ran, stood          [drives]float32 // h in which a drive ran; in which it stood when that tells something
	stops               [drives]float32 // after which a drive stood long enough to learn from
	trials              [drives]trial
	errors              [drives][marks]spread
}

// New begins with nothing heard, at a latitude and longitude in degrees, north and
// east positive. Both zero stand for a place that is not known: 45° north, where the
// sun is highest at noon of the clock.
func New(latitude, longitude float64) *House {
	if latitude == 0 && longitude == 0 {
		latitude = 45
	}
	h := &House{latitude: latitude, longitude: longitude, brightest: 1}
	h.f.empty()
	h.day.empty()
	for d := range h.errors {
		for i := range h.errors[d] {
			h.errors[d][i].empty()
		}
	}
	return h
}

// Step takes what is known now; it is asked once a minute, or with every reading
// where these are further apart. What is no number, or not after the last step,
// changes nothing.
func (h *House) Step(in In) {
	now, wall := in.At.Unix(), in.Wall.Unix()
	passed := float64(now - h.at)
	if !(math.Abs(in.Air) < 100) || h.at != 0 && passed < soonest {
		return
	}
	if !(math.Abs(in.Outside) < 100) {
		in.Outside = math.NaN()
	}
	known := true
	for _, share := range in.Drives {
		known = known && share >= 0 && share <= 1 // not NaN
	}
	if h.at == 0 || passed > longest || !known {
		h.begin(in, wall)
		return
	}
	last := was{h.f.node(), h.at, h.wall, h.sun, h.share}
	h.share = in.Drives
	for d, share := range in.Drives {
		h.usual[d] += (share - h.usual[d]) * (1 - math.Exp(-passed/usually))
	}
	h.follow(in, wall, passed)
	h.at, h.wall = now, wall
	h.count(passed / 3600)
	for d := range drives {
		h.try(d, &last, in.Air)
	}
}

// begin starts with a reading, at first or where the last minutes were not heard: what
// was learned stays, the air is as it reads, and how warm the mass is becomes unsure.
func (h *House) begin(in In, wall int64) {
	f := &h.f
	var p square
	f.open(&p)
	first := h.learned == 0
	h.at, h.wall, h.share, h.usual = in.At.Unix(), wall, [drives]float64{}, [drives]float64{}
	for d, share := range in.Drives {
		if share >= 0 && share <= 1 {
			h.share[d], h.usual[d] = share, share
		}
		h.trials[d].on = false
	}
	h.sun = h.light(wall)
	read := !math.IsNaN(in.Outside)
	if first {
		h.day.mean += in.Air - firstAbove - h.curve(wall)
		h.inside.mean = in.Air
		if read {
			h.day.mean += in.Outside - h.curve(wall)
		}
		f.x[massNode], f.x[lightNode] = in.Air, in.Air
	}
	for i := range moving {
		for k := range states {
			p[i][k], p[k][i] = 0, 0
		}
		p[i][i] = bounds[i].spread * bounds[i].spread
	}
	p[probeNode][probeNode] = readingVar
	f.x[probeNode], f.x[airNode], f.x[lightNode], f.x[cloud], f.x[outside] = in.Air, in.Air, in.Air, float64(f.usual), h.curve(wall)
	if read {
		f.x[outside], p[outside][outside] = in.Outside, outsideVar
	}
	f.keep(&p)
}

// follow goes on to the reading, and learns from it.
func (h *House) follow(in In, wall int64, passed float64) {
	f := &h.f
	var p square
	f.open(&p)
	steps := math.Ceil(passed / stride)
	hours, from, began := passed/3600/steps, h.curve(h.wall), h.wall
	for i := 1.0; i <= steps; i++ {
		then := began + int64(float64(wall-began)*i/steps)
		light, to := h.light(then), h.curve(then)
		f.predict(&p, hours, (h.sun+light)/2, &h.share, from, to)
		h.sun, from = light, to
	}
	read := !math.IsNaN(in.Outside)
	if read {
		h.heard = in.At.Unix()
		f.hear(&p, outside, in.Outside, outsideVar)
	}
	off := f.hear(&p, probeNode, in.Air, readingVar)
	f.keep(&p)
	hours = passed / 3600
	f.rough = float32(min(max(float64(f.rough)*math.Exp((min(off*off, 9)-1)*hours/roughTime), 0.05), 50))
	h.day.learn(h.phase(wall), f.x[outside], hours, read)
	h.inside.learn(h.phase(wall), in.Air, hours, true)
	if h.sun > bright {
		f.usual += float32((f.x[cloud] - float64(f.usual)) * hours / cloudUsual)
		h.brightest += float32(hours / brightTime * (0.75 - yes(f.x[cloud] < float64(h.brightest))))
	}
}

// count notes what was seen of the drives.
func (h *House) count(hours float64) {
	note := func(sum *float32) { *sum = min(*sum+float32(hours), enough) }
	note(&h.learned)
	if h.share[LoopFan] >= runs {
		h.cold += (float32(h.f.x[airNode]) - h.cold) * float32(max(hours/coldTime, yes(h.ran[LoopFan] == 0)))
	}
	note(&h.today.heard)
	for d := range drives {
		switch {
		case h.share[d] >= runs:
			note(&h.ran[d])
			note(&h.today.ran[d])
		case h.share[d] <= stands && h.tells(d):
			note(&h.stood[d])
			note(&h.today.stood[d])
		}
	}
}

// tells reports whether it tells something now that a drive stands: the exhaust fan in
// the sun, what warms by night.
func (h *House) tells(d Drive) bool {
	if d == ExhaustFan {
		return h.sun > bright
	}
	return h.sun == 0
}

func yes(b bool) float64 {
	if b {
		return 1
	}
	return 0
}
