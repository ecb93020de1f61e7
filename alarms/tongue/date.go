package tongue

import (
	"strings"
	"time"
)

var days = [...]Text{"Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"}

var shortDays = [...]Text{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"}

var months = [...]Text{"January", "February", "March", "April", "May|a month", "June", "July", "August", "September", "October", "November", "December"}

var shortMonths = [...]Text{"Jan", "Feb", "Mar", "Apr", "May|a month", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec"}

// Day is how a day of the week is called, whole and in short.
func (t Tongue) Day(d time.Weekday) (whole, short string) { return t.Say(days[d]), t.Say(shortDays[d]) }

// Month is how a month is called.
func (t Tongue) Month(m time.Month) string { return t.Say(months[m-1]) }

// Dated is a time that is written by a layout, in any language.
type Dated struct {
	Layout Text
	At     time.Time
}

// In is d in a language.
func (d Dated) In(t Tongue) string { return t.Date(d.Layout, d.At) }

// Date writes at by a layout of package time: "15:04 on Monday 2 January" or "2 Jan 2006".
func (t Tongue) Date(layout Text, at time.Time) string {
	written := at.Format(t.Say(layout))
	if t == English {
		return written
	}
	day, short := t.Day(at.Weekday())
	return strings.NewReplacer(at.Weekday().String(), day, at.Format("Mon"), short,
		at.Month().String(), t.Month(at.Month()), at.Format("Jan"), t.Say(shortMonths[at.Month()-1])).Replace(written)
}
