package reach

import (
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
)

// LetterAlarm is the alarm ID in letters and trials; no real alarm has it.
const LetterAlarm alarms.AlarmID = "watch/letter"

// letterTried is for how long a letter is tried: until it would be missed.
const letterTried = 48 * time.Hour

// Letter is a letter, or a trial, to one person. It goes the way that an alarm goes, as a
// test message does, but is never mixed with other news.
type Letter struct {
	ID       string // as LetterID makes it
	Person   string
	Headline string
	Text     string
	Short    string // the same for one text message
	Confirm  string // address at which the person says that it arrived; "": not there
}

const numbersOfLetters = 1_000_000

// LetterID names a letter by its day and its number.
func LetterID(day time.Time, number int) string {
	return string(LetterAlarm) + "#" + day.Format("20060102") + strconv.Itoa(numbersOfLetters+number%numbersOfLetters)
}

// LetterNumber is the number of a letter by its name; 0: it is none.
func LetterNumber(id string) int {
	digits, found := strings.CutPrefix(id, string(LetterAlarm)+"#")
	if n := len(digits) - len(strconv.Itoa(numbersOfLetters)); found && n > 0 {
		number, _ := strconv.Atoi(digits[n:])
		return max(number-numbersOfLetters, 0)
	}
	return 0
}

// LetterRow makes the row of a letter over one channel. It waits for the end of the
// person's quiet hours.
func (r Rules) LetterRow(l Letter, channel string, now time.Time) (Outgoing, error) {
	if p, ok := r.person(l.Person); ok {
		now = p.Quiet.End(now)
	}
	at := r.local(now)
	return plainRow(Event{
		Version: formVersion, ID: l.ID, Alarm: LetterAlarm, Move: alarms.Note, Priority: alarms.Low, Due: at, Noticed: at, Letter: true,
		Language: r.LocaleOf(l.Person).Tongue, Headline: oneLine(l.Headline), Sentence: l.Text, Short: l.Short, Acknowledge: l.Confirm, Reason: alarms.Reason{Rule: alarms.RulePerson},
	}, channel, l.Person, now)
}
