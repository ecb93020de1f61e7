package forms

import (
	"regexp"
	"strings"
	"testing"

	"telltale/alarms/tongue"
)

// english are words that German has not, by which a sentence that was left in English
// is found.
var english = regexp.MustCompile(`(?i)\b(must|got|the|and|of|is|are|not|with|one|give|say|nobody|needs|from .* to)\b`)

// What is wrong is said in the language of the form, at its field or below, and the words
// of the file stay as they are.
func TestWhatIsWrongIsSaidInGerman(t *testing.T) {
	const bench = "house/long-house/place/bench/temperature"
	for _, c := range []struct{ at, field, value, says string }{
		{bench, "high", "much", `Muss eine Zahl sein, ohne Anführungszeichen (angegeben: "much")`},
		{bench, "high", "500", `Muss zwischen -60 und 100 °C liegen (angegeben: 500)`},
		{bench, "rise-per-hour", "0", `Muss zwischen 0.01 und 1600 K je Stunde liegen (angegeben: 0)`},
		{bench, "delay", "soon", `Muss eine Zeitdauer wie "30s", "5m", "2h" oder "90d" sein (angegeben: "soon")`},
		{bench, "delay", "13h", `Muss zwischen 0s und 12h liegen (angegeben: 13h)`},
		{bench, "priority", "hihg", `Muss "low", "medium" oder "high" sein (angegeben: "hihg"); ist "high" gemeint?`},
		{"house/long-house/place/bench", "crop", "tomatoe", `Ist keine Kultur mit bekannten Grenzen (angegeben: "tomatoe"); ist "tomato" gemeint?`},
		{"house/long-house/place/bench", "directions", strings.Repeat("x", 201), `Darf höchstens 200 Zeichen lang sein (es sind 201): sagen, was an der Tür hilft, und das Übrige dort auf Papier hinterlegen`},
		{"house/long-house/drive/exhaust", "barred", "summer", `Muss "open", "changing" oder "winter" sein (angegeben: "summer")`},
		{"house/long-house/drive/exhaust", "hours", "5-9", `Muss von und bis nach der Uhr angeben, etwa "05:30-09:00", mit "00:00" für den Anfang des Tages und "24:00" für sein Ende (angegeben: "5-9")`},
		{"house/long-house/drive/exhaust/evidence", "0.probe", "fan-9", `Ist kein Fühler von Haus long-house (angegeben: "fan-9"); ist "fan-1" gemeint?`},
		{"house/long-house/drive/+", called, "Warmth", `Fehlt: sagen, was er ist, etwa "exhaust-fan"`},
		{"house/long-house/form", "ridge", "ft", `Muss eine Länge mit Einheit sein, "m", "cm", "mm", "ft" oder "in", etwa "1.5 m" (angegeben: "ft")`},
		{"house/long-house", "longitude", "", `house.long-house: latitude und longitude gehören zusammen: beide angeben oder keines`},
		{"person/+", called, "Ben", `Fehlt: die Wege zu dieser Person nennen, etwa channels = ["mail"]`},
		{"probe/bench-1/temperature", "from", "air", `Muss wegfallen: eine bloße Zahl ist die ganze Nutzlast (angegeben: "air")`},
		{"probe/bench-1/temperature", "unit", "Pa", `Muss eine Einheit von temperature sein: `},
		{"probe/bench-1", "topic", "a/#/b", `Darf # nur als letzte Ebene haben (angegeben: "a/#/b")`},
		{"words", "zone", "Garden", `Muss ein Name der IANA-Zeitzonendatenbank sein, etwa "UTC" oder "CET" (angegeben: "Garden")`},
	} {
		d := draft(t, small)
		f, is := Of(d, tongue.German, c.at)
		if !is {
			t.Errorf("%s has no form", c.at)
			continue
		}
		v := as(f)
		v[c.field] = []string{c.value}
		out := Fill(d, f, v)
		all := append(out.Problems, out.Warnings...)
		for _, g := range out.Form.Groups {
			for _, one := range g.Fields {
				if one.Wrong != "" {
					all = append(all, one.Wrong)
				}
			}
		}
		says := strings.Join(all, "\n")
		if !out.Wrong() || !strings.Contains(says, c.says) {
			t.Errorf("%s %s = %s: got %q, want %q", c.at, c.field, c.value, says, c.says)
		}
		for _, one := range all {
			if word := english.FindString(regexp.MustCompile(`"[^"]*"|\S*[.=-]\S*|\[[^]]*\]`).ReplaceAllString(one, "")); word != "" {
				t.Errorf("%s %s = %s: %q is English in %q", c.at, c.field, c.value, word, one)
			}
		}
	}
}
