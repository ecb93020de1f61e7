package decode

import (
	"slices"

	"telltale/alarms"
)

// meanings says which quantity a word in a name speaks for. The words are
// common English, some of our neighbours', abbreviations and units; common
// practice, no source.
var meanings = []struct {
	quantity alarms.Quantity
	words    []string
}{
	{alarms.Temperature, []string{"temperature", "temp", "tmp", "celsius", "fahrenheit", "degc", "degf", "tair", "t",
		"temperatur", "lufttemperatur", "innentemperatur", "außentemperatur", "température", "temperatura", "temperatuur"}},
	{alarms.Humidity, []string{"humidity", "hum", "humid", "rh", "hr", "h",
		"feuchte", "luftfeuchte", "feuchtigkeit", "luftfeuchtigkeit", "humidité", "humedad", "umidità", "vochtigheid", "luchtvochtigheid"}},
	{alarms.Battery, []string{"battery", "batt", "bat", "charge"}},
	{alarms.Voltage, []string{"voltage", "volt", "volts", "vbat", "vbatt", "vcc", "vdd", "mv"}},
	{alarms.Signal, []string{"rssi", "signal", "dbm"}},
	{alarms.Pressure, []string{"pressure", "press", "baro", "hpa", "kpa"}},
	{alarms.Current, []string{"current", "amps", "ampere", "amperes", "amp", "ma"}},
	{alarms.Power, []string{"power", "watt", "watts", "kw"}},
	{alarms.Speed, []string{"speed", "duty"}},
	{alarms.Opening, []string{"position", "opening"}},
	{alarms.Contact, []string{"contact", "door", "window", "vent", "shutter", "switch", "open", "opened", "closed", "relay", "running", "on", "state"}},
}

// strangers are words of what is no reading of a probe, or none that is
// watched.
var strangers = []struct{ what, words []string }{
	{[]string{"what is wanted, not what is measured"}, []string{"setpoint", "target", "desired", "wanted", "limit", "threshold", "offset", "calibration"}},
	{[]string{"summed up, not a reading"}, []string{"min", "max", "avg", "mean", "minimum", "maximum", "average", "total"}},
	{[]string{"worked out from temperature and humidity by the watch itself"}, []string{"dew", "dewpoint", "vpd"}},
	{[]string{"how warm it feels, which plants do not"}, []string{"feels", "index"}},
	{[]string{"nothing that is watched"}, []string{"moisture", "co", "lux", "light", "uv", "par", "ppm", "pm", "voc", "ph", "ec", "rain", "wind", "energy"}},
	{[]string{"about the probe itself, not what it measures"}, []string{"id", "seq", "sequence", "count", "counter", "uptime", "version", "firmware", "fw", "heap", "channel", "port", "snr", "lat", "lon", "latitude", "longitude", "boot", "boots", "retries"}},
}

var soilWords = []string{"soil", "root", "roots", "substrate", "ground", "pot"}
var surfaceWords = []string{"leaf", "leaves", "surface", "canopy", "glass", "cover"}

// named returns the quantity that names speak for; the nearest name decides.
func named(names []string) (q alarms.Quantity, word string) {
	for _, n := range names {
		for _, m := range meanings {
			if slices.Contains(m.words, n) {
				return m.quantity, n
			}
		}
	}
	return "", ""
}

// stranger says what a value seems to be that is no reading.
func stranger(names []string) string {
	for _, s := range strangers {
		for _, n := range names {
			if slices.Contains(s.words, n) {
				return s.what[0]
			}
		}
	}
	return ""
}

// warmth is the kind of temperature that names speak for.
func warmth(names []string) alarms.Quantity {
	for _, n := range names {
		switch {
		case slices.Contains(soilWords, n):
			return alarms.Soil
		case slices.Contains(surfaceWords, n):
			return alarms.Surface
		}
	}
	return alarms.Temperature
}

// unitWord is the unit that the nearest name states: temp_f is in °F.
func unitWord(names []string, q alarms.Quantity) string {
	units := map[alarms.Quantity][][2]string{
		alarms.Temperature: {{"f", "°F"}, {"fahrenheit", "°F"}, {"degf", "°F"}, {"c", "°C"}, {"celsius", "°C"}, {"degc", "°C"}, {"k", "K"}, {"kelvin", "K"}},
		alarms.Humidity:    {{"pct", "%"}, {"percent", "%"}, {"ratio", "ratio"}},
		alarms.Battery:     {{"pct", "%"}, {"percent", "%"}, {"ratio", "ratio"}},
		alarms.Speed:       {{"pct", "%"}, {"percent", "%"}, {"ratio", "ratio"}},
		alarms.Opening:     {{"pct", "%"}, {"percent", "%"}, {"ratio", "ratio"}},
		alarms.Voltage:     {{"mv", "mV"}, {"v", "V"}},
		alarms.Current:     {{"ma", "mA"}, {"a", "A"}},
		alarms.Power:       {{"kw", "kW"}, {"w", "W"}},
		alarms.Pressure:    {{"hpa", "hPa"}, {"mbar", "hPa"}, {"kpa", "kPa"}, {"pa", "Pa"}, {"inhg", "inHg"}},
	}
	if q == alarms.Soil || q == alarms.Surface {
		q = alarms.Temperature
	}
	for _, n := range names {
		for _, u := range units[q] {
			if u[0] == n {
				return u[1]
			}
		}
	}
	return ""
}

// Speaks reports whether a word of a name, in lower case, speaks for what is
// measured or its unit, and not for where.
func Speaks(word string) bool {
	q, _ := named([]string{word})
	units := []string{"c", "f", "k", "pct", "percent", "ratio", "degrees", "deg", "air", "relative", "value", "reading", "rel"}
	return q != "" && q != alarms.Contact || slices.Contains(units, word) || slices.Contains(meanWords, word)
}
