package alarms

import (
	"slices"
	"time"
)

// Quantity is what a probe measures, or what is derived from it.
type Quantity string

// Quantities and their units. The core knows no other unit: converting is the
// decoder's work on the way in and the sentence's on the way out.
const (
	Temperature Quantity = "temperature"   // air, °C
	Humidity    Quantity = "humidity"      // relative humidity over water, % (0 to 100)
	Surface     Quantity = "surface"       // leaf or cover surface temperature, °C
	Soil        Quantity = "soil"          // soil or root zone temperature, °C
	Contact     Quantity = "contact"       // 0 open, 1 closed
	Current     Quantity = "current"       // A
	Power       Quantity = "power"         // W
	Speed       Quantity = "speed"         // % of full (0 to 100)
	Opening     Quantity = "position"      // of a vent or shutter, % open (0 to 100)
	Battery     Quantity = "battery"       // % of full (0 to 100)
	Voltage     Quantity = "voltage"       // V
	Signal      Quantity = "signal"        // received signal strength, dBm
	Pressure    Quantity = "pressure"      // Pa
	Moisture    Quantity = "soil-moisture" // water in the soil by volume, % (0 to 100)
	Fullness    Quantity = "level"         // of a tank, % of full (0 to 100)
	Light       Quantity = "light"         // illuminance, klx
	VPD         Quantity = "vpd"           // vapour pressure deficit, kPa; derived
	DewMargin   Quantity = "dew-margin"    // surface minus dew point, K; derived
)

// Facts are all that is said of a quantity beforehand, in its unit where no other
// is named: one row of the table that everything reads. To add a quantity is to
// add its name and row here, its words in package say, its names and units in
// package decode, and its line in the manual.
type Facts struct {
	Quantity Quantity
	Unit     string
	Digits   int     // decimals that are shown
	ShownAs  string  // a unit that it is shown in instead,
	ShownBy  float64 // which is so many of its own

	Zero bool // a temperature with a zero point: it is °C, and differences of it are K

	// What limits may be set, what shows that a drive runs, and what is in their row
	// of a plan that gives none.
	Lowest, Highest   float64
	Limited, Exposing bool          // takes limits; a plant can be exposed to it
	Deadband          float64       // of a band
	Delay             time.Duration // of a band, and to end its alarms; a quarter of it for the limits far out
	Window            time.Duration // of a limit of how fast it changes
	Near              float64       // how near to a limit is said
	Deeper            float64       // how far beyond what was told is told again; 0: a tenth of the limit
	Still             float64       // so much an hour is called steady

	// What a probe of no known kind can give, the largest step within 5 min that is
	// no failure, after what time without change it is stuck, by what it changes where
	// it measures finely, how far siblings may differ, and below what it is weak. 0: any.
	Believed [2]float64
	Jump     float64
	Stuck    time.Duration
	Fine     float64
	Differ   float64
	Weak     Limit
	Offset   Offset

	Free  bool       // things may have its name: gardens had such before it was a quantity
	Ends  bool       // correcting cannot bring it beyond Lowest and Highest
	Of    Of         // what it says something of
	From  []Quantity // what the core derives it from; no probe may claim it
	Gauge Gauge
}

// Offset is what calibrating may find: by how much a probe may be off and still be
// used, 0 where none is calibrated; from where on that must be confirmed; and by how
// much its readings may move meanwhile.
type Offset struct{ Most, Doubtful, Restless float64 }

// Of is what a quantity says something of.
type Of uint8

// What quantities speak of.
const (
	OfPlants Of = iota // where they live and what waters them: drawn in the section and reported
	OfThings           // drives, doors and whatever else
	OfProbe            // itself, no point of its place
)

// Gauge is how a collector of figures gets it: a name that ends in its base unit,
// how many of those the unit is, and what is said of it. No name: not as a point.
type Gauge struct {
	Name  string
	Times float64
	Help  string
}

// halfDay is after what time without any change the climate's probes are stuck.
const halfDay = 12 * time.Hour

