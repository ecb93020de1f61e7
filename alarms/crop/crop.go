// Package crop knows, for common greenhouse crops, the temperatures, humidity
// and vapour pressure deficit beyond which they suffer, each figure with what
// it means, where it comes from and how far it can be trusted.
//
// A figure is one of three things. What harms at once is a limit: low-low and
// high-high, where a plant or its crop is injured or killed within minutes to
// hours, and where there is one a low or high that warns a little before. What
// harms in hours, days or nights is an Exposure, which counts them. What is good
// or bad for growth without harm is Advice, of which nobody is told. All are
// starting points for alarms, not targets for growing: published monthly means
// and best ranges are not used. A grower who knows the variety should set limits
// of his own.
package crop

import (
	"slices"
	"strconv"
	"strings"
)

// Crop is what is known of one crop. Limits without a known figure are empty.
type Crop struct {
	Name   string // as written in a config: lower-case words joined by hyphens
	Plain  string // as said in a sentence
	Day    Limits // air temperature by day, °C
	Night  Limits // air temperature by night, °C
	Advice []Advice
}

// Advice is a bound within which a plant does well. It raises no alarm.
type Advice struct {
	Of     string // "temperature by day", "humidity" and so on
	AtMost bool   // Figure is the upper bound; else the lower
	Figure Figure
}

// Limits are the four limits of one quantity; those that are set are in
// rising order.
type Limits struct {
	LowLow, Low, High, HighHigh Figure
}

// Figure is one limit. The zero Figure is none.
type Figure struct {
	Value   float64
	Unit    Unit
	Meaning string // what happens beyond it, and how the figure was arrived at
	Source  string
	Mark    Mark
}

// Known reports whether f is a figure at all.
func (f Figure) Known() bool { return f.Source != "" }

// Unit is the unit of a figure.
type Unit string

// Units.
const (
	Celsius    Unit = "°C"
	Percent    Unit = "%"
	Kilopascal Unit = "kPa"
)

// Mark says how far a figure can be trusted.
type Mark uint8

// Marks.
const (
	Seen     Mark = iota // read in the source
	Derived              // worked out from figures read in the source, as the meaning says
	Memory               // remembered, not confirmed
	Practice             // common practice, no source
)

// Lookup finds a crop by its name, in any case and with blanks or underscores
// for hyphens; a few other common names are understood.
func Lookup(name string) (Crop, bool) {
	key := strings.NewReplacer(" ", "-", "_", "-").Replace(strings.ToLower(strings.TrimSpace(name)))
	if other, ok := otherName(key); ok {
		key = other
	}
	for _, c := range all() {
		if c.Name == key {
			return c, true
		}
	}
	return Crop{}, false
}

// Names returns the name of every crop, sorted.
func Names() []string {
	var names []string
	for _, c := range all() {
		names = append(names, c.Name)
	}
	slices.Sort(names)
	return names
}

// Trust says how far the figures of c, those of its exposures among them, can be
// trusted: "Of its 14 limits 3 were read in the source named, ...".
func (c Crop) Trust() string {
	marks := map[Mark]int{}
	n := 0
	count := func(f Figure) {
		if f.Known() {
			marks[f.Mark]++
			n++
		}
	}
	for _, e := range c.Figures() {
		count(e.Figure)
	}
	for _, x := range c.Exposures() {
		count(x.Limit)
	}
	var parts []string
	for _, one := range []struct {
		mark      Mark
		one, many string
	}{
		{Seen, "was read in the source named", "were read in the source named"},
		{Derived, "is worked out from figures read there", "are worked out from figures read there"},
		{Memory, "cites its source from memory", "cite their source from memory"},
		{Practice, "is common practice, without a source", "are common practice, without a source"},
	} {
		switch k := marks[one.mark]; {
		case k == 0:
		case k == n:
			return "All its " + strconv.Itoa(n) + " limits " + one.many + "."
		case k == 1:
			parts = append(parts, "1 "+one.one)
		default:
			parts = append(parts, strconv.Itoa(k)+" "+one.many)
		}
	}
	return "Of its " + strconv.Itoa(n) + " limits " + strings.Join(parts, ", ") + "."
}

// Entry says which limit of a crop a figure is.
type Entry struct {
	Quantity string // "temperature by day", "temperature by night"; of advice what it is of
	Limit    string // "low-low", "low", "high", "high-high", "at least", "at most"
	Figure   Figure
}

// Figures returns every known limit of c and then all advice, in a fixed order.
func (c Crop) Figures() []Entry {
	var list []Entry
	for _, q := range []struct {
		name   string
		limits Limits
	}{{byDay, c.Day}, {byNight, c.Night}} {
		for _, p := range q.limits.entries(q.name) {
			if p.Figure.Known() {
				list = append(list, p)
			}
		}
	}
	for _, a := range c.Advice {
		list = append(list, Entry{a.Of, a.bound(), a.Figure})
	}
	return list
}

func (a Advice) bound() string {
	if a.AtMost {
		return "at most"
	}
	return "at least"
}

func (l Limits) entries(quantity string) [4]Entry {
	return [4]Entry{{quantity, "low-low", l.LowLow}, {quantity, "low", l.Low},
		{quantity, "high", l.High}, {quantity, "high-high", l.HighHigh}}
}

func otherName(key string) (string, bool) {
	switch key {
	case "eggplant":
		return "aubergine", true
	case "pepper", "bell-pepper", "hot-pepper", "chilli":
		return "sweet-pepper", true
	case "bean", "green-bean", "french-bean":
		return "snap-bean", true
	case "cantaloupe", "muskmelon":
		return "melon", true
	case "cactus", "cacti", "succulent":
		return "succulents", true
	case "seedling":
		return "seedlings", true
	case "satsuma", "tangerine":
		return "mandarin", true
	case "pelargonium", "fuchsia", "geranium":
		return "tender-perennials", true
	}
	return key, false
}

func all() []Crop {
	return slices.Concat(fruiting(), leafy(), woody(), ornamental())
}
