// Package drill is the drill at the start of a season: each probe is warmed, each plug
// pulled, each ground-fault button pressed, the internet cut, the telephones let ring,
// the covers put on or taken off; and it is ticked off what the watch felt of that. It
// promises to tick nothing off that it did not feel, unless somebody does so by hand,
// which stays to be seen; to feel nothing that was so before somebody said that they do
// it now; and to go on after a restart as if there had been none. It changes nothing that
// is judged, and nothing of what people are told. All times are the core's own but those
// called wall.
package drill

import (
	"time"

	"telltale/alarms"
)

// Kind is what a step asks for.
type Kind string

// Kinds of steps, in the order of a drill.
const (
	Warm     Kind = "warm"     // a probe in the hand
	Unplug   Kind = "unplug"   // a probe
	Power    Kind = "power"    // of a circuit, by the test button of its ground-fault device
	Internet Kind = "internet" // cut
	Ring     Kind = "ring"     // the telephones
	Covers   Kind = "covers"   // put on or off
)

// Step is one thing to do.
type Step struct {
	ID       string
	Kind     Kind
	House    alarms.HouseID
	Of       string // the probe, or the circuit, by its name; of Covers the house
	Place    string // of the probe, by its name
	Probe    alarms.ProbeID
	Quantity alarms.Quantity // Warm: that must rise
	Alarm    alarms.AlarmID  // Power: the circuit's own
	Within   time.Duration   // it must be felt by then; 0: it cannot be felt
	Every    time.Duration   // of the probe, where it is known
}

// rise is how much a probe in the hand must warm, K. Common practice, no source.
const rise = 2

// How long is waited for what is to be felt. Common practice, no source.
const (
	warmWithin     = 15 * time.Minute
	silentWithin   = 2 * time.Hour
	internetWithin = 15 * time.Minute
	ringWithin     = 10 * time.Minute
)

// Ways are the channels by which something can be felt.
type Ways struct {
	Internet []string // that need it
	Rings    []string
}

// warmed are the quantities by which it is felt that a probe is warm.
var warmed = []alarms.Quantity{alarms.Temperature, alarms.Surface, alarms.Soil}

// Steps are those of a garden, which is a filled plan.
func Steps(p *alarms.Plan, w Ways) []Step {
	var warm, unplug, power, covers []Step
	for i := range p.Houses {
		h := &p.Houses[i]
		for j := range h.Places {
			for k := range h.Places[j].Probes {
				one := step(h, &h.Places[j], &h.Places[j].Probes[k])
				unplug = append(unplug, one.as(Unplug, max(silentWithin, 5*one.Every)))
				if one.Quantity != "" {
					warm = append(warm, one.as(Warm, max(warmWithin, 4*one.Every)))
				}
			}
		}
		for _, c := range h.Circuits {
			s := Step{House: h.ID, Of: c.Name, Alarm: alarms.AlarmID(string(h.ID) + "/" + string(c.ID) + "/silent")}
			within := time.Duration(0)
			if c.Witness != "" || hangsOn(h, c.ID) {
				within = silentWithin
			}
			power = append(power, s.as(Power, within, string(c.ID)))
		}
		covers = append(covers, Step{House: h.ID, Of: h.Name}.as(Covers, 0))
	}
	all := append(append(warm, unplug...), power...)
	if len(w.Internet) > 0 {
		all = append(all, Step{ID: string(Internet), Kind: Internet, Within: internetWithin})
	}
	if len(w.Rings) > 0 {
		all = append(all, Step{ID: string(Ring), Kind: Ring, Within: ringWithin})
	}
	return append(all, covers...)
}

// hangsOn reports whether a probe of h hangs on a circuit.
func hangsOn(h *alarms.House, id alarms.CircuitID) bool {
	for i := range h.Places {
		for j := range h.Places[i].Probes {
			if h.Places[i].Probes[j].Circuit == id {
				return true
			}
		}
	}
	return false
}

func step(h *alarms.House, p *alarms.Place, pr *alarms.Probe) Step {
	s := Step{House: h.ID, Of: pr.Name, Place: p.Name, Probe: pr.ID, Every: pr.Every}
	for _, q := range warmed {
		for _, st := range pr.Streams {
			if st.Quantity == q && s.Quantity == "" {
				s.Quantity = q
			}
		}
	}
	return s
}

// as is s as a step of a kind, whose ID keeps its name.
func (s Step) as(k Kind, within time.Duration, of ...string) Step {
	s.Kind, s.Within, s.ID = k, within, string(k)+"/"+string(s.House)
	if s.Probe != "" {
		s.ID = string(k) + "/" + string(s.Probe)
	}
	for _, one := range of {
		s.ID += "/" + one
	}
	return s
}
