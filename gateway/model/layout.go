package model

import (
	"time"

	"telltale/alarms"
)

// Layout returns every probe of the garden. Together they use every form of
// payload, °F and ratios beside °C and %, batteries, a retained topic, and two
// probes in one place.
func Layout() []Spec {
	return []Spec{bench(), benchTwin(), ridge(), intake(), loopOutlet(0), loopOutlet(1), beds(),
		exhaustFan(), shutterSwitch(), loopFan(), outsideProbe(), lowBench(), lowBeds(), lowHeater()}
}

const topics = "thimble-garth/"

func bench() Spec {
	return Spec{ID: "bench-1", House: "long-house", Place: "bench", Circuit: North, Kind: alarms.KindCapacitive,
		Topic: topics + "long-house/bench", Form: JSON, Every: 30 * time.Second, TimeAt: "/time",
		Senses: []Sense{
			airTemperature("/air/temperature", 0.1), airHumidity("/air/humidity", 1.2),
			{Quantity: alarms.Signal, At: "/signal", Unit: "dBm", Noise: 2, Resolution: 1, read: fixed(-63)},
		}}
}

func benchTwin() Spec {
	return Spec{ID: "bench-2", House: "long-house", Place: "bench", Kind: alarms.KindCapacitive,
		Topic: topics + "long-house/bench/second", Form: SenML, Every: time.Minute, Base: "thimble-garth:bench-2:",
		Senses: []Sense{
			airTemperature("temperature", -0.2), airHumidity("humidity", -1.5),
			{Quantity: alarms.Battery, At: "battery", Unit: "%", Resolution: 1, read: fixed(81)},
		}}
}

func ridge() Spec {
	return Spec{ID: "ridge-1", House: "long-house", Place: "ridge", Circuit: North, Kind: alarms.KindOneWire,
		Topic: topics + "long-house/ridge", Form: Number, Every: 30 * time.Second, Retain: true,
		Senses: []Sense{oneWire(alarms.Temperature, "", func(m *moment) float64 { return m.ridge.temperature })}}
}

func intake() Spec {
	return Spec{ID: "intake-1", House: "long-house", Place: "intake", Circuit: North, Kind: alarms.KindOneWire,
		Topic: topics + "long-house/intake", Form: Number, Every: 30 * time.Second,
		Senses: []Sense{oneWire(alarms.Temperature, "", func(m *moment) float64 { return m.intake.temperature })}}
}

func loopOutlet(i int) Spec {
	s := Spec{ID: "loop-shallow-1", House: "long-house", Place: "loop-shallow", Circuit: South, Kind: alarms.KindCapacitive,
		Topic: topics + "long-house/loop-shallow", Form: Line, Every: time.Minute, Base: "loop", Tag: "depth", TagValue: "1.5m"}
	if i == 1 {
		s.ID, s.Place, s.Topic, s.TagValue = "loop-deep-1", "loop-deep", topics+"long-house/loop-deep", "2.3m"
	}
	s.Senses = []Sense{
		{Quantity: alarms.Temperature, At: "temperature", Unit: "°C", Decimals: 2, Lag: 30, Noise: 0.03, Resolution: 0.01,
			read: func(m *moment) float64 { return m.outlet[i].temperature }},
		{Quantity: alarms.Humidity, At: "humidity", Unit: "%", Decimals: 1, Lag: 20, Noise: 0.3, Resolution: 0.1,
			read: func(m *moment) float64 { return m.outlet[i].humidity() }},
	}
	return s
}

func beds() Spec {
	return Spec{ID: "bed-1", House: "long-house", Place: "bed", Circuit: South, Kind: alarms.KindOneWire,
		Topic: topics + "long-house/bed", Form: Number, Every: 2 * time.Minute,
		Senses: []Sense{oneWire(alarms.Soil, "", func(m *moment) float64 { return m.mass })}}
}

// fanProbe is the meter of the exhaust fan of Long House.
const fanProbe alarms.ProbeID = "exhaust-fan-1"

