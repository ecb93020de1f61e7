package decode

import (
	"cmp"
	"telltale/alarms"
	"telltale/alarms/tongue"
)

// recognised is what one quantity is known by: one row of the table.
type recognised struct {
	quantity alarms.Quantity
	words    []string // that speak for it in a name
	faint    []string // the same where the next name does not speak for another
	units    []unit   // the core's own first
	ways     []way    // how it is usually written, the likeliest first where several are
}

// table is what every measured quantity is known by. Words are common English, some
// of our neighbours', abbreviations and units; those and the ranges of ways are common
// practice, no source. Factors of units: the SI prefixes, 0 °C = 273.15 K,
// °F = 9/5 °C + 32, and the conventional inch of mercury of NIST SP 811, 3386.389 Pa
// (from memory). Their further spellings are those of RFC 8428, section 12.1, and
// such as are met.
var table = []recognised{
	{quantity: alarms.Temperature, units: degrees, ways: warmWays,
		words: []string{"temperature", "temp", "tmp", "celsius", "fahrenheit", "degc", "degf", "tair", "t",
			"temperatur", "lufttemperatur", "innentemperatur", "außentemperatur", "température", "temperatura", "temperatuur"}},
	{quantity: alarms.Soil, units: degrees, ways: warmWays},
	{quantity: alarms.Surface, units: degrees, ways: warmWays},
	{quantity: alarms.Humidity, units: shares("%RH"), ways: shareWays,
		words: []string{"humidity", "hum", "humid", "rh", "hr", "h",
			"feuchte", "luftfeuchte", "feuchtigkeit", "luftfeuchtigkeit", "humidité", "humedad", "umidità", "vochtigheid", "luchtvochtigheid"}},
	{quantity: alarms.Battery, units: shares("%EL"), ways: shareWays, words: []string{"battery", "batt", "bat", "charge"}},
	{quantity: alarms.Speed, units: shares(), ways: shareWays, words: []string{"speed", "duty"}},
	{quantity: alarms.Opening, units: shares(), ways: shareWays, words: []string{"position", "opening"}},
	{quantity: alarms.Voltage, words: []string{"voltage", "volt", "volts", "vbat", "vbatt", "vcc", "vdd", "mv"},
		units: []unit{{name: "V", inName: []string{"v"}, scale: same}, {name: "mV", inName: []string{"mv"}, scale: conversion{0, 1, 1000}}},
		ways:  []way{{lo: 0, hi: 60}, {unit: "mV", lo: 100, hi: 60000, whole: true}}},
	{quantity: alarms.Signal, words: []string{"rssi", "signal", "dbm"},
		units: []unit{{name: "dBm", scale: same}, {name: "dBW", scale: conversion{-30, 1, 1}}}, ways: []way{{lo: -140, hi: -10}}},
	{quantity: alarms.Pressure, words: []string{"pressure", "press", "baro", "hpa", "kpa"},
		units: []unit{{name: "Pa", inName: []string{"pa"}, scale: same},
			{name: "hPa", also: []string{"mbar"}, inName: []string{"hpa", "mbar"}, scale: conversion{0, 100, 1}},
			{name: "kPa", inName: []string{"kpa"}, scale: conversion{0, 1000, 1}},
			{name: "inHg", inName: []string{"inhg"}, scale: conversion{0, 3386.389, 1}}},
		ways: []way{{unit: "hPa", lo: 300, hi: 1100}, {lo: 30000, hi: 110000}, {unit: "kPa", lo: 30, hi: 110}, {unit: "inHg", lo: 25, hi: 32}}},
	{quantity: alarms.Current, words: []string{"current", "amps", "ampere", "amperes", "amp", "ma"},
		units: []unit{{name: "A", inName: []string{"a"}, scale: same}, {name: "mA", inName: []string{"ma"}, scale: conversion{0, 1, 1000}}},
		ways:  []way{{lo: 0, hi: 60}, {unit: "mA", lo: 0, hi: 60000}}},
	{quantity: alarms.Power, words: []string{"power", "watt", "watts", "kw"},
		units: []unit{{name: "W", inName: []string{"w"}, scale: same}, {name: "kW", inName: []string{"kw"}, scale: conversion{0, 1000, 1}}},
		ways:  []way{{lo: 0, hi: 20000}, {unit: "kW", lo: 0, hi: 20}}},
	{quantity: alarms.Moisture, words: []string{"moisture", "vwc", "bodenfeuchte", "bodenfeuchtigkeit"},
		units: []unit{{name: "%", also: []string{"percent"}, inName: []string{"pct", "percent"}, scale: same},
			{name: "ratio", also: []string{"/", "1", "m3/m3", "m³/m³"}, inName: []string{"ratio"}, scale: conversion{0, 100, 1}}},
		ways: shareWays},
	{quantity: alarms.Fullness, units: shares(), ways: shareWays, words: []string{"waterlevel", "füllstand"}, faint: []string{"level", "fill"}},
	{quantity: alarms.Light, words: []string{"light", "lux", "lx", "klx", "illuminance", "brightness", "helligkeit"},
		units: []unit{{name: "klx", inName: []string{"klx"}, scale: same},
			{name: "lx", also: []string{"lux"}, inName: []string{"lx", "lux"}, scale: conversion{0, 1, 1000}}},
		ways: []way{{unit: "lx", lo: 0, hi: 200000, ask: askLux}, {lo: 0, hi: 200, part: true}}},
	{quantity: alarms.Contact,
		words: []string{"contact", "door", "window", "vent", "shutter", "switch", "open", "opened", "closed", "relay", "running", "on", "state"}},
}

