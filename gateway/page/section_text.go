package page

import (
	"strconv"
	"strings"

	"telltale/alarms"
)

// Sizes of text in a drawing, in its units.
const (
	textBig   = 25.0 // the main number of a place
	textNext  = 18.0 // its other numbers
	textUnit  = 14.0
	textSmall = 13.0 // names and words
	markRoom  = 18.0 // before a number that has a band
)

// fitted is the length that text is set to where there is so much room. The
// browser sets it just so long whatever its font is (textLength, SVG 2, section
// 11.5), so no text outgrows what is kept for it.
func fitted(text string, size, room float64) float64 { return round1(min(wide(text, size), room)) }

// longestLine is the longest that a line is set in a drawing as wide as the
// page, in ems: so much has room on the narrowest screen.
const longestLine = 21.0

// long is the same for drawings in which text keeps its size: in ems.
func long(text string) string {
	return strconv.FormatFloat(min(wide(text, 1), longestLine), 'f', 2, 64) + "em"
}

// wide is how much room text is given: about what it takes in a font neither
// wide nor narrow.
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
		case r >= 0x1100: // scripts whose letters are as wide as high, and others that are no wider
			sum += 1
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

// longestBrief is about the longest of what briefly says.
const longestBrief = "near its limit"

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
	said := p.Quantity.Amiss(p.Side)
	if p.Quantity == alarms.DewMargin {
		said = map[alarms.Side]string{alarms.LowSide: "near dew", alarms.HighSide: "far from dew"}[p.Side]
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
