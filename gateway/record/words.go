package record

import (
	"bytes"
	"slices"
	"strings"
	"unicode"
)

// Words that headers use, in some languages of the trade; common practice, no
// source.
var (
	timeWords  = []string{"time", "date", "datetime", "timestamp", "when", "stamp", "recorded", "measured", "clock", "zeit", "datum", "uhrzeit", "zeitpunkt", "zeitstempel", "heure", "horodatage", "fecha", "hora", "data", "ora", "tijd", "tijdstip", "unix", "epoch"}
	valueWords = []string{"value", "reading", "measurement", "val", "wert", "messwert", "valeur", "valor", "valore", "waarde"}
	keyWords   = []string{"probe", "sensor", "device", "node", "station", "place", "location", "room", "house", "greenhouse", "bench", "name", "id", "entity", "channel", "quantity", "parameter", "param", "variable", "measure", "metric", "type", "kind", "unit", "units", "series", "tag", "sensorid", "fühler", "ort", "messgröße", "einheit"}
	unitWords  = []string{"°c", "c", "degc", "deg c", "°f", "f", "degf", "deg f", "k", "%", "%rh", "% rh", "rh%", "v", "mv", "a", "ma", "w", "kw", "w/m2", "w/m²", "w/m^2", "pa", "hpa", "kpa", "mbar", "inhg", "ppm", "lux", "m/s", "mm", "rn", "ts", "umol/m2/s", "µmol/m²/s", "s", "min", "h", "yyyy-mm-dd", "hh:mm", "hh:mm:ss"}
)

// has reports whether a name has one of words among its own.
func has(name string, words []string) bool {
	return slices.ContainsFunc(Words(name), func(w string) bool { return slices.Contains(words, w) })
}

// Words are the words of a name, in small letters: "Air Temp (°C)" has air, temp
// and c; "sensorName" has sensor and name.
func Words(name string) []string {
	var b strings.Builder
	before := ' '
	for _, r := range name {
		if unicode.IsUpper(r) && unicode.IsLower(before) {
			b.WriteByte(' ')
		}
		if !unicode.IsLetter(r) && !unicode.IsDigit(r) {
			r = ' '
		}
		b.WriteRune(unicode.ToLower(r))
		before = r
	}
	return strings.Fields(b.String())
}

// missing are marks of a value that is not there, in lower case; of the numbers
// those that no probe can measure.
var missing = [][]byte{[]byte("-"), []byte("--"), []byte("---"), []byte("na"), []byte("n/a"), []byte("#n/a"), []byte("nan"), []byte("null"), []byte("nil"),
	[]byte("none"), []byte("empty"), []byte("missing"), []byte("unknown"), []byte("unavailable"), []byte("?"), []byte("*"), []byte("."), []byte("x"), []byte("#value!"),
	[]byte("#div/0!"), []byte("#num!"), []byte("#ref!"), []byte("no data"), []byte("nodata"), []byte("-999"), []byte("-9999"), []byte("-99999"), []byte("-6999"), []byte("-7999")}

// isMissing reports whether a cell says that there is no value.
func isMissing(b []byte) bool {
	if len(b) == 0 {
		return true
	}
	if c := b[0]; len(b) > 12 || c >= '0' && c <= '9' {
		return false
	}
	if b[0] == '-' {
		if i := bytes.IndexAny(b, ".,"); i > 0 && len(bytes.Trim(b[i+1:], "09")) == 0 { // -999.9, -9999.0
			b = b[:i]
		}
	}
	return slices.ContainsFunc(missing, func(m []byte) bool { return bytes.EqualFold(b, m) })
}

// looksNumber reports whether a cell is a number as a table has it, perhaps
// with a decimal comma, perhaps with its unit behind it.
func looksNumber(b []byte) bool {
	i := 0
	if i < len(b) && (b[i] == '-' || b[i] == '+') {
		i++
	}
	n := 0
	for ; i < len(b) && (b[i] >= '0' && b[i] <= '9' || b[i] == '.' || b[i] == ','); i++ {
		if b[i] >= '0' && b[i] <= '9' {
			n++
		}
	}
	rest := trim(b[i:])
	if n > 0 && len(rest) > 1 && rest[0]|0x20 == 'e' && (rest[1] == '-' || rest[1] == '+' || rest[1] >= '0' && rest[1] <= '9') {
		return true
	}
	return n > 0 && len(rest) <= 4 && !bytes.ContainsAny(rest, "0123456789:/-")
}
