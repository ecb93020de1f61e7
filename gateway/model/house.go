package model

import "math"

// house is what does not change while a house is simulated.
type house struct {
	id, name      string
	floor, volume float64 // m², m³
	panes         []pane
	transmittance float64 // of the cover for light from straight ahead
	absorbed      float64 // share of the light inside that does not get out again
	toMass        float64 // share of that which falls on beds and wall, the rest on plants
	innerFilm     float64 // W/(m² K), house to cover, convection and radiation (ISO 6946: 8.3)
	innerBreath   float64 // W/(m² K), the part of it that is convection and carries vapour
	coverHeat     float64 // J/(m² K)
	emissivity    float64
	massHeat      float64 // J/K, beds, wall, water
	massFilm      float64 // W/K, mass to air
	massGround    float64 // W/K, mass to undisturbed ground at groundDepth
	groundDepth   float64 // m
	plantHeat     float64 // J/K, plants and benches, which follow the air
	plantArea     float64 // m² of floor under plants
	wetArea       float64 // m² of beds that are wet
	leak          float64 // air changes an hour in still air
	leakWind      float64 // more of them per m/s of wind
	shutterArea   float64 // m²
	fanFlow       float64 // m³/s
	loopFlow      float64 // m³/s, through all pipes together
	loopPower     float64 // W, stays in the house as heat
	pipes         []pipe
	heaterPower   float64 // W
}

// dryMass is the dry air in the house in kg, at 15 °C, taken as constant.
func (h *house) dryMass() float64 { return 1.22 * h.volume }

func (h *house) coverArea() float64 {
	var sum float64
	for _, p := range h.panes {
		sum += p.area
	}
	return sum
}

// skyShare is how much of what the cover sees is sky.
func (h *house) skyShare() float64 {
	var sum float64
	for _, p := range h.panes {
		sum += p.area * (1 + math.Cos(radians(p.tilt))) / 2
	}
	return sum / h.coverArea()
}

const mostPipes = 2

// nodes is the state of a house. Air is kept as enthalpy and water so that
// neither can be lost.
type nodes struct {
	enthalpy float64 // J, of air, vapour, plants and benches, from 0 °C
	water    float64 // kg of vapour
	mass     float64 // °C
	cover    float64 // °C
	soil     [mostPipes]float64
}

// air works out the state of the air from its enthalpy and water.
func (h *house) air(n nodes) moist {
	dry := h.dryMass()
	ratio := n.water / dry
	heat := dry*(heatDry+heatVapour*ratio) + h.plantHeat
	return moist{(n.enthalpy - n.water*latentZero) / heat, ratio}
}

// filled returns nodes with the air in a given state and everything else at
// the temperature given for it.
func (h *house) filled(a moist, mass float64, soil [mostPipes]float64) nodes {
	dry := h.dryMass()
	return nodes{
		enthalpy: dry*a.enthalpy() + h.plantHeat*a.temperature,
		water:    dry * a.ratio,
		mass:     mass, cover: a.temperature, soil: soil,
	}
}

// stored is all the energy in a house in J, counted from 0 °C.
func (h *house) stored(n nodes) float64 {
	sum := n.enthalpy + h.massHeat*n.mass + h.coverHeat*h.coverArea()*n.cover
	for i, p := range h.pipes {
		sum += p.capacity() * n.soil[i]
	}
	return sum
}

// setting is what the drives and the season make of a house at a moment.
type setting struct {
	fan     float64 // share of its full speed; 0: it stands
	shutter float64 // 0 closed to 1 open
	loop    bool
	heater  bool
	covered bool    // vents covered for the winter
	shade   float64 // share of the light kept out
}

// Ledger sums the energy that crossed the bounds of a house, in J, positive
// for what came in.
type Ledger struct {
	Sun, Heater, Electric float64
	Cover                 float64 // convection from the cover to the outside air
	Sky                   float64 // long-wave radiation of the cover
	Air                   float64 // enthalpy of the air that came in and went out
	Ground                float64 // from undisturbed ground, below the beds and around the pipes
}

func (l *Ledger) add(f Ledger, seconds float64) {
	l.Sun += f.Sun * seconds
	l.Heater += f.Heater * seconds
	l.Electric += f.Electric * seconds
	l.Cover += f.Cover * seconds
	l.Sky += f.Sky * seconds
	l.Air += f.Air * seconds
	l.Ground += f.Ground * seconds
}
