package sun

import (
	"math"
	"time"
)

// farthest is how far ahead a change between day and night is looked for: a
// polar day lasts 190 days at most.
const farthest = 200 * 86400 // s

// IsDay reports whether the upper edge of the sun is above the horizon in the
// second that holds at. It is never day at a place that is no number.
func IsDay(lat, lon float64, at time.Time) bool { return isDay(lat, lon, at.Unix()) }

// NextChange returns the next sunrise or sunset strictly after at: the first
// whole second in which IsDay differs from the second before. In a polar day
// or night it looks on until the sun sets or rises again, and ok is false if
// that is more than 200 days away.
func NextChange(lat, lon float64, at time.Time) (change time.Time, ok bool) {
	from := at.Unix()
	s, ok := nextChange(lat, lon, from, from+farthest)
	if !ok {
		return time.Time{}, false
	}
	return time.Unix(s, 0).UTC(), true
}

func isDay(lat, lon float64, second int64) bool { return height(lat, lon, second) > 0 }

// height is how far in degrees the sun's upper edge is above the horizon.
func height(lat, lon float64, second int64) float64 {
	return At(lat, lon, time.Unix(second, 0)).Elevation - horizon
}

// nextChange returns the first second after from, and before end, in which
// isDay differs. Between a highest and a lowest point of the sun its height
// only rises or only falls, so it walks from one to the next.
func nextChange(lat, lon float64, from, end int64) (int64, bool) {
	if finite := lat - lat + lon - lon; finite != 0 {
		return 0, false
	}
	was, low := isDay(lat, lon, from), from
	// Begin one back: near the poles a highest point comes late.
	h := hourAngle(sunAt(centuries(time.Unix(from, 0))), lon)
	target := math.Floor(h/180) * 180
	mid := culmination(lon, from-int64(math.Mod(h, 180)*240), target)
	for low < end {
		high := extreme(lat, lon, mid, target == 0)
		if high > low {
			if isDay(lat, lon, high) != was {
				s := bisect(lat, lon, low, high, was)
				return s, s < end
			}
			low = high
		}
		target = 180 - target
		mid = culmination(lon, mid+43200, target)
	}
	return 0, false
}

// bisect finds the first second after low, up to high, in which isDay is not
// was.
func bisect(lat, lon float64, low, high int64, was bool) int64 {
	for high-low > 1 {
		mid := low + (high-low)/2
		if isDay(lat, lon, mid) == was {
			low = mid
		} else {
			high = mid
		}
	}
	return high
}

// culmination returns the second near guess in which the sun's hour angle is
// target: 0 on the meridian, 180 opposite to it.
func culmination(lon float64, guess int64, target float64) int64 {
	for range 3 {
		off := circle(hourAngle(sunAt(centuries(time.Unix(guess, 0))), lon)-target+180) - 180
		guess -= int64(math.Round(off * 240))
	}
	return guess
}

// extreme returns the second within 6 h of a culmination in which the sun is
// highest, or lowest. That second matters only where the sun grazes the
// horizon; elsewhere the culmination itself will do.
func extreme(lat, lon float64, mid int64, highest bool) int64 {
	if math.Abs(height(lat, lon, mid)) > 1 {
		return mid
	}
	low, high := mid-21600, mid+21600
	for high-low > 2 {
		third := (high - low) / 3
		if (height(lat, lon, low+third) < height(lat, lon, high-third)) == highest {
			low += third
		} else {
			high -= third
		}
	}
	return (low + high) / 2
}
