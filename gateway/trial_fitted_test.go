package gateway

import (
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/gateway/decode"
	"telltale/gateway/model"
)

const (
	dialMost   = 1.2 // K, either way, that a right dial is off: its tolerance is 1.5
	driftLeast = 2.0 // K, of a dial that has drifted
	driftMost  = 4.0
)

// drawFitted draws how the garden of a seed is fitted out: a dial off within
// its tolerance, probes that report as laid out or every 5 or 15 min, a fan of
// one speed or two, with a signal of its speed or without, and a climate that
// is mild or that of a cold interior.
func drawFitted(seed uint64) model.Fitted {
	rng := rand.New(rand.NewPCG(seed, 1<<32))
	return model.Fitted{
		Off:       dialMost * (2*rng.Float64() - 1),
		Drift:     driftLeast + (driftMost-driftLeast)*rng.Float64(),
		Every:     []time.Duration{0, 0, 5 * time.Minute, 15 * time.Minute}[rng.IntN(4)],
		TwoSpeeds: rng.IntN(3) == 0,
		Signal:    rng.IntN(3) == 0,
		Inland:    rng.IntN(3) == 0,
	}
}

// fittedName says in a few words how a garden is fitted out.
func fittedName(f model.Fitted) string {
	var parts []string
	for _, p := range []struct {
		is   bool
		name string
	}{
		{f.Every > 0, fmt.Sprintf("a reading every %.0f min", f.Every.Minutes())},
		{f.TwoSpeeds, "two speeds"}, {f.Signal, "speed signal"}, {f.Inland, "cold interior"},
	} {
		if p.is {
			parts = append(parts, p.name)
		}
	}
	if len(parts) == 0 {
		return "as laid out"
	}
	return strings.Join(parts, ", ")
}

// trialGarden is a garden as it is fitted out, with plan and sources as its grower
// would have written them; it does not change.
type trialGarden struct {
	fitted  model.Fitted
	plan    alarms.Plan
	sources []decode.Source
}

func (b *trialBench) fit(f model.Fitted) trialGarden {
	plan, sources := b.plan.Filled(), slices.Clone(b.sources)
	for i := range plan.Houses {
		h := &plan.Houses[i]
		for j := range h.Places {
			for k := range h.Places[j].Rates { // takes five readings
				h.Places[j].Rates[k].Window = max(h.Places[j].Rates[k].Window, 5*f.Every)
			}
			for k := range h.Places[j].Probes {
				if f.Every > 0 {
					h.Places[j].Probes[k].Every, h.Places[j].Probes[k].MissesAllowed = f.Every, 3
				}
			}
		}
		if h.ID != longHouseID {
			continue
		}
		for j := range h.Drives {
			if h.Drives[j].Kind == alarms.ExhaustFan {
				fitFan(h, &h.Drives[j], f, sources)
			}
		}
	}
	return trialGarden{f, plan, sources}
}

// fitFan writes what is known of the fan: its second stage, and the signal of
// its speed instead of its meter. What a fan of two speeds draws is learned.
func fitFan(h *alarms.House, fan *alarms.Drive, f model.Fitted, sources []decode.Source) {
	meter := fan.Evidence[0].Probe
	if f.TwoSpeeds {
		for i := range fan.Evidence {
			fan.Evidence[i].UsualLow, fan.Evidence[i].UsualHigh = alarms.Limit{}, alarms.Limit{}
		}
		addStage(h, fan.ID)
	}
	if !f.Signal {
		return
	}
	fan.Evidence = []alarms.Evidence{{Probe: meter, Quantity: alarms.Speed, Above: alarms.At(20)}}
	for i := range h.Places {
		for j := range h.Places[i].Probes {
			if p := &h.Places[i].Probes[j]; p.ID == meter {
				p.Streams = append(slices.Clone(p.Streams), alarms.Stream{Quantity: alarms.Speed})
			}
		}
	}
	for i := range sources {
		if sources[i].Probe == meter {
			sources[i].Reads = append(slices.Clone(sources[i].Reads), decode.Read{Quantity: alarms.Speed, At: "/speed", Unit: "%"})
		}
	}
}

// addStage writes a second stage of the fan's thermostat.
func addStage(h *alarms.House, fan alarms.DriveID) {
	for i := range h.Controls {
		c := &h.Controls[i]
		at := slices.IndexFunc(c.Stages, func(s alarms.Stage) bool { return slices.Contains(s.Drives, fan) })
		if at < 0 {
			continue
		}
		second := c.Stages[at]
		second.Name, second.Drives = "high speed", []alarms.DriveID{fan}
		second.SetPoint += model.SecondStage
		c.Stages = append(c.Stages, second)
		return
	}
}