// table is every quantity, measured ones first. Deadbands follow EEMUA 191 and
// ISA-18.2 (1 % of range; from memory); delays the same (60 s for temperature; from
// memory); all else is common practice, no source, but for what follows.
//
// Soil holds no more water than it has pores, about half of a mineral soil and up to
// nine tenths of peat (from memory), so 100 % of the volume is beyond all; watering
// brings less than half of it at once. Full sun at noon gives 100 to 120 klx (from
// memory; bright clouds beside it some more), so 200 klx is beyond all. A bed, a tank
// and a night rest for as long as they like, so none of the three is ever stuck by
// default; clouds change light by any step; a bed takes hours to dry; and a cloud, a can of water or a pump that
// draws for a moment is nothing to tell, so their delays are longer.
var table = []Facts{
	{Quantity: Temperature, Unit: "°C", Digits: 1, Zero: true, Lowest: -60, Highest: 100, Limited: true, Exposing: true,
		Deadband: 0.5, Near: 1, Deeper: 3, Believed: [2]float64{-60, 90}, Jump: 10, Stuck: halfDay, Fine: 0.1, Differ: 2, Offset: warmly,
		Gauge: Gauge{"temperature_celsius", 1, "Air temperature, newest live reading."}},
	{Quantity: Humidity, Unit: "%", Lowest: 0, Highest: 100, Ends: true, Limited: true, Exposing: true,
		Deadband: 2, Near: 4, Deeper: 10, Still: 2, Believed: [2]float64{0, 105}, Jump: 40, Stuck: halfDay, Fine: 0.2, Differ: 10,
		Offset: Offset{30, 10, 1.5},
		Gauge:  Gauge{"humidity_ratio", 0.01, "Relative humidity of the air over water, 0 to 1, newest live reading."}},
	{Quantity: Surface, Unit: "°C", Digits: 1, Zero: true, Lowest: -60, Highest: 120, Limited: true, Exposing: true,
		Deadband: 0.5, Near: 1, Deeper: 3, Believed: [2]float64{-60, 90}, Jump: 10, Stuck: halfDay, Fine: 0.1, Differ: 3, Offset: warmly,
		Gauge: Gauge{"surface_temperature_celsius", 1, "Temperature of a leaf or cover surface, newest live reading."}},
	{Quantity: Soil, Unit: "°C", Digits: 1, Zero: true, Lowest: -60, Highest: 80, Limited: true, Exposing: true,
		Deadband: 0.5, Near: 1, Deeper: 3, Believed: [2]float64{-40, 70}, Jump: 10, Differ: 3, Offset: warmly,
		Gauge: Gauge{"soil_temperature_celsius", 1, "Temperature of soil or root zone, newest live reading."}},
	{Quantity: Contact, Digits: 2, Lowest: 0, Highest: 1, Of: OfThings, Believed: [2]float64{0, 1},
		Gauge: Gauge{"contact_closed", 1, "Whether a contact is closed (1) or open (0)."}},
	{Quantity: Current, Unit: "A", Digits: 2, Lowest: 0, Highest: 1000, Limited: true, Of: OfThings, Deadband: 0.5, Near: 0.1,
		Believed: [2]float64{-0.5, 200}, Gauge: Gauge{"current_amperes", 1, "Electric current, newest live reading."}},
	{Quantity: Power, Unit: "W", Lowest: -100000, Highest: 100000, Limited: true, Of: OfThings, Deadband: 0.5, Near: 5,
		Believed: [2]float64{-5, 50000}, Gauge: Gauge{"power_watts", 1, "Electric power, newest live reading."}},
	{Quantity: Speed, Unit: "%", Lowest: 0, Highest: 100, Limited: true, Of: OfThings, Deadband: 0.5, Near: 2,
		Believed: [2]float64{0, 105}, Gauge: Gauge{"speed_ratio", 0.01, "Speed of a drive as a share of full speed, 0 to 1."}},
	{Quantity: Opening, Unit: "%", Lowest: 0, Highest: 100, Limited: true, Of: OfThings, Deadband: 0.5, Near: 2,
		Believed: [2]float64{-5, 105}, Gauge: Gauge{"position_ratio", 0.01, "Position of a vent or shutter as a share of wholly open, 0 to 1."}},
	{Quantity: Battery, Unit: "%", Lowest: 0, Highest: 100, Of: OfProbe, Near: 5, Believed: [2]float64{0, 105}, Weak: At(20)},
	{Quantity: Voltage, Unit: "V", Digits: 2, Lowest: 0, Highest: 1000, Of: OfProbe, Near: 0.1,
		Believed: [2]float64{-1, 500}, Gauge: Gauge{"voltage_volts", 1, "Voltage, newest live reading."}},
	{Quantity: Signal, Unit: "dBm", Lowest: -200, Highest: 20, Of: OfProbe, Near: 3, Believed: [2]float64{-150, 20}, Weak: At(-90)},
	{Quantity: Pressure, Unit: "Pa", Digits: 1, ShownAs: "hPa", ShownBy: 100, Lowest: -200000, Highest: 200000, Limited: true, Of: OfThings,
		Deadband: 0.5, Near: 100, Believed: [2]float64{30000, 110000}, Gauge: Gauge{"pressure_pascals", 1, "Pressure, newest live reading."}},
	{Quantity: Moisture, Free: true, Unit: "%", Lowest: 0, Highest: 100, Ends: true, Limited: true, Exposing: true, Deadband: 1, Delay: 20 * time.Minute, Window: 2 * time.Hour,
		Near: 3, Deeper: 5, Still: 1, Believed: [2]float64{0, 100}, Jump: 50,
		Gauge: Gauge{"soil_moisture_ratio", 0.01, "Water in the soil by volume, 0 to 1, newest live reading."}},
	{Quantity: Fullness, Free: true, Unit: "%", Lowest: 0, Highest: 100, Ends: true, Limited: true, Deadband: 2, Delay: 4 * time.Minute,
		Near: 5, Deeper: 10, Still: 1, Believed: [2]float64{0, 100}, Jump: 50, Differ: 10,
		Gauge: Gauge{"level_ratio", 0.01, "How full a tank is, 0 to 1, newest live reading."}},
	{Quantity: Light, Free: true, Unit: "klx", Digits: 1, Lowest: 0, Highest: 200, Limited: true, Exposing: true, Deadband: 1, Delay: 30 * time.Minute,
		Near: 3, Deeper: 10, Still: 5, Believed: [2]float64{0, 200},
		Gauge: Gauge{"illuminance_lux", 1000, "Light of all colours as the eye sees it, newest live reading."}},
	{Quantity: VPD, Unit: "kPa", Digits: 2, Lowest: 0, Highest: 20, Limited: true, Exposing: true, Deadband: 0.05, Near: 0.1, Deeper: 0.4, Still: 0.05,
		From:  []Quantity{Temperature, Humidity},
		Gauge: Gauge{"vapour_pressure_deficit_pascals", 1000, "Vapour pressure deficit of the air, derived from temperature and humidity."}},
	{Quantity: DewMargin, Unit: "K", Digits: 1, Lowest: -60, Highest: 100, Limited: true, Exposing: true, Deadband: 0.3, Near: 0.5, Deeper: 1,
		From:  []Quantity{Temperature, Humidity},
		Gauge: Gauge{"dew_margin_celsius", 1, "Surface temperature minus dew point: condensation below zero."}},
}

