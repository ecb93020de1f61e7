// Package tongue holds what is said to people as data: each sentence is a Text, in
// English, and a table has it in every other language. So English stays where it is
// said, and no code knows which language a reader has; a language is the tables of
// its files here, german.go and what is named for it.
//
// A Text is a whole sentence, or a part that stands for itself, with the verbs of
// fmt for what is filled in; a table may take these in another order ("%[2]s"). Names
// that a grower gave are filled in as they are, so a language whose nouns bend says
// them where they need not. Two texts that read alike in English and not elsewhere
// are told apart by what follows a bar: "at|a time" reads "at".
//
// A test demands that every Text of the program is in the tables,
// in every language and with the same verbs, and that no table has others.
package tongue

import (
	"cmp"
	"fmt"
	"strings"
)

// Tongue is a language, by its code of ISO 639-1; English is the zero value.
type Tongue string

// The languages there are.
const (
	English Tongue = ""
	German  Tongue = "de"
)

// Tongues are all languages.
func Tongues() []Tongue { return []Tongue{English, German} }

// Code is the code of t by ISO 639-1, as documents and browsers name it.
func (t Tongue) Code() string { return cmp.Or(string(t), "en") }

// Name is what t is called in t.
func (t Tongue) Name() string {
	return map[Tongue]string{English: "English", German: "Deutsch"}[t]
}

// decimals are the decimal marks of the languages that have no point.
var decimals = map[Tongue]string{German: ","}

// Decimal is the decimal mark that t usually has; "": a point.
func (t Tongue) Decimal() string { return decimals[t] }

// Text is what is said, in English.
type Text string

// tables have the texts in the languages that are not English.
var tables = map[Tongue][]map[Text]string{
	German: {
		german,
		germanChannels,
		germanChoices,
		germanCompanion,
		germanConfig,
		germanConfigHouse,
		germanConfigTold,
		germanDate,
		germanDecode,
		germanEntry,
		germanForms,
		germanLetter,
		germanPage,
		germanPageAnswers,
		germanPageMore,
		germanPageNow,
		germanPageReport,
		germanPageSetup,
		germanPageTold,
		germanPageTrust,
		germanPlan,
		germanPageYear,
		germanReach,
		germanRefuse,
		germanReplies,
		germanSayCauses,
		germanSayControl,
		germanSayDrive,
		germanSayExposure,
		germanSayFirst,
		germanSayLimits,
		germanSayPicture,
		germanSayWatch,
		germanTrouble,
	},
}

// Say is x in t, with args filled in. What no table has is said in English.
func (t Tongue) Say(x Text, args ...any) string {
	pattern := t.pattern(x)
	if len(args) == 0 {
		return pattern
	}
	return fmt.Sprintf(pattern, args...)
}

// Known is s in t where it is a Text of ours; a grower's own words are as they are.
func (t Tongue) Known(s string) string {
	if p, ok := t.said(Text(s)); ok {
		return p
	}
	return s
}

func (t Tongue) pattern(x Text) string {
	if p, ok := t.said(x); ok {
		return p
	}
	english, _, _ := strings.Cut(string(x), "|")
	return english
}

func (t Tongue) said(x Text) (p string, ok bool) {
	for _, table := range tables[t] {
		if p, ok = table[x]; ok {
			return p, true
		}
	}
	return "", false
}
