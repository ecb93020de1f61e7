package record

import (
	"bytes"
	"regexp"
	"time"
)

// Order is the order of a date's parts.
type Order string

// Orders of dates in numbers.
const (
	YearMonthDay Order = "year-month-day"
	MonthDayYear Order = "month-day"
	DayMonthYear Order = "day-month"
)

// Orders lists them.
var Orders = []Order{MonthDayYear, DayMonthYear, YearMonthDay}

// stamp is what a cell says of a time, before the order of its parts is known.
type stamp struct {
	parts  [3]int
	long   [3]bool // written with four digits: a year
	month  int     // which part is the month, by its name; -1: none is
	date   bool
	clock  bool
	half   bool // with AM or PM
	sec    int  // of the day
	nano   int
	zoned  bool
	offset int   // s east, with zoned
	unix   int64 // ns, with counted
	counts count // what a bare number counts
}

// count is what a bare number that states a time counts.
type count string

const (
	noCount count = ""
	seconds count = "seconds since 1970"
	millis  count = "milliseconds since 1970"
	days    count = "days, as spreadsheets count them"
)

// readStamp reads a date, a time of day, both, or a bare number.
func readStamp(b []byte) (s stamp, ok bool) {
	s.month = -1
	b = trim(b)
	if len(b) == 0 || len(b) > 64 {
		return s, false
	}
	if s.number(b) {
		return s, true
	}
	if rest, ok := s.readDate(b); ok {
		s.date = true
		if b = bytes.TrimLeft(rest, " ,\t"); len(b) > 0 && (b[0] == 'T' || b[0] == 't') {
			b = b[1:]
		}
		if len(b) == 0 {
			return s, true
		}
	}
	return s, s.readClock(b)
}

// countForm is a bare number.
var countForm = regexp.MustCompile(`^(\d{1,14})(?:[.,](\d*))?$`)

// number reads a bare number: 1990 to 2100 in seconds or milliseconds since
// 1970, 1954 to 2119 in days since 30 December 1899.
func (s *stamp) number(b []byte) bool {
	m := countForm.FindSubmatch(b)
	if m == nil {
		return false
	}
	whole, _ := digits(m[1])
	nano := int64(nanos(m[2]))
	const second = int64(time.Second)
	switch {
	case whole >= 631_152_000 && whole < 4_102_444_800:
		s.counts, s.unix = seconds, whole*second+nano
	case whole >= 631_152_000_000 && whole < 4_102_444_800_000:
		s.counts, s.unix = millis, whole*int64(time.Millisecond)+nano/1000
	case whole >= 20_000 && whole < 80_000 && nano > 0:
		// a day's fraction is good to about a second: round to that
		s.counts, s.unix = days, ((whole-25569)*86400+(nano*86400+second/2)/second)*second
	default:
		return false
	}
	s.date, s.clock = true, true
	return true
}

// readDate reads three parts in numbers, one of them perhaps a month's name.
func (s *stamp) readDate(b []byte) (rest []byte, ok bool) {
	if n, width := digits(b); width == 8 || width == 12 && len(b) == 12 || width == 14 && len(b) == 14 {
		for i := width; i > 8; i -= 2 {
			n /= 100
		}
		if y := n / 10000; y < 1900 || y > 2199 {
			return nil, false
		}
		s.parts, s.long[0] = [3]int{int(n / 10000), int(n / 100 % 100), int(n % 100)}, true
		return b[8:], true
	}
	if word := letters(b); word > 0 && monthOf(b[:word]) == 0 { // the day of the week
		b = bytes.TrimLeft(b[word:], "., ")
	}
	var sep byte
	for i := range s.parts {
		if i > 0 {
			j := 0
			for j < len(b) && bytes.IndexByte([]byte("/-. ,"), b[j]) >= 0 {
				j++
			}
			if j == 0 || i == 2 && sep != b[0] && s.month < 0 {
				return nil, false
			}
			sep = b[0]
			b = b[j:]
		}
		n, width := digits(b)
		if width == 0 {
			width = letters(b)
			if n = int64(monthOf(b[:width])); n == 0 || s.month >= 0 {
				return nil, false
			}
			s.month = i
		} else if width == 3 || width > 4 {
			return nil, false
		}
		s.parts[i], s.long[i] = int(n), width == 4 && s.month != i
		b = b[width:]
	}
	if len(b) > 0 && b[0] == '.' { // "5.4.2026." as some write it
		b = b[1:]
	}
	return b, len(b) == 0 || bytes.IndexByte([]byte(" ,T\tt"), b[0]) >= 0
}