func exhaustFan() Spec {
	return Spec{ID: fanProbe, House: "long-house", Place: "exhaust-fan", Kind: alarms.KindClamp,
		Topic: topics + "long-house/exhaust-fan", Form: JSON, Every: 20 * time.Second,
		Senses: []Sense{
			{Quantity: alarms.Current, At: "/current", Unit: "A", Decimals: 2, Noise: 0.005, Resolution: 0.01, read: fanCurrent},
			{Quantity: alarms.Power, At: "/power", Unit: "W", Decimals: 0, Noise: 1, Resolution: 1,
				read: func(m *moment) float64 { return 230 * 0.92 * fanCurrent(m) }},
		}}
}

// fanCurrent in A rises on a closed shutter: an axial fan works hardest there.
// At half its speed a small shaded-pole fan still draws more than half (common
// practice, no source).
func fanCurrent(m *moment) float64 {
	if !m.control.fan {
		return 0
	}
	full := 0.40 - 0.08*m.control.shutter
	return full * (0.25 + 0.75*m.control.fanSpeed)
}

func shutterSwitch() Spec {
	return Spec{ID: "shutter-1", House: "long-house", Place: "intake-shutter", Kind: alarms.KindSwitch,
		Topic: topics + "long-house/intake-shutter", Form: Number, Every: 20 * time.Second,
		Senses: []Sense{{Quantity: alarms.Contact, read: func(m *moment) float64 {
			if m.control.shutter > 0.95 { // the end switch closes when it is open
				return 1
			}
			return 0
		}}}}
}

func loopFan() Spec {
	return Spec{ID: "loop-fan-1", House: "long-house", Place: "loop-fan", Kind: alarms.KindClamp,
		Topic: topics + "long-house/loop-fan", Form: Number, Every: 30 * time.Second,
		Senses: []Sense{{Quantity: alarms.Power, Unit: "W", Decimals: 1, Noise: 0.4, Resolution: 0.1,
			read: loopWatts}}}
}

func loopWatts(m *moment) float64 {
	if m.control.loop {
		return 55
	}
	return 0
}

func outsideProbe() Spec {
	return Spec{ID: "outside-1", House: "long-house", Place: "outside", Kind: alarms.KindCapacitive,
		Topic: topics + "outside", Form: SenML, Every: 2 * time.Minute, Base: "thimble-garth:outside-1:",
		Senses: []Sense{
			{Quantity: alarms.Temperature, At: "temperature", Unit: "°C", Decimals: 2, Lag: 120, Noise: 0.05, Resolution: 0.01,
				read: func(m *moment) float64 { return m.outside.air.temperature }},
			{Quantity: alarms.Humidity, At: "humidity", Unit: "%", Decimals: 1, Lag: 60, Noise: 0.4, Resolution: 0.1,
				read: func(m *moment) float64 { return m.outside.air.humidity() }},
			{Quantity: alarms.Battery, At: "battery", Unit: "%", Resolution: 1, read: fixed(64)},
		}}
}

func lowBench() Spec {
	t, h := airTemperature("/temp_f", 0.2), airHumidity("/rh", 0.5)
	t.Unit, h.Unit, h.Decimals = "°F", "ratio", 3
	return Spec{ID: "low-bench-1", House: "low-house", Place: "bench", Circuit: North, Kind: alarms.KindCapacitive,
		Topic: topics + "low-house/bench", Form: JSON, Every: 30 * time.Second, Senses: []Sense{t, h}}
}

func lowBeds() Spec {
	return Spec{ID: "low-bed-1", House: "low-house", Place: "bed", Circuit: South, Kind: alarms.KindOneWire,
		Topic: topics + "low-house/bed", Form: Number, Every: 2 * time.Minute,
		Senses: []Sense{oneWire(alarms.Soil, "", func(m *moment) float64 { return m.mass })}}
}

func lowHeater() Spec {
	return Spec{ID: "heater-1", House: "low-house", Place: "heater", Kind: alarms.KindClamp,
		Topic: topics + "low-house/heater", Form: Number, Every: 30 * time.Second,
		Senses: []Sense{{Quantity: alarms.Power, Unit: "W", Noise: 4, Resolution: 1, read: func(m *moment) float64 {
			if m.control.heater {
				return 2000
			}
			return 0
		}}}}
}
