package ground

import "math"

// closest is the least difference in K between the entering air and the ground
// from which an effectiveness is taken: nearer, the error of two probes of
// half a kelvin each would be the result.
const closest = 3.0

// Effectiveness returns which share of the difference between entering air and
// ground a pipe gives to the air: 1 where it leaves at the temperature of the
// ground, 0 where it leaves as it came. ok is false where they differ by less
// than 3 K. A share below 0 or above 1 is returned as it is: it says that a
// probe or the assumed ground is wrong.
func Effectiveness(entering, leaving, ground float64) (share float64, ok bool) {
	if d := entering - ground; math.Abs(d) >= closest && !math.IsNaN(leaving) {
		return (entering - leaving) / d, true
	}
	return 0, false
}

// Units returns the number of transfer units of an effectiveness: for air that
// meets a wall at one temperature, 1 - exp(-NTU) = effectiveness (Kays and
// London, Compact Heat Exchangers, 3rd ed. 1984). NaN outside of 0 to below 1.
func Units(effectiveness float64) float64 {
	if !(effectiveness >= 0 && effectiveness < 1) {
		return math.NaN()
	}
	return -math.Log1p(-effectiveness)
}

// Share returns the effectiveness of a number of transfer units.
func Share(units float64) float64 { return -math.Expm1(-units) }

// Conductance returns W/K between air and ground from the number of transfer
// units and the dry air flow in kg/s.
func Conductance(units, dryFlow float64) float64 { return units * dryFlow * 1006 }

// Leaving returns the temperature in °C at which air leaves a pipe of an
// effectiveness.
func Leaving(entering, ground, effectiveness float64) float64 {
	return entering + effectiveness*(ground-entering)
}

// Reached is the inverse of Leaving: the ground temperature that a pipe of an
// effectiveness must have met. NaN for an effectiveness below 0.2, where the
// outlet says too little about the ground.
func Reached(entering, leaving, effectiveness float64) float64 {
	if !(effectiveness >= 0.2 && effectiveness <= 1) {
		return math.NaN()
	}
	return entering + (leaving-entering)/effectiveness
}
