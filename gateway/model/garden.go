package model

import (
	"time"

	"telltale/alarms"
)

// Where Thimble Garth is taken to be, for the sun; no real place is meant.
const (
	gardenLatitude  = 52.0 // degrees
	gardenLongitude = -2.0 // degrees
)

// Fitted says in what the garden differs from how it is laid out. The zero value
// is the garden as laid out.
type Fitted struct {
	Inland bool          // a cold interior: yearly mean 6 °C, 18 K either way, quick spells
	Every  time.Duration // between two reports of a probe; 0: as in Layout
	Off    float64       // K, that all dials stand too high
	Drift  float64       // K, that DialDrifted turns a dial too high; 0: 3
	// TwoSpeeds: the exhaust fan of Long House turns at half its speed from the
	// set point on, and at full speed from SecondStage above it.
	TwoSpeeds bool
	Signal    bool // a sense of the exhaust fan's speed, at /speed, in %
}

// SecondStage is how far above the first the second stage of a fan of two
// speeds switches, K.
const SecondStage = 2.5

// ThimbleGarth returns the garden at a moment, in settled weather of the season,
// with nothing wrong. Times are in UTC.
func ThimbleGarth(start time.Time, seed uint64) *Sim {
	return open(start, seed, Weather{}, Fitted{})
}

func open(start time.Time, seed uint64, w Weather, fit Fitted) *Sim {
	s := &Sim{seed: seed, start: start.UTC(), weather: w, climate: thimbleGarthClimate()}
	if fit.Inland {
		s.climate = inlandClimate()
	}
	s.houses = []*running{
		{house: longHouse(), controls: longHouseControls()},
		{house: lowHouse(), controls: lowHouseControls()},
	}
	for _, r := range s.houses {
		r.controls.fit(fit)
	}
	if fit.TwoSpeeds {
		s.houses[0].controls.split()
	}
	s.settle()
	s.furnish(fit)
	return s
}

// settle runs the houses through the two days before the start, so that beds
// and pipes have the warmth they should.
func (s *Sim) settle() {
	const before, stride = 48 * time.Hour, 20 * time.Second
	s.now = s.start.Add(-before)
	out := s.climate.at(s.seed, s.weather, s.now)
	mean := s.climate.ground.at(0, out.day) + s.weather.Warmer
	for _, r := range s.houses {
		var soil [mostPipes]float64
		for i, p := range r.house.pipes {
			soil[i] = s.climate.ground.at(p.depth, out.day)
		}
		r.nodes = r.house.filled(out.air, mean+2, soil)
		r.controls.bulb = out.air.temperature
	}
	for s.now.Before(s.start) {
		s.now = s.now.Add(stride)
		s.step(stride)
	}
	for _, r := range s.houses {
		r.ledger = Ledger{}
	}
}

// furnish hangs the probes.
func (s *Sim) furnish(fit Fitted) {
	for i, spec := range Layout() {
		if fit.Every > 0 {
			spec.Every = fit.Every
		}
		if fit.Signal && spec.ID == fanProbe {
			spec.Senses = append(spec.Senses, Sense{Quantity: alarms.Speed, At: "/speed", Unit: "%", Resolution: 1,
				read: func(m *moment) float64 { return 100 * m.control.fanSpeed }})
		}
		p := &probe{Spec: spec, index: uint64(i), house: s.houseNamed(spec.House)}
		// Spread over the interval, so that not all speak at once.
		p.offset = time.Duration(float64(spec.Every) * (0.5 + 0.48*random(s.seed, 99, p.index)))
		p.feel(0)
		s.probes = append(s.probes, p)
	}
}

// thimbleGarthClimate is mild and rather damp, on garden loam (diffusivity for
// moist loam after Farouki 1982, CRREL Report 82-8).
func thimbleGarthClimate() climate {
	return climate{latitude: gardenLatitude, longitude: gardenLongitude, mean: 10, yearSwing: 6.8, coldest: 20, daySwing: 6, spell: 3, wind: 2.2,
		ground: ground{mean: 10.5, swing: 8, coldest: 32, diffusivity: 0.05}}
}