// warmly is how thermometers are calibrated.
var warmly = Offset{20, 5, 0.3}

// Quantities lists every quantity, measured ones first.
var Quantities = func() (all []Quantity) {
	for i := range table {
		all = append(all, table[i].Quantity)
	}
	return all
}()

var nothing Facts

// Facts are what can be said of q beforehand; of what is no quantity, nothing.
func (q Quantity) Facts() Facts { return *q.row() }

func (q Quantity) row() *Facts {
	if i := slices.Index(Quantities, q); i >= 0 { // of so few faster than a map, the commonest first
		return &table[i]
	}
	return &nothing
}

// Known reports whether q is one of Quantities.
func (q Quantity) Known() bool { return slices.Contains(Quantities, q) }

// reserved reports whether nothing may have q's name, since alarms have it.
func (q Quantity) reserved() bool { return q.Known() && !q.row().Free }

// Derived reports whether the core computes q itself from others; no probe may
// claim it.
func (q Quantity) Derived() bool { return q.row().From != nil }

// Absolute reports whether q is a temperature with a zero point.
func (q Quantity) Absolute() bool { return q.row().Zero }

// Calibrates reports whether a probe may be calibrated for q: beside a
// thermometer, or over a salt.
func (q Quantity) Calibrates() bool { return q.row().Offset.Most > 0 }

// Scaled keeps v on the scale of q.
func (q Quantity) Scaled(v float64) float64 {
	if f := q.row(); f.Ends {
		return min(max(v, f.Lowest), f.Highest)
	}
	return v
}

// Width is the largest difference that a quantity can have.
func (f Facts) Width() float64 { return f.Highest - f.Lowest }

// Warmth reports whether differences of a quantity are differences of temperature.
func (f Facts) Warmth() bool { return f.Zero || f.Unit == "K" }

// Exposed are the quantities that a plant can be exposed to.
var Exposed = having(func(f Facts) bool { return f.Exposing })

func having(is func(Facts) bool) []Quantity {
	return slices.DeleteFunc(slices.Clone(Quantities), func(q Quantity) bool { return !is(q.Facts()) })
}

// Changes reports whether q shows if something runs, or has power: that may be
// sent when it changes only.
func (q Quantity) Changes() bool { return q.row().Of == OfThings || q == Voltage }
