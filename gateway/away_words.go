package gateway

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms/tongue"
)

// What people write in texts: words that mean the same, in every language.
const (
	wordsTaken    tongue.Text = "ok okay ack"
	wordsGone     tongue.Text = "gone"
	wordsBack     tongue.Text = "back"
	wordsYes      tongue.Text = "yes"
	wordsStatus   tongue.Text = "status ?"
	wordsMinute   tongue.Text = "m min minute minutes"
	wordsHour     tongue.Text = "h hr hrs hour hours"
	wordsDay      tongue.Text = "d day days"
	wordsWeek     tongue.Text = "w week weeks"
	wordsUntil    tongue.Text = "until till for to"
	wordsToday    tongue.Text = "today tonight"
	wordsTomorrow tongue.Text = "tomorrow"
)

// means reports whether a word, in small letters, is one of some in any language.
func means(words tongue.Text, word string) bool {
	return slices.ContainsFunc(tongue.Tongues(), func(in tongue.Tongue) bool {
		return slices.Contains(strings.Fields(in.Say(words)), word)
	})
}

// isDay reports whether a word is a day of the week, whole, begun or in short.
func isDay(d time.Weekday, word string) bool {
	return slices.ContainsFunc(tongue.Tongues(), func(in tongue.Tongue) bool {
		whole, short := in.Day(d)
		return begins(whole, word) || strings.ToLower(short) == word
	})
}

// isMonth reports whether a word is a month, or begins it.
func isMonth(m time.Month, word string) bool {
	word = strings.TrimSuffix(word, ".")
	return slices.ContainsFunc(tongue.Tongues(), func(in tongue.Tongue) bool { return begins(in.Month(m), word) })
}

// begins reports whether a word is a name, or its beginning of three letters or more.
func begins(name, word string) bool {
	return len(word) >= 3 && strings.HasPrefix(strings.ToLower(name), word)
}
