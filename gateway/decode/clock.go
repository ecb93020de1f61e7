package decode

import (
	"fmt"
	"math"
	"strconv"
	"time"
)

// unixTime reads text as RFC 3339 or as a number of u since 1970.
func unixTime(b []byte, u TimeUnit) (time.Time, fault) {
	if n, err := strconv.ParseInt(string(b), 10, 64); err == nil {
		return wholeTime(n, u, b)
	}
	if v, rest, ok, _ := scanNumber(b); ok && len(rest) == 0 {
		return fractionTime(v*float64(u.duration())/float64(time.Second), b)
	}
	t, err := time.Parse(time.RFC3339Nano, string(b))
	if err != nil {
		return time.Time{}, fault{BadTime, fmt.Sprintf("got the time %s, want RFC 3339 with its zone, as in 2026-04-05T06:07:08Z, or a number of %s since 1970", show(b), u)}
	}
	return sane(t, b)
}

func wholeTime(n int64, u TimeUnit, b []byte) (time.Time, fault) {
	per := int64(time.Second / u.duration())
	return sane(time.Unix(n/per, n%per*int64(u.duration())).UTC(), b)
}

// fractionTime is seconds since 1970, rounded to the microsecond: a float64
// holds the present to about a quarter of that.
func fractionTime(sec float64, b []byte) (time.Time, fault) {
	if math.Abs(sec) > 1e12 {
		return sane(time.Unix(math.MaxInt32*1000, 0), b)
	}
	whole, part := math.Modf(sec)
	return sane(time.Unix(int64(whole), int64(math.Round(part*1e6))*1000).UTC(), b)
}

// sane refuses years that no calendar text can hold. Whether a time is likely
// is for the core to judge.
func sane(t time.Time, b []byte) (time.Time, fault) {
	if y := t.Year(); y < 1 || y > 9999 || t.IsZero() {
		return time.Time{}, fault{BadTime, fmt.Sprintf("got the time %s, which is out of all years: is its unit right?", show(b))}
	}
	return t, fault{}
}

func (u TimeUnit) duration() time.Duration {
	switch u {
	case Milliseconds:
		return time.Millisecond
	case Microseconds:
		return time.Microsecond
	case Nanoseconds:
		return time.Nanosecond
	}
	return time.Second
}
