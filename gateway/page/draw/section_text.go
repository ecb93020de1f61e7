package draw

import (
	"slices"
	"strconv"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
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
func fitted(text string, size, room float64) float64 { return round1(min(widthOf(text, size), room)) }

// longestLine is the longest that a line is set in a drawing as wide as the
// page, in ems: so much has room on the narrowest screen.
const longestLine = 21.0

// Ems is the same for drawings in which text keeps its size: in ems.
func Ems(text string) string {
	return strconv.FormatFloat(min(widthOf(text, 1), longestLine), 'f', 2, 64) + "em"
}

// widthOf is how much room text is given: about what it takes in a font neither
// wide nor narrow.
func widthOf(text string, size float64) float64 {
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

// drawn reports whether q stands in the drawing as a number. What else a probe
// measures is listed beside it, and a drive's own probes are its shape.
func drawn(q alarms.Quantity) bool { return q.Facts().Of == alarms.OfPlants && !q.Derived() }

// widestValue is the longest value that is set at its full width.
func widestValue(w words.Words, q alarms.Quantity) string {
	if q.Facts().Digits == 0 {
		return "100" + w.Unit(q)
	}
	return "88.8" + w.Unit(q)
}

// tagOf reports what is not of the air.
func tagOf(w words.Words, q alarms.Quantity) string {
	if tag := w.Core.Tag(q); tag != "" {
		return " " + tag
	}
	return ""
}

// nextTag is the tag of the number i of a place: that of the main one is in the
// place's name.
func nextTag(w words.Words, i int, q alarms.Quantity) string {
	if i == 0 {
		return ""
	}
	return tagOf(w, q)
}

// longestBrief is about the longest of what briefly says.
const longestBrief tongue.Text = "near its limit"

// briefly says how a value stands to its limits, in the few words that fit
// beside a number; the whole sentence is in the list.
func briefly(w words.Words, p alarms.PointPicture, st words.Standing) string {
	switch {
	case !p.HasValue:
		return w.Say("not heard yet")
	case !p.Live && p.Retained:
		return w.Say("stored value")
	case !p.Live:
		return w.Say("last known")
	case st.Mark == "near":
		return w.Say(longestBrief)
	case st.Mark != "beyond" && st.Mark != "far-beyond":
		return ""
	}
	said := w.Core.Beyond(p.Quantity, p.Side)
	if p.Quantity == alarms.DewMargin {
		said = w.Say(map[alarms.Side]tongue.Text{alarms.LowSide: "near dew", alarms.HighSide: "far from dew"}[p.Side])
	}
	if st.Mark == "far-beyond" {
		said = w.Say("far %s", said)
	}
	return said
}

// longestName has room in a gutter.
const longestName = 90.0

// shortName is what of a name stands in the drawing: up to a comma, and no more
// words, or of the first no more letters, than have so much room.
func shortName(name string, room float64) string {
	name, _, _ = strings.Cut(name, ",")
	if widthOf(name, textSmall) <= room {
		return name
	}
	letters := []rune(name)
	fit := len(letters) - 1
	for fit > 1 && widthOf(string(letters[:fit])+"…", textSmall) > room {
		fit--
	}
	if slices.Contains(letters[1:fit+1], ' ') {
		for letters[fit] != ' ' {
			fit--
		}
	}
	return string(letters[:fit]) + "…"
}
