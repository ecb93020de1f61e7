package thermal

import (
	"math"
	"slices"
)

// Kind of a figure.
type Kind uint8

// Figures that can be seen in temperatures. How many air changes leak through a house
// without its fan cannot be told from what goes through its glass: both are Loss.
const (
	Warming  Kind = iota // K/h, in the first quarter of an hour of full sun, no drive running
	Loss                 // K/h for each kelvin over outside, in the first half hour of the dark, likewise
	Exchange             // 1/h, more of it while the exhaust fan runs: air changes, if air alone had to be cooled
	LoopHeat             // K/h of the ground loop, in the first quarter of an hour, the house as cold as when it last ran
	Heating              // K/h of the heater, in the first quarter of an hour
	kinds
)

// Figure is what a house was found to be like.
type Figure struct {
	Kind     Kind
	Value    float64
	From, To float64 // nine in ten lie between
	// unsure is what of that is not known of these equations yet, as a standard deviation
	// of its logarithm. The rest is that they are not those of the house, which stays so.
	unsure float64
}

const (
	fullSun  = 0.8   // light, of a sun half up the sky
	apart    = 10.0  // K, of the trials of figures
	nudge    = 0.02  // of a logarithm
	nineTen  = 1.645 // standard deviations
	honestly = 2.0   // times what the filter thinks that it does not know
	shortly  = 0.25  // h
	least    = 0.01  // K/h or 1/h, of a figure
	sunless  = 1.0   // K/h: a house that full sun warms less than that is not under this sun
)

// needs says which drive must have been seen for a figure.
var needs = [kinds]struct {
	of    Drive
	drive bool
}{Exchange: {ExhaustFan, true}, LoopHeat: {LoopFan, true}, Heating: {Heater, true}}

// misfit is what comes to that, as standard deviations of a logarithm, from equations
// that are not those of the house: found on simulated houses of another structure.
var misfit = [kinds]float64{Warming: 0.35, Loss: 0.3, Exchange: 0.45, LoopHeat: 0.9, Heating: 0.2}

// Figures are what the house is like, as far as that is known.
func (h *House) Figures() []Figure {
	if h.learned < days || h.astray() {
		return nil
	}
	var all []Figure
	var p square
	h.f.open(&p)
	for kind := range kinds {
		need := needs[kind]
		if need.drive && (h.ran[need.of] < hours || h.stood[need.of] < hours) || kind == Warming && h.stood[ExhaustFan] < hours {
			continue
		}
		v := h.figure(&h.f, kind)
		if v < least || kind == Warming && v < sunless { // it brings nothing
			continue
		}
		f := h.f
		var slope [states]float64
		for i := moving; i < states; i++ {
			f.x[i] += nudge
			slope[i] = math.Log(max(h.figure(&f, kind), least/2)/v) / nudge
			f.x[i] = h.f.x[i]
		}
		sum := 0.0
		for i := moving; i < states; i++ {
			for k := moving; k < states; k++ {
				sum += slope[i] * slope[k] * p[i][k]
			}
		}
		own := math.Sqrt(max(sum, 0))
		by := math.Exp(nineTen * math.Hypot(misfit[kind], honestly*own))
		all = append(all, Figure{kind, v, v / by, v * by, own})
	}
	return all
}

// figure tries a figure on the equations, as one could on the house with a thermometer.
func (h *House) figure(f *filter, kind Kind) float64 {
	r := f.rates()
	at := func(n node, hours, sun float64, share [drives]float64) node {
		for passed := 0.0; passed < hours-1e-9; passed += hours / 15 {
			n = r.move(n, hours/15, sun, &share)
		}
		return n
	}
	even := node{cloud: float64(h.brightest)}
	switch kind {
	case Warming:
		return at(even, shortly, fullSun, [drives]float64{}).probe / shortly
	case Loss:
		warm := node{probe: apart, air: apart, light: apart, mass: apart}
		return (apart - at(warm, 2*shortly, 0, [drives]float64{}).probe) / (2 * shortly) / apart
	case Exchange:
		return r.vent
	case LoopHeat:
		v := float64(h.cold)
		cold := node{probe: v, air: v, light: v, mass: v, outside: v}
		return (at(cold, shortly, 0, [drives]float64{LoopFan: 1}).probe - v) / shortly
	default:
		return at(even, shortly, 0, [drives]float64{Heater: 1}).probe / shortly
	}
}

// today is what was seen since a day was last taken.
type today struct {
	heard      float32         // h
	ran, stood [drives]float32 // h, as those of House
}

const (
	sure    = 0.2 // of a logarithm
	halfDay = 12  // h that a day must have been heard
	seldom  = 0.5 // h that a drive must have run on it
	briefly = 0.3 // h that it must have stood, when that tells something
)

// worse is by how much at least, as a logarithm, a figure must get worse for that to be
// a drift; negative where it is worse when it gets less. What the ground loop brings is
// not held against anything: its soil tires, and what it draws towards is learned with
// it, so that half of it could be lost unseen.
var worse = [kinds]float64{Warming: -0.5, Loss: 0.3, Exchange: -0.3, Heating: -0.3}

// Worse is by how much at least, as a logarithm, k must get worse for that to be a
// drift; negative where it is worse when it gets less, 0 where that is not looked for.
func (k Kind) Worse() float64 { return worse[k] }

// shows reports whether a day showed anew what a figure is.
func (t *today) shows(kind Kind) bool {
	need := needs[kind]
	switch {
	case t.heard < halfDay:
		return false
	case kind == Warming:
		return t.stood[ExhaustFan] >= hours
	}
	return !need.drive || t.ran[need.of] >= seldom && (need.of != ExhaustFan || t.stood[need.of] >= briefly)
}

// Day are those figures that were seen anew since it was last asked, and are known well
// enough to tell one day from another.
func (h *House) Day() []Figure {
	all := slices.DeleteFunc(h.Figures(), func(f Figure) bool { return f.unsure > sure || !h.today.shows(f.Kind) })
	h.today = today{}
	return all
}
