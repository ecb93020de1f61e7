package say

import (
	"cmp"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// wording is all that is said of one quantity alone.
type wording struct {
	quantity alarms.Quantity
	word     tongue.Text
	low      tongue.Text // what a value below its limits is; empty: "too low"
	high     tongue.Text // above; empty: "too high"
	// what these are said of: empty is the word, own that they say it themselves, and
	// lead that they do, but that the value must say what it is of
	of           tongue.Text
	lead         bool
	below, above tongue.Text // what to look at first; empty: at the thing itself
	moves        tongue.Text // the same where it changes fast
	look         tongue.Text // to look where no probe shows it; empty: there
	tag          tongue.Text // to stand behind a value where nothing else says what it is of
}

// own is said of nothing: "too cold".
const own tongue.Text = "-"

// wordings are what is said of every quantity, the gravest to lose first.
var wordings = []wording{
	{quantity: alarms.Temperature, word: "temperature", low: "too cold", high: "too hot", of: own, look: "look at a thermometer there yourself"},
	{quantity: alarms.Soil, word: "soil temperature", low: "too cold", high: "too hot", of: "soil",
		below: "is the heating mat, if there is one, running?", above: "is a heating mat stuck on, or has the bed dried out?", tag: "soil",
		look: "look at a thermometer in the soil there yourself"},
	{quantity: alarms.Humidity, word: "humidity", low: "too dry", high: "too damp", of: own, lead: true,
		below: "do the plants need water or shade?", above: "can the house be aired? Is something dripping, or just watered?",
		look: "look at a hygrometer and the leaves yourself"},
	{quantity: alarms.Surface, word: "surface temperature", low: "too cold", high: "too hot", of: "surface", tag: "leaf", look: "look at the leaves there yourself"},
	{quantity: alarms.Moisture, word: "soil moisture", low: "too dry", high: "too wet", of: "soil", tag: "soil",
		below: "is the water on, and does it reach this bed? Feel the soil a finger deep before you water",
		above: "has a valve or a tap been left open, and does the bed drain?",
		moves: "has it been watered, or was the probe pulled out?", look: "look at the soil there yourself"},
	{quantity: alarms.Fullness, word: "level", tag: "level",
		below: "is it filled, and is there a leak or an open tap?",
		above: "does what fills it stop? Look at its float valve and at the overflow",
		moves: "a leak, or a tap or a pump left on?", look: "look into the tank yourself"},
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
	return wording{word: tongue.Text(q)}
}

// Word returns q in plain words.
func (m Locale) Word(q alarms.Quantity) string { return m.say(wordsOf(q).word) }

// Tag tells in a word what a value is of where neither its place nor its unit does:
// "soil".
func (m Locale) Tag(q alarms.Quantity) string { return m.say(wordsOf(q).tag) }

func (m Locale) words(qs []alarms.Quantity) []string {
	return walk.Each(qs, m.Word)
}

// orThe names what is measured, to follow "what ".
func (s *speaker) orThe(subject string) string {
	if subject == "" {
		return s.say("the temperature ")
	}
	return s.say("the %s", subject)
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
		return m.say(cmp.Or(w.low, "too low"))
	}
	return m.say(cmp.Or(w.high, "too high"))
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
			return m.say("leaves getting wet")
		}
		return m.say("leaves close to getting wet")
	}
	words := m.Beyond(q, s)
	if l == alarms.Inner {
		words = m.say("far %s", words)
	}
	if w := wordsOf(q); w.of != own {
		words = m.say("%s %s|what is amiss", m.say(cmp.Or(w.of, w.word)), words)
	}
	return words
}

// AmissFast says in plain words what is wrong where q changes too fast: "cooling
// fast", "humidity rising fast".
func (m Locale) AmissFast(q alarms.Quantity, s alarms.Side) string {
	word := m.say("rising")
	switch {
	case q == alarms.Temperature && s == alarms.LowSide:
		return m.say("cooling fast")
	case q == alarms.Temperature:
		return m.say("warming fast")
	case s == alarms.LowSide:
		word = m.say("falling")
	}
	return m.say("%s %s fast", m.Word(q), word)
}
