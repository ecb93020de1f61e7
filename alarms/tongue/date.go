package tongue

import (
	"strings"
	"time"
)

var days = [...]Text{"Sunday", "Monday", "Tuesday", "Wednesday", "Thursday", "Friday", "Saturday"}

var shortDays = [...]Text{"Sun", "Mon", "Tue", "Wed", "Thu", "Fri", "Sat"}

var months = [...]Text{"January", "February", "March", "April", "May|a month", "June", "July", "August", "September", "October", "November", "December"}

// Day is how a day of the week is called, whole and in short.
func (t Tongue) Day(d time.Weekday) (whole, short string) { return t.Say(days[d]), t.Say(shortDays[d]) }

// Month is how a month is called.
func (t Tongue) Month(m time.Month) string { return t.Say(months[m-1]) }

// Date writes at by a layout of package time: "15:04 on Monday 2 January".
func (t Tongue) Date(layout Text, at time.Time) string {
	written := at.Format(t.Say(layout))
	if t == English {
		return written
	}
	day, _ := t.Day(at.Weekday())
	return strings.NewReplacer(at.Weekday().String(), day, at.Month().String(), t.Month(at.Month())).Replace(written)
}
