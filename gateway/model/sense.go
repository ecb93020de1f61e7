package model

import "telltale/alarms"

// airTemperature is a capacitive chip's thermometer on the benches.
func airTemperature(at string, offset float64) Sense {
	return Sense{Quantity: alarms.Temperature, At: at, Unit: "°C", Decimals: 2, Lag: 60, Noise: 0.04, Resolution: 0.01,
		Offset: offset, read: func(m *moment) float64 { return m.air.temperature }}
}

// airHumidity is the same chip's humidity.
func airHumidity(at string, offset float64) Sense {
	return Sense{Quantity: alarms.Humidity, At: at, Unit: "%", Decimals: 1, Lag: 15, Noise: 0.3, Resolution: 0.1,
		Offset: offset, read: func(m *moment) float64 { return m.air.humidity() }}
}

// oneWire is a digital thermometer of 12 bits in a steel tube.
func oneWire(q alarms.Quantity, at string, read func(*moment) float64) Sense {
	return Sense{Quantity: q, At: at, Unit: "°C", Decimals: 4, Lag: 90, Noise: 0.03, Resolution: 0.0625, read: read}
}

func fixed(v float64) func(*moment) float64 { return func(*moment) float64 { return v } }
