package infer

import (
	"math"
	"time"
)

// Noon learns when the sun stands highest from the daily wave of a
// temperature, so that neither a longitude nor the zone of the readings needs
// to be right: outside air is warmest some three hours after noon, a house two.
type Noon struct {
	Cos  float64 `json:"cos"`  // K days, of the daily wave
	Sin  float64 `json:"sin"`  // K days
	Mean float64 `json:"mean"` // °C, of the last two days
	On   bool    `json:"on"`   // Mean was begun
}

const (
	noonMemory  = 7 * 24 * time.Hour
	noonMean    = 48 * time.Hour
	outsideLate = 3.0  // hours
	insideLate  = 2.0  // hours
	clockNoon   = 13.0 // hours; where zones and summer time put it, until it is learned
	clockWeight = 1.0  // K days of trust in the clock
)

func (n *Noon) learn(at time.Time, v float64, passed time.Duration) {
	if !n.On {
		n.On, n.Mean = true, v
	}
	n.Mean += (v - n.Mean) * lapse(passed, noonMean)
	sin, cos := math.Sincos(hourOf(at) / 12 * math.Pi)
	keep, days := 1-lapse(passed, noonMemory), passed.Hours()/24
	n.Cos = n.Cos*keep + (v-n.Mean)*cos*days
	n.Sin = n.Sin*keep + (v-n.Mean)*sin*days
}

// hour is the hour of noon in UTC, with so many hours from it to the warmest.
func (n *Noon) hour(at time.Time, late float64) float64 {
	_, east := at.Zone()
	sin, cos := math.Sincos((clockNoon - float64(east)/3600 + late) / 12 * math.Pi)
	return math.Atan2(n.Sin+clockWeight*sin, n.Cos+clockWeight*cos)*12/math.Pi - late
}

// height is the sine of the sun's height at so many hours from noon, 0 at
// night, with the declination to half a degree (Cooper 1969, Solar Energy
// 12:333).
func height(latitude float64, at time.Time, fromNoon float64) float64 {
	declination := 23.45 * math.Pi / 180 * math.Sin(2*math.Pi*float64(284+at.YearDay())/365)
	sinLat, cosLat := math.Sincos(latitude * math.Pi / 180)
	sinDec, cosDec := math.Sincos(declination)
	return math.Max(0, sinLat*sinDec+cosLat*cosDec*math.Cos(fromNoon/12*math.Pi))
}

func hourOf(at time.Time) float64 {
	return math.Mod(float64(at.Unix())/3600, 24)
}
