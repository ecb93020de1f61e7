package alarms

import (
	"slices"
	"testing"
	"time"
)

// Each rule of a plan, by what it says of one that breaks it.
func TestPlanChecks(t *testing.T) {
	const bench = "house.long-house.place.bench."
	warm := func(b Band) []Band { b.Quantity = Temperature; return []Band{b} }
	for want, spoil := range map[string]func(h *House){
		bench + "temperature.high: must be above low (got 10 °C, low is 20 °C, " + bench + "temperature.low)": func(h *House) {
			h.Places[0].Bands = warm(Band{Limits: Limits{Low: At(20), High: At(10)}})
		},
		bench + "temperature.winter.high: must be above low (got 10 °C, low is 20 °C, " + bench + "temperature.low)": func(h *House) { // in force together
			h.Places[0].Bands = append(warm(Band{Limits: Limits{Low: At(20)}}), warm(Band{Seasons: []Season{SeasonWinter}, Limits: Limits{High: At(10)}})...)
		},
		bench + "temperature.night.deadband: must be below half the way from low to high, or an alarm could never end (got 0.5 K, low is 10 °C and high is 11 °C)": func(h *House) {
			h.Places[0].Bands = warm(Band{When: Night, Limits: Limits{Low: At(10), High: At(11)}})
		},
		bench + "temperature.quick-delay: low-low and high-high must not wait longer than low and high (quick-delay is 2m0s, delay is 1m0s)": func(h *House) {
			h.Places[0].Bands = warm(Band{Limits: Limits{Low: At(10)}, QuickDelay: 2 * time.Minute})
		},
		bench + "temperature.high-high: can never be passed, so nobody would be told: temperature of bench-1 is believed from -60 °C to 90 °C (got 95 °C); if its sensor can give more, set kind, min or max of the probe": func(h *House) {
			h.Places[0].Bands = warm(Band{Limits: Limits{HighHigh: At(95)}})
		},
		bench + "temperature.low: must be from -60 °C to 100 °C (got -300 °C)": func(h *House) {
			h.Places[0].Bands = warm(Band{Limits: Limits{Low: At(-300)}})
		},
		bench + "soil: has limits, but no probe of this place measures it": func(h *House) {
			h.Places[0].Bands = []Band{{Quantity: Soil, Limits: Limits{Low: At(10)}}}
		},
		bench + "vpd: is worked out from temperature and humidity, but no probe of this place measures humidity": func(h *House) {
			h.Places[0].Bands = []Band{{Quantity: VPD, Limits: Limits{High: At(2)}}}
		},
		bench + "battery: takes no limits; they are for temperature, humidity, surface, soil, current, power, speed, position, pressure, soil-moisture, level, light, vpd and dew-margin": func(h *House) {
			h.Places[0].Bands = []Band{{Quantity: Battery, Limits: Limits{Low: At(10)}}}
		},
		bench + "temperature.fall-per-hour: must be from 0.01 K to 1600 K (got 0 K)": func(h *House) {
			h.Places[0].Rates = []RateLimit{{Quantity: Temperature, Fall: At(0)}}
		},
		bench + "vpd.rise-per-hour: is for what a probe measures: vpd takes no limit of how fast it changes": func(h *House) {
			h.Places[0].Rates = []RateLimit{{Quantity: VPD, Rise: At(1)}}
		},
		bench + "temperature.rate-window: must be at least 5 intervals of probe bench-1, or there are too few readings to see a rate (got 30m0s by default, the interval is 7m0s)": func(h *House) {
			h.Places[0].Probes[0].Every = 7 * time.Minute
			h.Places[0].Rates = []RateLimit{{Quantity: Temperature, Fall: At(4)}}
		},
		bench + "exposure.heat.hold: must not be shorter than the interval of probe bench-1, or most of the time would count as unknown (got 5m0s, the interval is 7m0s)": func(h *House) {
			h.Places[0].Probes[0].Every = 7 * time.Minute
			h.Places[0].Exposures = []Exposure{{ID: "heat", Says: "leaves scorch", Quantity: Temperature, Above: At(40), Time: time.Hour, Gap: time.Hour, Hold: 5 * time.Minute}}
		},
		bench + "exposure.heat.above: can never be passed, so nobody would be told: temperature of bench-1 is believed from -60 °C to 90 °C (got 90 °C); if its sensor can give more, set kind, min or max of the probe": func(h *House) {
			h.Places[0].Exposures = []Exposure{{ID: "heat", Says: "leaves scorch", Quantity: Temperature, Above: At(90), Time: time.Hour, Gap: time.Hour}}
		},
		"probe.bench-1.temperature.max: must be above min (got 5 °C, min is 5 °C)": func(h *House) {
			h.Places[0].Probes[0].Streams[0].Min, h.Places[0].Probes[0].Streams[0].Max = At(5), At(5)
		},
		"probe.bench-1.circuit: is no circuit of house long-house (got \"east\"); it has none": func(h *House) { h.Places[0].Probes[0].Circuit = "east" },
		"probe.low: a probe must not be named \"low\": the watch uses that word for its own alarms": func(h *House) {
			h.Places[0].Probes = append(h.Places[0].Probes, Probe{ID: "low", Streams: []Stream{{Quantity: Humidity}}})
		},
		"house.long-house.circuit.east.fed-by: must name another circuit (got \"east\", which is this one)": func(h *House) {
			h.Circuits = []Circuit{{ID: "east", FedBy: "east"}}
		},
		"house.long-house.circuit.east.witness-zero: is not measured by probe clamp-1 (got \"voltage\"); it measures current, power": func(h *House) {
			h.Circuits = []Circuit{{ID: "east", Witness: "clamp-1", Zero: Voltage}}
		},
		"house.long-house.control.thermostat.stage.hot.drives.#1: is of kind heater, which a cooling stage does not drive (got \"warmth\")": func(h *House) {
			h.Controls[0].Stages[0].Drives = append(h.Controls[0].Stages[0].Drives, "warmth")
		},
		"house.long-house.drive.exhaust.evidence.#0.above: must be above 0, or the drive would count as running while it rests (got 0 A)": func(h *House) {
			h.Drives[0].Evidence[0].Above = At(0)
		},
		"house.long-house.drive.exhaust.timer-tolerance: is of a timer: say at which hours the drive runs, for example hours = [\"05:30-09:00\"]": func(h *House) {
			h.Drives[0].TimerTolerance = time.Hour
		},
	} {
		h := fanHouse()
		spoil(&h)
		found := Plan{Houses: []House{h}}.Check()
		if !slices.ContainsFunc(found, func(p Problem) bool { return p.Error() == want }) {
			t.Errorf("got %v, want %s", found, want)
		}
	}
}

// A plan with nothing left to default is as good as the plan.
func TestAFilledPlanIsAsGood(t *testing.T) {
	p := Plan{Houses: []House{fanHouse()}}
	for _, one := range []Plan{p, p.Filled(), p.Filled().Filled()} {
		if found := one.Check(); len(found) > 0 {
			t.Errorf("got %v", found)
		}
	}
}
