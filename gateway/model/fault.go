package model

import (
	"cmp"
	"fmt"
	"slices"

	"telltale/alarms"
)

// Kind is what can go wrong.
type Kind string

// Kinds of fault and what of a Fault they need.
const (
	FanDead            Kind = "fan-dead"             // House
	FanStuckOn         Kind = "fan-stuck-on"         // House: its relay has welded; the shutter still moves
	DialDrifted        Kind = "dial-drifted"         // House: the cooling thermostat switches 3 K too warm
	ShutterStuckClosed Kind = "shutter-stuck-closed" // House
	ShutterStuckOpen   Kind = "shutter-stuck-open"   // House
	LoopFanDead        Kind = "loop-fan-dead"        // House
	HeaterDead         Kind = "heater-dead"          // House
	BreakerTripped     Kind = "breaker-tripped"      // House and Circuit: its probes and drives die
	ProbeSilent        Kind = "probe-silent"         // Probe
	ProbeStuck         Kind = "probe-stuck"          // Probe: repeats what it said last
	ProbeWet           Kind = "probe-wet"            // Probe: humidity at 100 %
	ProbePowerOn       Kind = "probe-power-on"       // Probe: 85.0 °C, the register before a conversion
	ProbeLost          Kind = "probe-lost"           // Probe: -127 °C, what a bus gives for a thermometer not found
	ProbeSpikes        Kind = "probe-spikes"         // Probe: one reading in five jumps by 15 K or 45 %
	ProbeGarbled       Kind = "probe-garbled"        // Probe: payloads are cut short
	ProbeClockWrong    Kind = "probe-clock-wrong"    // Probe: its clock is a day and two hours ahead
	ProbeBatteryLow    Kind = "probe-battery-low"    // Probe: 9 % left
	BrokerGone         Kind = "broker-gone"          // nothing: no message arrives
)

// Fault is one thing that is wrong.
type Fault struct {
	Kind    Kind
	House   alarms.HouseID
	Circuit alarms.CircuitID
	Probe   alarms.ProbeID
}

func (f Fault) String() string {
	s := string(f.Kind)
	for _, part := range []string{string(f.House), string(f.Circuit), string(f.Probe)} {
		if part != "" {
			s += " " + part
		}
	}
	return s
}

func compareFaults(a, b Fault) int { return cmp.Compare(a.String(), b.String()) }

// Switch lets a fault begin or end now. It is an error to name a house,
// circuit or probe that is not there, or none where one is needed.
func (s *Sim) Switch(f Fault, on bool) error {
	if err := s.checkFault(f); err != nil {
		return err
	}
	i, found := slices.BinarySearchFunc(s.faults, f, compareFaults)
	switch {
	case on && !found:
		s.faults = slices.Insert(s.faults, i, f)
	case !on && found:
		s.faults = slices.Delete(s.faults, i, i+1)
	}
	return nil
}

// Faults returns what is wrong now, sorted.
func (s *Sim) Faults() []Fault { return slices.Clone(s.faults) }

// BrokerUp reports whether messages get through.
func (s *Sim) BrokerUp() bool { return !s.has(Fault{Kind: BrokerGone}) }

func (s *Sim) has(f Fault) bool {
	_, found := slices.BinarySearchFunc(s.faults, f, compareFaults)
	return found
}

func (s *Sim) checkFault(f Fault) error {
	switch f.Kind {
	case FanDead, FanStuckOn, DialDrifted, ShutterStuckClosed, ShutterStuckOpen, LoopFanDead, HeaterDead:
		if s.houseNamed(f.House) == nil {
			return fmt.Errorf("fault %s: got house %q, want one of %q", f.Kind, f.House, s.houseNames())
		}
	case BreakerTripped:
		if !slices.ContainsFunc(s.probes, func(p *probe) bool { return p.House == f.House && p.Circuit == f.Circuit && f.Circuit != "" }) {
			return fmt.Errorf("fault %s: house %q has no circuit %q", f.Kind, f.House, f.Circuit)
		}
	case ProbeSilent, ProbeStuck, ProbeWet, ProbePowerOn, ProbeLost, ProbeSpikes, ProbeGarbled, ProbeClockWrong, ProbeBatteryLow:
		if !slices.ContainsFunc(s.probes, func(p *probe) bool { return p.ID == f.Probe }) {
			return fmt.Errorf("fault %s: there is no probe %q", f.Kind, f.Probe)
		}
	case BrokerGone:
	default:
		return fmt.Errorf("fault %q is not known", f.Kind)
	}
	return nil
}