// inlandClimate is far from the sea: hot days in July, and nights in January in
// which the air outside falls below -37 °C (invented, as cold as continental
// climates are; no one place is meant).
func inlandClimate() climate {
	return climate{latitude: gardenLatitude, longitude: gardenLongitude, mean: 6, yearSwing: 18, coldest: 18, daySwing: 9, spell: 10, wind: 2.5,
		ground: ground{mean: 8, swing: 12, coldest: 36, diffusivity: 0.05}}
}

// longHouse leans on the south side of the garden wall: 6.0 x 3.5 m, eaves
// 1.7 m, ridge 2.8 m, old single glass.
func longHouse() *house {
	return &house{
		id: "long-house", name: "Long House", floor: 21, volume: 47.25,
		panes: []pane{
			{area: 22.0, tilt: 17.4, azimuth: 180}, {area: 10.2, tilt: 90, azimuth: 180},
			{area: 7.9, tilt: 90, azimuth: 90}, {area: 7.9, tilt: 90, azimuth: 270},
		},
		transmittance: 0.80, absorbed: 0.8, toMass: 0.40,
		innerFilm: 8.3, innerBreath: 3.5, coverHeat: 8400, emissivity: 0.90,
		massHeat: 9e6, massFilm: 200, massGround: 20, groundDepth: 1, plantHeat: 180e3, plantArea: 8, wetArea: 5,
		leak: 0.8, leakWind: 0.3, shutterArea: 0.16, fanFlow: 0.39,
		loopFlow: 0.10, loopPower: 55,
		pipes: []pipe{
			{depth: 1.5, length: 30, diameter: 0.10, soil: 1.3, heat: 2.0e6},
			{depth: 2.3, length: 30, diameter: 0.10, soil: 1.3, heat: 2.0e6},
		},
	}
}

func longHouseControls() controls {
	return controls{
		cool:     thermostat{dial: 29.5, differential: 2.8},
		loopCool: thermostat{dial: 22, differential: 2.8},
		loopHeat: thermostat{dial: 12, differential: 2.8, heats: true},
		heat:     thermostat{dial: -90, differential: 1, heats: true}, // it has no heater

		fanCircuit: string(North), loopCircuit: string(South), alwaysLoop: true, drift: usualDrift,
		coverFrom: calendar{time.November, 25}, coverTo: calendar{time.March, 15},
		shadeFrom: calendar{time.May, 10}, shadeTo: calendar{time.September, 20}, shade: 0.2,
	}
}

// lowHouse stands free beside it: 4.0 x 2.4 m, eaves 1.5 m, ridge 2.2 m along
// the north-south axis, twin-wall sheet, with a heater for propagation.
func lowHouse() *house {
	return &house{
		id: "low-house", name: "Low House", floor: 9.6, volume: 17.8,
		panes: []pane{
			{area: 5.6, tilt: 30, azimuth: 90}, {area: 5.6, tilt: 30, azimuth: 270},
			{area: 6, tilt: 90, azimuth: 90}, {area: 6, tilt: 90, azimuth: 270},
			{area: 4.45, tilt: 90, azimuth: 180}, {area: 4.45, tilt: 90, azimuth: 0},
		},
		transmittance: 0.72, absorbed: 0.75, toMass: 0.45,
		innerFilm: 4.5, innerBreath: 2.5, coverHeat: 3500, emissivity: 0.90,
		massHeat: 4e6, massFilm: 80, massGround: 10, groundDepth: 1, plantHeat: 90e3, plantArea: 4, wetArea: 3,
		leak: 0.5, leakWind: 0.2, shutterArea: 0.10, fanFlow: 0.25, heaterPower: 2000,
	}
}

func lowHouseControls() controls {
	return controls{
		cool:     thermostat{dial: 27, differential: 2.8},
		loopCool: thermostat{dial: 90, differential: 1},
		loopHeat: thermostat{dial: -90, differential: 1, heats: true},
		heat:     thermostat{dial: 9, differential: 2, heats: true},

		fanCircuit: string(North), loopCircuit: string(South), drift: usualDrift,
		coverFrom: calendar{time.November, 25}, coverTo: calendar{time.March, 15},
		shadeFrom: calendar{time.May, 10}, shadeTo: calendar{time.September, 20}, shade: 0.5,
	}
}

// Circuits of each house.
const (
	North alarms.CircuitID = "north-circuit" // exhaust fan and shutter, probes on the benches
	South alarms.CircuitID = "south-circuit" // loop fan or heater, probes of the loop and the beds
)
