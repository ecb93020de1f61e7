package say

import (
	"cmp"

	"telltale/alarms"
	"telltale/alarms/walk"
)

// wording is all that is said of one quantity alone.
type wording struct {
	quantity alarms.Quantity
	word     string
	low      string // what a value below its limits is; empty: "too low"
	high     string // above; empty: "too high"
	// what these are said of: empty is the word, own that they say it themselves, and
	// lead that they do, but that the value must say what it is of
	of           string
	lead         bool
	below, above string // what to look at first; empty: at the thing itself
	moves        string // the same where it changes fast
	look         string // where to look where no probe shows it; empty: there
	tag          string // to stand behind a value where nothing else says what it is of
}

// own is said of nothing: "too cold".
const own = "-"

// wordings are what is said of every quantity, the gravest to lose first.
var wordings = []wording{
	{quantity: alarms.Temperature, word: "temperature", low: "too cold", high: "too hot", of: own, look: "at a thermometer there"},
	{quantity: alarms.Soil, word: "soil temperature", low: "too cold", high: "too hot", of: "soil",
		below: "is the heating mat, if there is one, running?", above: "is a heating mat stuck on, or has the bed dried out?", tag: "soil",
		look: "at a thermometer in the soil there"},
	{quantity: alarms.Humidity, word: "humidity", low: "too dry", high: "too damp", of: own, lead: true,
		below: "do the plants need water or shade?", above: "can the house be aired? Is something dripping, or just watered?",
		look: "at a hygrometer and the leaves"},
	{quantity: alarms.Surface, word: "surface temperature", low: "too cold", high: "too hot", of: "surface", tag: "leaf", look: "at the leaves there"},
	{quantity: alarms.Moisture, word: "soil moisture", low: "too dry", high: "too wet", of: "soil", tag: "soil",
		below: "is the water on, and does it reach this bed? Feel the soil a finger deep before you water",
		above: "has a valve or a tap been left open, and does the bed drain?",
		moves: "has it been watered, or was the probe pulled out?", look: "at the soil there"},
	{quantity: alarms.Fullness, word: "level", tag: "level",
		below: "is it filled, and is there a leak or an open tap?",
		above: "does what fills it stop? Look at its float valve and at the overflow",
		moves: "a leak, or a tap or a pump left on?", look: "into the tank"},
	{quantity: alarms.Light, word: "light", low: "too dark", high: "too bright", of: own,
		below: "are the lamps on, the shading off and the glass clean?", above: "can it be shaded? Seedlings first, and water them before noon",
		moves: "has the shading been drawn or taken off, or a lamp switched?"},
	{quantity: alarms.VPD, word: "vapour pressure deficit", low: "too damp", high: "too dry", of: own, lead: true,
		below: "can the house be aired or warmed a little? Leaves that stay wet invite mould", above: "do the plants need water, shade, damping down?"},
	{quantity: alarms.DewMargin, word: "margin above the dew point",
		below: "are leaves or the cover wet? Air the house gently, or warm it a little",
		above: "are leaves or the cover wet? Air the house gently, or warm it a little"},
	{quantity: alarms.Contact, word: "contact"},
	{quantity: alarms.Current, word: "current"},
	{quantity: alarms.Power, word: "power"},
	{quantity: alarms.Speed, word: "speed"},
	{quantity: alarms.Opening, word: "position"},
	{quantity: alarms.Battery, word: "battery"},
	{quantity: alarms.Voltage, word: "voltage"},
	{quantity: alarms.Signal, word: "radio signal"},
	{quantity: alarms.Pressure, word: "air pressure"},
}

// wordsOf are the words of q; of what is no quantity its name alone.
func wordsOf(q alarms.Quantity) wording {
	for i := range wordings {
		if wordings[i].quantity == q {
			return wordings[i]
		}
	}
	return wording{word: string(q)}
}

// Word returns q in plain words.
func (m Locale) Word(q alarms.Quantity) string { return wordsOf(q).word }

// Tag tells in a word what a value is of where neither its place nor its unit does:
// "soil".
func (m Locale) Tag(q alarms.Quantity) string { return wordsOf(q).tag }

func (m Locale) words(qs []alarms.Quantity) []string {
	return walk.Each(qs, m.Word)
}

// orThe names what is measured, to follow "what ".
func (m Locale) orThe(subject string) string {
	if subject == "" {
		return "the temperature "
	}
	return "the " + subject
}

// subject is put before a value, except for air temperature.
func (m Locale) subject(q alarms.Quantity) string {
	if q == alarms.Temperature {
		return ""
	}
	return m.Word(q) + " "
}

// Beyond says in plain words what a value of q beyond a limit is, by itself or
// to stand beside the value: "too cold", "too damp".
func (m Locale) Beyond(q alarms.Quantity, s alarms.Side) string {
	w := wordsOf(q)
	if s == alarms.LowSide {
		return cmp.Or(w.low, "too low")
	}
	return cmp.Or(w.high, "too high")
}

// Amiss says in plain words what is wrong where q is beyond a limit of a level:
// "too cold", "far too damp", "soil too cold".
func (m Locale) Amiss(q alarms.Quantity, s alarms.Side, l alarms.Level) string {
	words := m.wrong(q, s, l)
	if q == alarms.VPD {
		words += " (" + m.Word(q) + ")"
	}
	return words
}

func (m Locale) wrong(q alarms.Quantity, s alarms.Side, l alarms.Level) string {
	if q == alarms.DewMargin && s == alarms.LowSide {
		if l == alarms.Inner {
			return "leaves getting wet"
		}
		return "leaves close to getting wet"
	}
	words := m.Beyond(q, s)
	if l == alarms.Inner {
		words = "far " + words
	}
	if w := wordsOf(q); w.of != own {
		words = cmp.Or(w.of, w.word) + " " + words
	}
	return words
}

// AmissFast says in plain words what is wrong where q changes too fast: "cooling
// fast", "humidity rising fast".
func (m Locale) AmissFast(q alarms.Quantity, s alarms.Side) string {
	word := "rising"
	switch {
	case q == alarms.Temperature && s == alarms.LowSide:
		return "cooling fast"
	case q == alarms.Temperature:
		return "warming fast"
	case s == alarms.LowSide:
		word = "falling"
	}
	return m.Word(q) + " " + word + " fast"
}
