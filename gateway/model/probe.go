package model

import (
	"math"
	"time"

	"telltale/alarms"
)

// Form is how a probe writes its payload.
type Form string

// Forms.
const (
	Number Form = "number" // one number as text
	JSON   Form = "json"   // RFC 8259
	SenML  Form = "senml"  // RFC 8428 in JSON
	Line   Form = "line"   // line protocol
)

// Spec is what can be known of a probe by reading its manual, enough to write
// a configuration for it.
type Spec struct {
	ID      alarms.ProbeID
	House   alarms.HouseID
	Place   alarms.PlaceID
	Circuit alarms.CircuitID // empty: runs on a battery
	Kind    alarms.ProbeKind
	Topic   string
	Form    Form
	Every   time.Duration
	Retain  bool
	// Base is the SenML base name, or the measurement of line protocol.
	Base string
	// Tag and TagValue stand on each line of line protocol.
	Tag, TagValue string
	// TimeAt is the RFC 6901 pointer to the time of measurement in JSON, in
	// seconds since 1970; empty: none. SenML and line protocol carry theirs.
	TimeAt string
	Senses []Sense
}

// Sense is one quantity of a probe and how well it is measured.
type Sense struct {
	Quantity   alarms.Quantity
	At         string // JSON: RFC 6901 pointer; SenML: name after the base; Line: field key
	Unit       string // as sent: °C, °F, %, ratio, A, W, V, dBm, Pa; empty for a contact
	Decimals   int    // digits sent after the point
	Lag        float64
	Noise      float64 // standard deviation, in the quantity's own unit
	Resolution float64 // in the quantity's own unit; 0: none
	Offset     float64 // error of calibration, in the quantity's own unit
	read       func(*moment) float64
}

// moment is everything that a probe of a house could feel.
type moment struct {
	outside outside
	air     moist // on the benches
	ridge   moist // under the roof
	intake  moist // at the shutter
	outlet  [mostPipes]moist
	mass    float64
	control controls
}

// probe is a Spec at work.
type probe struct {
	Spec
	index  uint64
	house  *running // where it hangs; the outside of it for an outside probe
	felt   []float64
	said   []float64 // the newest values sent, before units
	fresh  bool      // has just got electricity
	sent   uint64    // messages due so far, sent or not
	span   time.Time // of Sim.Coarse: that of the last of them
	offset time.Duration
}

// feel lets the sensors follow what is around them for some seconds.
func (p *probe) feel(seconds float64) {
	first := p.felt == nil
	if first {
		p.felt = make([]float64, len(p.Senses))
	}
	for i, s := range p.Senses {
		now := s.read(&p.house.now)
		if first || s.Lag <= 0 {
			p.felt[i] = now
			continue
		}
		p.felt[i] += (now - p.felt[i]) * (1 - math.Exp(-seconds/s.Lag))
	}
}

// due returns when the next message is due: at the probe's own offset, give or
// take a little, because cheap clocks do.
func (p *probe) due(start time.Time, seed uint64) time.Time {
	jitter := min(p.Every/50, time.Second)
	wander := time.Duration(random(seed, 100+p.index, p.sent) * float64(jitter))
	return start.Add(p.offset + time.Duration(p.sent)*p.Every + wander).Truncate(time.Millisecond)
}

// measure returns the values of the message that is due now.
func (p *probe) measure(seed uint64, has func(Fault) bool) []float64 {
	if p.said != nil && has(Fault{Kind: ProbeStuck, Probe: p.ID}) {
		return p.said
	}
	values := make([]float64, len(p.Senses))
	for i, s := range p.Senses {
		v := p.felt[i] + s.Offset + s.Noise*p.dither(seed, uint64(i))
		if s.Resolution > 0 {
			v = math.Round(v/s.Resolution) * s.Resolution
		}
		v = p.sickened(v, s, seed, has)
		switch s.Quantity {
		case alarms.Humidity:
			v = min(max(v, 0), 100)
		case alarms.Power, alarms.Current:
			v = max(v, 0)
		}
		values[i] = v
	}
	p.fresh, p.said = false, values
	return values
}

// dither has about the spread of a standard normal variable: the sum of three
// even ones.
func (p *probe) dither(seed, sense uint64) float64 {
	var sum float64
	for k := range uint64(3) {
		sum += random(seed, 1000+100*p.index+10*sense+k, p.sent)
	}
	return sum
}
