// Package crop knows, for common greenhouse crops, the temperatures, humidity
// and vapour pressure deficit beyond which they suffer, each figure with what
// it means, where it comes from and how far it can be trusted.
//
// Low and high are where growth or fruit set stops or harm begins; low-low and
// high-high are where the plant or its crop is injured or killed. They are
// starting points for alarms, not targets for growing: published monthly means
// and best ranges are not used as limits. A grower who knows the variety
// should set limits of his own.
package crop

import (
	"slices"
	"strings"
	"time"
)

// Crop is what is known of one crop. Limits without a known figure are empty.
type Crop struct {
	Name     string // as written in a config: lower-case words joined by hyphens
	Plain    string // as said in a sentence
	Day      Limits // air temperature by day, °C
	Night    Limits // air temperature by night, °C
	Humidity Limits // relative humidity, %
	VPD      Limits // vapour pressure deficit of the air, kPa
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
	// After is how long the value may be passed before it does harm, where
	// that is long enough to wait for; 0: tell at once.
	After time.Duration
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

var markNames = [...]string{"seen", "derived", "memory", "practice"}

func (m Mark) String() string {
	if int(m) < len(markNames) {
		return markNames[m]
	}
	return "unknown"
}

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

// Entry says which limit of a crop a figure is.
type Entry struct {
	Quantity string // "temperature by day", "temperature by night", "humidity", "vapour pressure deficit"
	Limit    string // "low-low", "low", "high", "high-high"
	Figure   Figure
}

// Figures returns every known figure of c in a fixed order.
func (c Crop) Figures() []Entry {
	var list []Entry
	for _, q := range []struct {
		name   string
		limits Limits
	}{{"temperature by day", c.Day}, {"temperature by night", c.Night}, {"humidity", c.Humidity}, {"vapour pressure deficit", c.VPD}} {
		for _, p := range q.limits.entries(q.name) {
			if p.Figure.Known() {
				list = append(list, p)
			}
		}
	}
	return list
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
