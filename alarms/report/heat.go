package report

import "time"

// Heat is what a place gave crops to grow by.
//
// Degree-hours are the temperature above Base, added up over the time that is
// known. Degree-days are added up over whole days by the mean method: half the
// sum of the day's lowest and highest temperature, less Base, and nothing
// where that is below zero. That is method 1 of McMaster and Wilhelm,
// "Growing degree-days: one equation, two interpretations", Agricultural and
// Forest Meteorology 87 (1997), from memory. A base of 10 °C is common for
// warm-season crops (common practice, no source).
type Heat struct {
	Base        float64 // °C
	DegreeHours float64 // K h
	DegreeDays  float64 // K d
	Days        int     // that DegreeDays counts
	LeftOut     int     // days of which too little is known
}

// GrowingBase is the usual base, °C.
const GrowingBase = 10

// enough is how much of a day must be known; common practice, no source.
const enough = 0.9

func (h *Heat) hours(d time.Duration, v float64) {
	if v > h.Base {
		h.DegreeHours += (v - h.Base) * d.Hours()
	}
}

func (h *Heat) days(all []Cell) {
	for _, c := range all {
		if float64(c.Known) < enough*float64(c.Len()) {
			h.LeftOut++
			continue
		}
		h.Days++
		h.DegreeDays += max(0, (c.Min+c.Max)/2-h.Base)
	}
}
