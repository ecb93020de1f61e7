package model

import (
	"time"

	"telltale/alarms"
)

const (
	powerOnValue = 85.0   // °C, register of a digital 1-wire thermometer before its first conversion
	lostValue    = -127.0 // °C, what a much-used driver gives for a thermometer not found
	lowBattery   = 9.0    // %
	clockError   = 26 * time.Hour
)

// sickened is what a probe's faults make of a value.
func (p *probe) sickened(v float64, s Sense, seed uint64, has func(Fault) bool) float64 {
	sick := func(k Kind) bool { return has(Fault{Kind: k, Probe: p.ID}) }
	jump := 0.0
	if sick(ProbeSpikes) && random(seed, 98, p.sent) > 0.6 {
		jump = 15
	}
	switch s.Quantity {
	case alarms.Temperature, alarms.Soil:
		switch {
		case sick(ProbeLost):
			return lostValue
		case p.fresh && p.Kind == alarms.KindOneWire, sick(ProbePowerOn):
			return powerOnValue
		}
		return v + jump
	case alarms.Humidity:
		if sick(ProbeWet) {
			return 100
		}
		return v - 3*jump
	case alarms.Battery:
		if sick(ProbeBatteryLow) {
			return lowBattery
		}
	}
	return v
}

// message writes the payload that is due at a moment.
func (s *Sim) message(p *probe, at time.Time) []byte {
	values := p.measure(s.seed, s.has)
	if s.has(Fault{Kind: ProbeClockWrong, Probe: p.ID}) {
		at = at.Add(clockError)
	}
	text := p.payload(values, at)
	if s.has(Fault{Kind: ProbeGarbled, Probe: p.ID}) {
		text = append(text[:len(text)/2], '?')
	}
	return text
}
