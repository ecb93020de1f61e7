package decode

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// strangers are words of what is no reading of a probe, or none that is
// watched. Those that only say what something is about say nothing of what a nearer
// name calls a quantity: the power within "energy" is power.
var strangers = []struct {
	what  tongue.Text
	about bool
	words []string
}{
	{"what is wanted, not what is measured", false, []string{"setpoint", "target", "desired", "wanted", "limit", "threshold", "offset", "calibration"}},
	{"summed up, not a reading", false, []string{"min", "max", "avg", "mean", "minimum", "maximum", "average", "total"}},
	{"worked out from temperature and humidity by the watch itself", false, []string{"dew", "dewpoint", "vpd"}},
	{"how warm it feels, which plants do not", false, []string{"feels", "index"}},
	{"nothing that is watched", false, []string{"co", "uv", "par", "ppm", "pm", "voc", "ph", "ec", "rain", "wind"}},
	{"nothing that is watched", true, []string{"energy"}},
	{"about the probe itself, not what it measures", true, []string{"id", "seq", "sequence", "count", "counter", "uptime", "version", "firmware", "fw", "heap", "channel", "port", "snr", "lat", "lon", "latitude", "longitude", "boot", "boots", "retries"}},
}

var soilWords = []string{"soil", "root", "roots", "substrate", "ground", "pot"}
var surfaceWords = []string{"leaf", "leaves", "surface", "canopy", "glass", "cover"}

// named returns the quantity that names speak for; the nearest name decides.
func named(names []string) (q alarms.Quantity, word string) {
	for i, n := range names {
		if q := spoken(n); q != "" {
			return q, n
		}
		for _, r := range table {
			if !slices.Contains(r.faint, n) {
				continue
			}
			if i+1 < len(names) && len(names[i+1]) > 1 && spoken(names[i+1]) != "" { // the level of a battery
				return named(names[i+1:])
			}
			return r.quantity, n
		}
	}
	return "", ""
}

// spoken is the quantity that a word speaks for by itself.
func spoken(word string) alarms.Quantity {
	for _, r := range table {
		if slices.Contains(r.words, word) {
			return r.quantity
		}
	}
	return ""
}

// stranger says what a value seems to be that is no reading.
func stranger(names []string) tongue.Text {
	for _, s := range strangers {
		for _, n := range names {
			if slices.Contains(s.words, n) {
				return s.what
			}
			if s.about && spoken(n) != "" {
				break
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
	fit := unitsOf(q).fit
	for _, n := range names {
		if i := slices.IndexFunc(fit, func(u unit) bool { return slices.Contains(u.inName, n) }); i >= 0 {
			return fit[i].name
		}
	}
	return ""
}

// Speaks reports whether a word of a name, in lower case, speaks for what is
// measured or its unit, and not for where.
func Speaks(word string) bool {
	q := spoken(word)
	units := []string{"c", "f", "k", "pct", "percent", "ratio", "degrees", "deg", "air", "relative", "value", "reading", "rel"}
	return q != "" && q != alarms.Contact || slices.Contains(units, word) || slices.Contains(meanWords, word)
}
