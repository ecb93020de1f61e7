package forms

import (
	"cmp"

	"telltale/alarms/tongue"
)

// choiceTexts are the values of keys that one is chosen of, by the value or, where that is
// of more than one kind, by key and value: in English by themselves.
var choiceTexts = map[string]tongue.Text{
	"en": "en|a choice", "de": "de|a choice",
	"low": "low|a choice", "medium": "medium|a choice", "high": "high|a choice",
	"lean-to": "lean-to|a choice", "ridge": "ridge|a choice",
	"cooling": "cooling|a choice", "heating": "heating|a choice", "drying": "drying|a choice", "moistening": "moistening|a choice",
	"exhaust-fan": "exhaust-fan|a choice", "intake-shutter": "intake-shutter|a choice", "loop-fan": "loop-fan|a choice", "heater": "heater|a choice",
	"circulating-fan": "circulating-fan|a choice", "grow-light": "grow-light|a choice", "misting": "misting|a choice",
	"door": "door|a choice", "window": "window|a choice", "lid": "lid|a choice",
	"mail": "mail|a choice", "command": "command|a choice", "kind/text": "text|a choice", "ring": "ring|a choice",
	"none":   "none|a choice",
	"monday": "monday|a choice", "tuesday": "tuesday|a choice", "wednesday": "wednesday|a choice", "thursday": "thursday|a choice",
	"friday": "friday|a choice", "saturday": "saturday|a choice", "sunday": "sunday|a choice",
	"act": "act|a choice", "look": "look|a choice", "accompany": "accompany|a choice",
	"debug": "debug|a choice", "info": "info|a choice", "warn": "warn|a choice", "error": "error|a choice",
}

// choice is a value that a key may have, with what it means beside it where that is another
// word in the visitor's language.
func (b builder) choice(key, value string) Choice {
	said := value
	if text := cmp.Or(choiceTexts[key+"/"+value], choiceTexts[value]); text != "" {
		said = b.Say(text)
	}
	if said == value {
		return Choice{value, value}
	}
	return Choice{value, b.Say("%s (%s)|a choice", value, said)}
}
