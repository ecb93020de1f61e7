// Package sun says where the sun stands and when it rises and sets, for a
// latitude and longitude in degrees (north and east positive) at sea level with
// a free horizon.
//
// It uses the low-precision theory of the sun in J. Meeus, Astronomical
// Algorithms (2nd ed. 1998), chapters 12, 13, 22 and 25, evaluated at the
// moment in question: good to about 0.01° between the years 1900 and 2100, so
// that rise and set come out within 2 minutes up to 60° of latitude. Nearer to
// the poles, where the sun grazes the horizon, refraction by the weather of
// the day matters more than this. Every time returned is in UTC.
package sun

import (
	"math"
	"time"
)

// horizon is the true elevation in degrees of the sun's centre when its upper
// edge shows: 34' of refraction and 16' of half disk, as almanacs take it.
const horizon = -50.0 / 60

// Position is where the sun stands in the sky.
type Position struct {
	Elevation float64 // degrees above the horizon, of the centre, without refraction
	Azimuth   float64 // degrees from north over east, 0 to 360
	Distance  float64 // from the earth in astronomical units, about 0.983 to 1.017
}

// At returns the position of the sun at a moment.
func At(lat, lon float64, at time.Time) Position {
	s := sunAt(centuries(at))
	h := hourAngle(s, lon)
	sinLat, cosLat := sincos(lat)
	sinDec, cosDec := sincos(s.declination)
	sinH, cosH := sincos(h)
	elevation := degrees(math.Asin(clip(sinLat*sinDec + cosLat*cosDec*cosH)))
	azimuth := degrees(math.Atan2(sinH, cosH*sinLat-sinDec/cosDec*cosLat)) + 180
	return Position{elevation - parallax(elevation, s.distance), circle(azimuth), s.distance}
}

// apparent is the sun as seen from the centre of the earth, in degrees.
type apparent struct {
	declination, ascension float64
	sidereal               float64 // apparent sidereal time at Greenwich
	distance               float64 // astronomical units
}

// sunAt follows Meeus chapter 25; t is in Julian centuries since J2000.0. The
// difference between universal and dynamical time, about 70 s, moves the sun
// by less than 0.001° and is left out.
func sunAt(t float64) apparent {
	meanLongitude := 280.46646 + t*(36000.76983+t*0.0003032)
	anomaly := 357.52911 + t*(35999.05029-t*0.0001537)
	eccentricity := 0.016708634 - t*(0.000042037+t*0.0000001267)
	sin1, cos1 := sincos(anomaly)
	sin2, cos2 := 2*sin1*cos1, cos1*cos1-sin1*sin1
	center := (1.914602-t*(0.004817+t*0.000014))*sin1 +
		(0.019993-t*0.000101)*sin2 + 0.000289*(sin1*cos2+cos1*sin2)
	_, cosTrue := sincos(anomaly + center)
	distance := 1.000001018 * (1 - eccentricity*eccentricity) / (1 + eccentricity*cosTrue)

	sinNode, cosNode := sincos(125.04 - 1934.136*t)
	sinLong, cosLong := sincos(meanLongitude + center - 0.00569 - 0.00478*sinNode)
	obliquity := 23.4392911 - t*(0.0130041667+t*(1.64e-7-t*5.04e-7)) + 0.00256*cosNode
	sinObl, cosObl := sincos(obliquity)
	return apparent{
		declination: degrees(math.Asin(sinObl * sinLong)),
		ascension:   degrees(math.Atan2(cosObl*sinLong, cosLong)),
		sidereal:    280.46061837 + 360.98564736629*36525*t + t*t*0.000387933 - 0.00478*sinNode*cosObl,
		distance:    distance,
	}
}

// hourAngle is how far in degrees the sun is past the meridian, 0 to 360.
func hourAngle(s apparent, lon float64) float64 {
	return circle(s.sidereal + lon - s.ascension)
}

// parallax is how much lower in degrees the sun stands for somebody on the
// ground than for the centre of the earth: Meeus chapter 40.
func parallax(elevation, distance float64) float64 {
	return 8.794 / 3600 / distance * math.Cos(radians(elevation))
}

// centuries counts Julian centuries since J2000.0, 2000-01-01 12:00.
func centuries(at time.Time) float64 {
	const j2000, century = 946728000, 36525 * 86400
	return (float64(at.Unix()-j2000) + float64(at.Nanosecond())/1e9) / century
}

func circle(d float64) float64 {
	d = math.Mod(d, 360)
	if d < 0 {
		d += 360
	}
	return d
}

func sincos(d float64) (sin, cos float64) { return math.Sincos(radians(d)) }
func radians(d float64) float64           { return d * (math.Pi / 180) }
func degrees(r float64) float64           { return r * (180 / math.Pi) }
func clip(x float64) float64              { return min(max(x, -1), 1) }