// digits reads a whole number of up to 18 digits.
func digits(b []byte) (n int64, width int) {
	for width < len(b) && width < 18 && b[width] >= '0' && b[width] <= '9' {
		n = n*10 + int64(b[width]-'0')
		width++
	}
	return n, width
}

func letters(b []byte) (n int) {
	for n < len(b) && (b[n]|0x20 >= 'a' && b[n]|0x20 <= 'z') {
		n++
	}
	return n
}

// monthOf is the month that a word names in English, 0 for none.
func monthOf(word []byte) int {
	if len(word) < 3 || len(word) > 9 {
		return 0
	}
	for m := time.January; m <= time.December; m++ {
		if name := m.String(); len(word) <= len(name) && bytes.EqualFold(word, []byte(name[:len(word)])) {
			return int(m)
		}
	}
	return 0
}

// clockForm is a time of day: hour, minute, second, fraction, half of the day, zone.
var clockForm = regexp.MustCompile(`(?i)^(\d\d?)(?:[:.](\d\d)(?::(\d\d))?(?:[.,](\d+))?)? *(am|pm|a\.m\.|p\.m\.)? *(z|utc|gmt|[-+]\d\d(?::?\d\d)?)?$`)

// readClock reads "14:40", "2:40:05.5 PM", "14:40Z" and the like, to the end.
func (s *stamp) readClock(b []byte) bool {
	switch _, w := digits(b); {
	case w == 4 && s.date: // "20260405T0607"
		b = append([]byte{b[0], b[1], ':', b[2], b[3]}, b[4:]...)
	case w == 6 && s.date:
		b = append([]byte{b[0], b[1], ':', b[2], b[3], ':', b[4], b[5]}, b[6:]...)
	}
	m := clockForm.FindSubmatch(b)
	if m == nil || m[2] == nil && m[5] == nil {
		return false
	}
	hour, _ := digits(m[1])
	minute, _ := digits(m[2])
	second, _ := digits(m[3])
	if s.half = m[5] != nil; s.half {
		if hour < 1 || hour > 12 {
			return false
		}
		if hour %= 12; m[5][0]|0x20 == 'p' {
			hour += 12
		}
	}
	s.clock, s.sec, s.nano = true, int(hour*3600+minute*60+second), nanos(m[4])
	return minute <= 59 && second <= 59 && s.sec <= 86400 && s.zone(m[6])
}

// nanos are the ns of the digits behind a decimal mark.
func nanos(b []byte) int {
	n, width := digits(b[:min(len(b), 9)])
	for ; width < 9; width++ {
		n *= 10
	}
	return int(n)
}

// zone reads Z, UTC, GMT or an offset.
func (s *stamp) zone(b []byte) bool {
	s.zoned = len(b) > 0
	if !s.zoned || b[0] != '+' && b[0] != '-' {
		return true
	}
	h, _ := digits(b[1:3])
	m, _ := digits(b[max(3, len(b)-2):])
	s.offset = int(h*3600 + m*60)
	if b[0] == '-' {
		s.offset = -s.offset
	}
	return h <= 15 && m <= 59
}

// orders are those in which the parts of the date may be meant.
func (s *stamp) orders() []Order {
	switch {
	case s.long[0]:
		return Orders[2:]
	case s.month == 0:
		return Orders[:1]
	case s.month == 1:
		return Orders[1:2]
	case s.long[2]:
		return Orders[:2]
	}
	return Orders
}

// naive is the time as a clock on a wall shows it, in ns since 1970 there.
func (s *stamp) naive(o Order) (ns int64, ok bool) {
	var y, m, d int
	if only := s.orders(); len(only) == 1 {
		o = only[0]
	}
	switch {
	case s.counts != noCount:
		return s.unix, true
	case o == YearMonthDay:
		y, m, d = s.parts[0], s.parts[1], s.parts[2]
	case o == MonthDayYear:
		m, d, y = s.parts[0], s.parts[1], s.parts[2]
	default:
		d, m, y = s.parts[0], s.parts[1], s.parts[2]
	}
	if y < 100 {
		y += 1900
		if y < 1970 {
			y += 100
		}
	}
	if y < 1900 || y > 2199 || m < 1 || m > 12 || d < 1 || d > 28 && d > daysIn(y, m) {
		return 0, false
	}
	day := time.Date(y, time.Month(m), d, 0, 0, 0, 0, time.UTC).Unix()
	return (day+int64(s.sec))*int64(time.Second) + int64(s.nano), true
}

func daysIn(y, m int) int { return time.Date(y, time.Month(m)+1, 0, 0, 0, 0, 0, time.UTC).Day() }
