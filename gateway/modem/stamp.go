package modem

import (
	"fmt"
	"strconv"
	"strings"
	"time"
)

// stamp reads a time of a service centre: seven octets of two swapped digits,
// the last of which counts quarters of an hour from UTC (TS 23.040, section
// 9.2.3.11).
func (o *octets) stamp() (time.Time, error) {
	b, err := o.take(7)
	if err != nil {
		return time.Time{}, err
	}
	var v [7]int
	for i, c := range b {
		if i == 6 {
			c &^= 0x08 // the sign
		}
		lo, hi := int(c&0xf), int(c>>4)
		if lo > 9 || hi > 9 {
			return time.Time{}, fmt.Errorf("%x is no time", b)
		}
		v[i] = lo*10 + hi
	}
	quarters := v[6]
	if b[6]&0x08 != 0 {
		quarters = -quarters
	}
	return clock(v[0], v[1], v[2], v[3], v[4], v[5], quarters)
}

// written reads a time as text mode writes it: "26/07/09,12:30:00+04".
func written(text string) (time.Time, error) {
	fields := strings.FieldsFunc(text, func(r rune) bool { return strings.ContainsRune("/,: +-", r) })
	if len(fields) < 6 || len(fields) > 7 {
		return time.Time{}, fmt.Errorf("%q is no time", text)
	}
	var v [7]int
	for i, f := range fields {
		n, err := strconv.Atoi(f)
		if err != nil {
			return time.Time{}, fmt.Errorf("%q is no time", text)
		}
		v[i] = n
	}
	if strings.Contains(text, "-") {
		v[6] = -v[6]
	}
	return clock(v[0], v[1], v[2], v[3], v[4], v[5], v[6])
}

// clock puts a time together. Years are of this century.
func clock(year, month, day, hour, minute, second, quarters int) (time.Time, error) {
	if year > 99 || month < 1 || month > 12 || day < 1 || day > 31 || hour > 23 || minute > 59 || second > 59 ||
		min(year, hour, minute, second) < 0 || quarters < -56 || quarters > 56 {
		return time.Time{}, fmt.Errorf("%02d-%02d-%02d %02d:%02d:%02d, %d quarters off, is no time", year, month, day, hour, minute, second, quarters)
	}
	zone := time.FixedZone("", quarters*15*60)
	return time.Date(2000+year, time.Month(month), day, hour, minute, second, 0, zone), nil
}

// validity writes for how long the network shall try, as the relative form of
// TS 23.040, section 9.2.3.12.1; rounded down, at least five minutes.
func validity(d time.Duration) byte {
	const day = 24 * time.Hour
	switch {
	case d < 12*time.Hour:
		return byte(max(0, d/(5*time.Minute)-1))
	case d < day:
		return byte(143 + (d-12*time.Hour)/(30*time.Minute))
	case d < 30*day:
		return byte(166 + max(1, d/day))
	}
	return byte(min(255, 192+d/(7*day)))
}
