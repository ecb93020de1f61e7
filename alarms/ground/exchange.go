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

// Leaving returns the temperature in °C at which air leaves a pipe of an
// effectiveness.
func Leaving(entering, ground, effectiveness float64) float64 {
	return entering + effectiveness*(ground-entering)
}
