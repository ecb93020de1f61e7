package gateway

import (
	"strconv"
	"strings"
	"time"
)

// usualLeave is the length of a leave whose end is not given. Common practice, no source.
const usualLeave = 24 * time.Hour

// leaveEnd reads when somebody will be back, as people write it in a text: "SUN 18:00",
// "18:00", "tomorrow", "24 Dec 18:00", "36 h", "3 days", or nothing. A day without a
// clock time is meant with all of it. now is in the zone of the garden's clocks.
func leaveEnd(text string, now time.Time) (time.Time, bool) {
	words := strings.Fields(strings.ToLower(strings.NewReplacer(",", " ", "!", " ", "?", " ").Replace(text)))
	for len(words) > 0 && means(wordsUntil, words[0]) {
		words = words[1:]
	}
	if len(words) == 0 {
		return now.Add(usualLeave), true
	}
	if d, ok := leaveLength(strings.Join(words, "")); ok {
		return now.Add(d), true
	}
	clock, timed := clockTime(words[len(words)-1])
	if timed {
		words = words[:len(words)-1]
	}
	day, ok := leaveDay(words, now)
	switch {
	case !ok || len(words) == 0 && !timed:
		return time.Time{}, false
	case !timed:
		return onDay(day.AddDate(0, 0, 1), 0), true
	}
	until := onDay(day, clock)
	switch {
	case until.After(now):
	case len(words) == 0:
		until = onDay(day.AddDate(0, 0, 1), clock)
	case len(words) == 1 && !means(wordsToday, words[0]): // this day of the week
		until = onDay(day.AddDate(0, 0, 7), clock)
	}
	return until, true
}

// onDay is when clocks show a time on a day.
func onDay(day time.Time, clock time.Duration) time.Time {
	y, m, d := day.Date()
	return time.Date(y, m, d, int(clock/time.Hour), int(clock/time.Minute)%60, 0, 0, day.Location())
}

// leaveLength reads "36h" and "3days".
func leaveLength(text string) (time.Duration, bool) {
	digits := strings.TrimRight(text, "abcdefghijklmnopqrstuvwxyz.")
	n, err := strconv.Atoi(digits)
	if err != nil || n < 1 || n > 1000 {
		return 0, false
	}
	switch unit := strings.TrimSuffix(text[len(digits):], "."); {
	case means(wordsHour, unit):
		return time.Duration(n) * time.Hour, true
	case means(wordsDay, unit):
		return time.Duration(n) * 24 * time.Hour, true
	case means(wordsWeek, unit):
		return time.Duration(n) * 7 * 24 * time.Hour, true
	}
	return 0, false
}

// clockTime reads "18:00", "18.00" and "1800".
func clockTime(text string) (time.Duration, bool) {
	h, m, found := strings.Cut(strings.Replace(text, ".", ":", 1), ":")
	if !found && len(text) == 4 {
		h, m = text[:2], text[2:]
	}
	hours, err1 := strconv.Atoi(h)
	minutes, err2 := strconv.Atoi(m)
	if err1 != nil || err2 != nil || len(m) != 2 || hours < 0 || hours > 23 || minutes < 0 || minutes > 59 {
		return 0, false
	}
	return time.Duration(hours)*time.Hour + time.Duration(minutes)*time.Minute, true
}

// leaveDay reads a day: today where there is no word, "tomorrow", "sun", "24 dec".
func leaveDay(words []string, now time.Time) (time.Time, bool) {
	today := onDay(now, 0)
	switch len(words) {
	case 0:
		return today, true
	case 1:
		switch {
		case means(wordsToday, words[0]):
			return today, true
		case means(wordsTomorrow, words[0]):
			return today.AddDate(0, 0, 1), true
		}
		for i := range 7 {
			if day := today.AddDate(0, 0, i); isDay(day.Weekday(), words[0]) {
				return day, true
			}
		}
	case 2:
		for _, two := range [][2]string{{words[0], words[1]}, {words[1], words[0]}} {
			date, err := strconv.Atoi(strings.TrimRight(two[0], "sthndr."))
			for m := time.January; err == nil && date > 0 && date <= 31 && m <= time.December; m++ {
				if !isMonth(m, two[1]) {
					continue
				}
				day := time.Date(now.Year(), m, date, 0, 0, 0, 0, now.Location())
				if day.Before(today) {
					day = day.AddDate(1, 0, 0)
				}
				return day, day.Day() == date
			}
		}
	}
	return time.Time{}, false
}
