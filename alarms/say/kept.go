package say

import (
	"time"

	"telltale/alarms/tongue"
)

// English is what tongue.Keep made s of in words, for logs and whoever runs a command.
func English(s string) string { return Locale{}.Kept(s, time.Time{}) }

// Kept is what tongue.Keep made s of in words, as read at now; text is as it is.
func (m Locale) Kept(s string, now time.Time) string {
	x, args, ok := tongue.Kept(s)
	if !ok {
		return s
	}
	for i, arg := range args {
		switch a := arg.(type) {
		case string:
			args[i] = m.Kept(a, now)
		case time.Time:
			args[i] = m.Clock(a, now)
		case tongue.Moment:
			args[i] = m.Moment(time.Time(a))
		case tongue.Day:
			args[i] = m.Tongue.Date("Monday 2 January 2006", m.local(time.Time(a)))
		case time.Duration:
			args[i] = m.Span(a)
		}
	}
	return m.say(x, args...)
}
