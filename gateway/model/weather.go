package model

import (
	"math"
	"time"

	"telltale/alarms/air"
	"telltale/alarms/sun"
)

// climate is the weather of a place as far as the calendar tells it.
type climate struct {
	latitude, longitude float64 // degrees, north and east positive
	mean                float64 // °C, of the year
	yearSwing           float64 // K, half of the swing between winter and summer
	coldest             float64 // day of the year
	daySwing            float64 // K, half of the swing of a clear day
	spell               float64 // K, either way, of warm and cold spells of days
	wind                float64 // m/s, usual
	ground              ground
}

// Weather changes the weather of a story from what the calendar says.
type Weather struct {
	Warmer float64 // K, added to the day's mean temperature
	Swing  float64 // times the usual swing between night and afternoon; 0: 1
	Cloud  float64 // share of the sky covered, with Fixed
	Wind   float64 // m/s, with Fixed
	Fixed  bool    // Cloud and Wind hold all the time
	// From is when what is Fixed begins to hold, Warmer with it, after hours in which the
	// weather turns to it from that of the calendar; zero: it always has.
	From time.Time
}

// turning is how long the weather takes to turn.
const turning = 6 * time.Hour

// holds is the share of what is fixed at a moment, 0 to 1; the rest is as the calendar
// and the noise have it.
func (w Weather) holds(at time.Time) float64 {
	if !w.Fixed {
		return 0
	}
	return 1 - min(max(w.From.Sub(at).Hours()/turning.Hours(), 0), 1)
}

// turned is on the way from one value to another; all of the way it is that one exactly.
func turned(from, to, share float64) float64 { return (1-share)*from + share*to }

// outside is the weather at one moment.
type outside struct {
	air   moist
	cloud float64 // share of the sky
	wind  float64 // m/s
	sky   float64 // °C, what a surface radiates to
	light sunlight
	day   float64 // of the year, with its fraction
}

// at returns the weather at a moment: a yearly and a daily wave, less of the
// daily one under cloud, with slow and quick noise that depends on the number it starts from
// and the time alone.
func (c climate) at(seed uint64, w Weather, at time.Time) outside {
	day := float64(at.YearDay()-1) + at.Sub(at.Truncate(24*time.Hour)).Hours()/24
	cloud := min(max(0.5+0.75*noise(seed, 1, at, 5*time.Hour)+0.25*noise(seed, 2, at, 40*time.Minute), 0), 1)
	wind := max(0.3, c.wind*(1+0.6*noise(seed, 3, at, 3*time.Hour)+0.4*noise(seed, 4, at, 4*time.Minute)))
	fixed := w.holds(at)
	if fixed > 0 {
		cloud = turned(cloud, w.Cloud, fixed)
		wind = turned(wind, max(0.1, w.Wind*(1+0.2*noise(seed, 4, at, 4*time.Minute))), fixed)
	}
	swing := c.daySwing * (1 - 0.6*cloud)
	if w.Swing > 0 {
		swing *= w.Swing
	}
	warmer := w.Warmer
	if w.Fixed {
		warmer *= fixed
	}
	mean := c.mean + warmer - c.yearSwing*math.Cos(2*math.Pi*(day-c.coldest)/year)
	slow := (1 - fixed) * c.spell * noise(seed, 5, at, 36*time.Hour)
	temperature := mean + slow + swing*c.dayWave(at) + 0.3*noise(seed, 6, at, 9*time.Minute)
	o := outside{cloud: cloud, wind: wind, day: day}
	o.air = c.damp(seed, at, temperature, mean+slow-0.8*c.daySwing)
	o.sky = skyTemperature(temperature, cloud)
	o.light = clearSky(sun.At(c.latitude, c.longitude, at)).under(cloud)
	return o
}

// dayWave runs from -1 about an hour before dawn to 1 in the afternoon: the
// shape of a mean day with a quick rise and a slow fall.
func (c climate) dayWave(at time.Time) float64 {
	hour := at.Sub(at.Truncate(24*time.Hour)).Hours() + c.longitude/15
	angle := 2 * math.Pi * (hour - 15) / 24
	return math.Cos(angle + 0.25*math.Sin(angle))
}

// damp gives the air a dew point near the night's lowest temperature, as is
// usual away from the sea (FAO-56, Allen et al. 1998, chapter 3, equation 48).
func (c climate) damp(seed uint64, at time.Time, temperature, lowest float64) moist {
	dew := min(lowest+1.5*noise(seed, 7, at, 8*time.Hour), temperature-0.3)
	rh := 100 * air.SaturationPressure(dew) / air.SaturationPressure(temperature)
	return moistOf(temperature, rh)
}

// noise runs smoothly between -1 and 1, with a new aim after each period.
func noise(seed, stream uint64, at time.Time, period time.Duration) float64 {
	n := at.UnixNano()
	index := n / int64(period)
	share := float64(n%int64(period)) / float64(period)
	smooth := share * share * (3 - 2*share)
	from, to := random(seed, stream, uint64(index)), random(seed, stream, uint64(index+1))
	return from + smooth*(to-from)
}

// random is a number from -1 to 1 that depends on its arguments alone: the
// mixing steps of SplitMix64 (Steele, Lea & Flood 2014).
func random(seed, stream, index uint64) float64 {
	return 2*float64(mix(seed^mix(stream^mix(index)))>>11)/(1<<53) - 1
}

func mix(x uint64) uint64 {
	x += 0x9e3779b97f4a7c15
	x = (x ^ x>>30) * 0xbf58476d1ce4e5b9
	x = (x ^ x>>27) * 0x94d049bb133111eb
	return x ^ x>>31
}
