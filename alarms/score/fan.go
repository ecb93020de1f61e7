package score

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/infer"
)

// FanProbe is the name of what shows a fan that no plan knows.
const FanProbe alarms.ProbeID = "the recorded fan"

// Fan is what shows the fan of a house; the zero Fan is none.
type Fan struct {
	House    alarms.HouseID
	Place    alarms.PlaceID // whose temperature the inference goes by; empty: the first inside
	Evidence alarms.Evidence
}

// FanAside is a fan of a house that no plan knows, shown by FanProbe: it runs
// with its contact closed, or above 5 % of its speed, as on the recorded houses
// that the inference was tried on.
func FanAside(house alarms.HouseID, q alarms.Quantity) Fan {
	f := Fan{House: house, Evidence: alarms.Evidence{Probe: FanProbe, Quantity: q}}
	if q == alarms.Speed {
		f.Evidence.Above = alarms.At(5)
	}
	return f
}

// FanOf is the first exhaust fan of a plan that something shows.
func FanOf(p *alarms.Plan) Fan {
	for _, h := range p.Houses {
		for _, d := range h.Drives {
			if d.Kind != alarms.ExhaustFan || len(d.Evidence) == 0 {
				continue
			}
			f := Fan{House: h.ID, Evidence: d.Evidence[0]}
			if len(h.Controls) > 0 {
				f.Place = h.Controls[0].Place
			}
			return f
		}
	}
	return Fan{}
}

// Agreement is how often the inference and what was recorded say the same, in
// readings of the temperature inside.
type Agreement struct {
	Ran, SaidRan     int // recorded as running, and of these inferred so
	Stood, SaidStood int
}

// fan follows inference and record.
type fan struct {
	Fan
	inside, outside map[alarms.ProbeID]bool
	sense           infer.Sense
	at              time.Time
	warm            []float64 // inside, now
	out             float64
	runs            bool
	known           time.Time // when the record was heard last
	sum             Agreement
}

func newFan(f Fan, h *alarms.House) *fan {
	out := &fan{Fan: f, inside: map[alarms.ProbeID]bool{}, outside: map[alarms.ProbeID]bool{}, out: math.NaN(),
		sense: infer.New(infer.Options{Latitude: h.Latitude})}
	for _, p := range h.Places {
		for _, pr := range p.Probes {
			for _, s := range pr.Streams {
				switch {
				case s.Quantity != alarms.Temperature:
				case p.ID == "outside":
					out.outside[pr.ID] = true
				case f.Place == p.ID || f.Place == "" && len(out.inside) == 0:
					out.inside[pr.ID] = true
				}
			}
		}
	}
	return out
}

func (f *fan) reading(at time.Time, probe alarms.ProbeID, q alarms.Quantity, v float64) {
	if at.After(f.at) {
		f.row()
		f.at = at
	}
	switch e := &f.Evidence; {
	case probe == e.Probe && q == e.Quantity:
		f.runs, f.known = (v > e.Above.Value) != e.Inverted, at
	case q != alarms.Temperature:
	case f.inside[probe]:
		f.warm = append(f.warm, v)
	case f.outside[probe]:
		f.out = v
	}
}

// row compares what was read at one moment.
func (f *fan) row() {
	if len(f.warm) == 0 {
		return
	}
	sum := 0.0
	for _, v := range f.warm {
		sum += v
	}
	b, _ := f.sense.Step(f.at, sum/float64(len(f.warm)), f.out)
	f.warm, f.out = f.warm[:0], math.NaN()
	if f.known.IsZero() || f.at.Sub(f.known) > 30*time.Minute {
		return
	}
	switch said := b.Running >= 0.5; {
	case f.runs && said:
		f.sum.Ran++
		f.sum.SaidRan++
	case f.runs:
		f.sum.Ran++
	case !said:
		f.sum.Stood++
		f.sum.SaidStood++
	default:
		f.sum.Stood++
	}
}
