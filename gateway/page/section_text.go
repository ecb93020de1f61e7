package page

import (
	"strings"

	"telltale/alarms"
)

// Sizes of text in a drawing, in its units.
const (
	textBig   = 25.0 // the main number of a place
	textNext  = 18.0 // its other numbers
	textSmall = 13.0 // names and words
	markRoom  = 18.0 // before a number that has a band
)

// wide is how much room text takes at most, measured generously: fonts differ.
func wide(text string, size float64) float64 {
	sum := 0.0
	for _, r := range text {
		switch {
		case strings.ContainsRune(".,:;'il|jI!’ \u00a0", r):
			sum += 0.31
		case strings.ContainsRune("ftr()-/°", r):
			sum += 0.41
		case strings.ContainsRune("mwMW%@…", r):
			sum += 0.93
		case r >= 'A' && r <= 'Z':
			sum += 0.73
		default:
			sum += 0.58
		}
	}
	return sum * size
}

// drawnQuantities stand in the drawing as numbers. What else a probe measures
// is listed beside it, and a drive's own probes are its shape.
var drawnQuantities = map[alarms.Quantity]bool{
	alarms.Temperature: true, alarms.Soil: true, alarms.Surface: true, alarms.Humidity: true}

// widestValue is the longest value that room is kept for.
func (w words) widestValue(q alarms.Quantity) string {
	if q == alarms.Humidity {
		return "100" + w.unit(q)
	}
	return "−88.8" + w.unit(q)
}

// tagOf tells a temperature that is not one of the air.
func tagOf(q alarms.Quantity) string {
	switch q {
	case alarms.Soil:
		return "soil"
	case alarms.Surface:
		return "leaf"
	}
	return ""
}

var tooWords = map[alarms.Quantity][2]string{ // below, above
	alarms.Humidity: {"too dry", "too damp"}, alarms.VPD: {"too damp", "too dry"}, alarms.DewMargin: {"near dew", "far from dew"},
	alarms.Temperature: {"too cold", "too warm"}, alarms.Soil: {"too cold", "too warm"}, alarms.Surface: {"too cold", "too warm"}}

// briefly says how a value stands to its limits, in the few words that fit
// beside a number; the whole sentence is in the list.
func briefly(p alarms.PointPicture, st standing) string {
	switch {
	case !p.HasValue:
		return "not heard yet"
	case !p.Live && p.Retained:
		return "stored value"
	case !p.Live:
		return "last known"
	case st.Mark == "near":
		return "near its limit"
	case st.Mark != "beyond" && st.Mark != "far-beyond":
		return ""
	}
	both, ok := tooWords[p.Quantity]
	if !ok {
		both = [2]string{"too low", "too high"}
	}
	said := both[1]
	if p.Side == alarms.LowSide {
		said = both[0]
	}
	if st.Mark == "far-beyond" {
		said = "far " + said
	}
	return said
}

// longestName is how many letters of a name fit.
const longestName = 15

// shortName is what of a name stands in the drawing: up to a comma, and no more
// words than fit.
func shortName(name string) string {
	name, _, _ = strings.Cut(name, ",")
	if len([]rune(name)) <= longestName {
		return name
	}
	out := ""
	for _, word := range strings.Fields(name) {
		if next := strings.TrimSpace(out + " " + word); len([]rune(next)) < longestName {
			out = next
			continue
		}
		break
	}
	if out == "" {
		out = string([]rune(name)[:longestName-1])
	}
	return out + "…"
}
