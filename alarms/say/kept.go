package say

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// English is what tongue.Keep made s of in words, for logs and whoever runs a command.
func English(s string) string { return Locale{}.Kept(s, time.Time{}) }

// notes are what the watch itself notes.
var notes = []tongue.Text{alarms.NoteNoEnd, alarms.NoteTooLong, alarms.NoteTrialLong, alarms.NoteReplanned, alarms.NoteAtFirst, alarms.NoteByText}

// Who is who did something, By of a reason.
func (m Locale) Who(by string) string {
	if name, ok := strings.CutSuffix(by, alarms.ByLink); ok && name != "" {
		return m.say("%s, by a link", name)
	}
	if by == alarms.ByPage {
		return m.say(alarms.ByPage)
	}
	return by
}

// Kept is what tongue.Keep made s of in words, as read at now. Text is as it is, but for
// what the watch itself notes.
func (m Locale) Kept(s string, now time.Time) string {
	x, ok := tongue.Kept(s)
	switch {
	case !ok && slices.Contains(notes, tongue.Text(s)):
		return m.say(tongue.Text(s))
	case !ok:
		return s
	}
	for i, arg := range x.Args {
		switch a := arg.(type) {
		case string:
			x.Args[i] = m.Kept(a, now)
		case time.Time:
			x.Args[i] = m.Clock(a, now)
		case tongue.Moment:
			x.Args[i] = m.Moment(time.Time(a))
		case tongue.Day:
			x.Args[i] = m.Tongue.Date("Monday 2 January 2006", m.local(time.Time(a)))
		case time.Duration:
			x.Args[i] = m.Span(a)
		}
	}
	return x.In(m.Tongue)
}