// radiation are units of what shines of which no factor makes light as the eye sees
// it: that depends on the colours.
var radiation = []string{"W/m2", "W/m²", "W/m^2", "umol/m2/s", "µmol/m²/s"}

// degrees are the units of temperatures.
var degrees = []unit{
	{name: "°C", also: []string{"ºC", "C", "degC", "Cel", "celsius"}, inName: []string{"c", "celsius", "degc"}, scale: same},
	{name: "°F", also: []string{"ºF", "F", "degF", "fahrenheit"}, inName: []string{"f", "fahrenheit", "degf"}, scale: conversion{32, 5, 9}},
	{name: "K", also: []string{"kelvin"}, inName: []string{"k", "kelvin"}, scale: conversion{273.15, 1, 1}},
}

// shares are the units of a share of the whole, in which per cent may be spelt in
// further ways.
func shares(also ...string) []unit {
	return []unit{
		{name: "%", also: append([]string{"percent"}, also...), inName: []string{"pct", "percent"}, scale: same},
		{name: "ratio", also: []string{"/", "1"}, inName: []string{"ratio"}, scale: conversion{0, 100, 1}},
	}
}

var warmWays = []way{
	{lo: -40, hi: 38},
	{lo: 38, hi: 45, ask: askWarm},
	{unit: "°F", lo: 45, hi: 130, ask: askF},
	{unit: "K", lo: 233, hi: 333, part: true, ask: askK},
	{factor: 0.1, lo: 131, hi: 600, whole: true, ask: askTenths},
	{factor: 0.01, lo: 601, hi: 6000, whole: true, ask: askHundred},
	{lo: 45, hi: 60, ask: askWarm},
	{unit: "°F", lo: -40, hi: 45},
	{unit: "K", lo: 233, hi: 333, whole: true, ask: askK},
}

var shareWays = []way{
	{unit: "ratio", lo: 0, hi: 1, part: true, ask: askRatio},
	{lo: 0, hi: 100},
	{unit: "ratio", lo: 0, hi: 1, whole: true, ask: askRatio},
	{factor: 0.1, lo: 101, hi: 1000, whole: true, ask: askTenths},
	{factor: 0.01, lo: 1001, hi: 10000, whole: true, ask: askHundred},
}

// names are what quantities are called beside a value of a payload: by their own names.
var names = map[alarms.Quantity]tongue.Text{
	alarms.Temperature: "temperature", alarms.Humidity: "humidity", alarms.Surface: "surface|quantity", alarms.Soil: "soil|quantity",
	alarms.Contact: "contact", alarms.Current: "current", alarms.Power: "power", alarms.Speed: "speed", alarms.Opening: "position",
	alarms.Battery: "battery", alarms.Voltage: "voltage", alarms.Signal: "signal", alarms.Pressure: "pressure",
	alarms.Moisture: "soil-moisture", alarms.Fullness: "level", alarms.Light: "light",
}

// NameOf is the name of a quantity.
func NameOf(q alarms.Quantity) tongue.Text { return cmp.Or(names[q], tongue.Text(q)) }
