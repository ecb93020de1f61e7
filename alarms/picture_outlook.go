package alarms

import (
	"math"
	"slices"
	"time"

	"telltale/alarms/outlook"
)

// OutlookPicture is what is expected of the temperature of one place.
type OutlookPicture struct {
	Lacks  outlook.Lack    `json:"lacks,omitempty"` // why nothing can be said
	At     time.Time       `json:"at,omitzero"`     // of the newest look
	Ahead  []AheadPicture  `json:"ahead,omitempty"` // nearest first
	Limits []LimitOutlook  `json:"limits,omitempty"`
	Days   []DayAhead      `json:"days,omitempty"` // the peak of the day, the lowest of the night
	Record WarningRecord   `json:"record,omitzero"`
	Drives []DriveFailure  `json:"drives,omitempty"` // what comes if a drive fails now
	Figure []FigurePicture `json:"figures,omitempty"`

	Sentence string `json:"sentence"` // what is expected, or why nothing can be said
}

// lookStale is the age from which on a look ahead is not of now. It is of the newest
// reading, and where that is 15 minutes old the outlook lacks the last hour by itself.
const lookStale = 16 * time.Minute

// Stands reports whether something is expected, and was looked at lately: what was
// expected long ago is never shown as if it were expected now.
func (o *OutlookPicture) Stands(now time.Time) bool {
	return o != nil && o.Lacks == outlook.Nothing && len(o.Ahead) > 0 && now.Sub(o.At).Abs() <= lookStale
}

// AheadPicture is what is expected until some time from now, in °C.
type AheadPicture struct {
	In      time.Duration `json:"in_ns"`
	Highest []float64     `json:"highest"` // below each lies its share of outlook.Quantiles
	Lowest  []float64     `json:"lowest"`  // likewise
}

// Whole reports whether a has a number for each of outlook.Quantiles, on both sides.
func (a AheadPicture) Whole() bool {
	for _, side := range [][]float64{a.Highest, a.Lowest} {
		if len(side) != len(outlook.Quantiles) || slices.ContainsFunc(side, func(v float64) bool { return math.IsNaN(v) || math.IsInf(v, 0) }) {
			return false
		}
	}
	return true
}

// LimitOutlook is how likely one limit is reached.
type LimitOutlook struct {
	Side   Side          `json:"side"`
	Level  Level         `json:"level"`   // of the alarm that it raises
	Limit  float64       `json:"limit"`   // °C
	Likely []float64     `json:"likely"`  // 0 to 1, by the steps of Ahead
	Soon   time.Duration `json:"soon_ns"` // if it comes: one in ten comes sooner
	Middle time.Duration `json:"middle_ns"`
	Late   time.Duration `json:"late_ns"` // one in ten comes later
	Warned bool          `json:"warned"`
}

// WorthSaying is how likely a limit must be reached for people to be shown it.
const WorthSaying = 0.1

// Likelihood is how likely the limit is reached by the end of what is looked ahead.
func (l LimitOutlook) Likelihood() float64 {
	if len(l.Likely) == 0 {
		return 0
	}
	return l.Likely[len(l.Likely)-1]
}

// Passed reports whether p is beyond the limit already: then there is nothing to
// look ahead to.
func (l LimitOutlook) Passed(p *PlacePicture) bool {
	now, known := p.Now(Temperature)
	return known && (l.Side == HighSide && now > l.Limit || l.Side == LowSide && now < l.Limit)
}

// Now is the value of q at p, if it is of now.
func (p *PlacePicture) Now(q Quantity) (v float64, known bool) {
	for i := range p.Points {
		if pt := &p.Points[i]; pt.Quantity == q && pt.HasValue && pt.Live {
			return pt.Value, true
		}
	}
	return 0, false
}

// WarningRecord is what came of the warnings of the last 30 days.
type WarningRecord struct {
	Right int           `json:"right"` // came true
	False int           `json:"false"`
	Spare time.Duration `json:"spare_ns"` // median from warning to limit, of those that came true

	Sentence string `json:"sentence"` // "" where there was none
}

// DayAhead is the peak of a day or the lowest of a night that is likely.
type DayAhead struct {
	Side     Side      `json:"side"`              // high: the peak; low: the night's lowest, until sunrise
	Value    float64   `json:"value"`             // °C, the middle
	From     float64   `json:"from"`              // °C, one in ten is lower
	To       float64   `json:"to"`                // °C, one in ten is higher
	At       time.Time `json:"at"`                // when, likely
	Reaches  *float64  `json:"reaches,omitempty"` // °C, the limit that is likely to be reached
	Sentence string    `json:"sentence"`
}

// DriveFailure is how long a place has until a limit if a drive fails now, and with it
// the others of its kind that may run: what one of several does is not known.
type DriveFailure struct {
	Drive    DriveID       `json:"drive"`
	With     []DriveID     `json:"with,omitempty"`
	Side     Side          `json:"side"`
	Limit    float64       `json:"limit"`   // °C
	Known    bool          `json:"known"`   // else nothing is known yet
	Holds    bool          `json:"holds"`   // it is likely not reached within the time that is looked ahead
	Soon     time.Duration `json:"soon_ns"` // one in ten is sooner
	Middle   time.Duration `json:"middle_ns"`
	Late     time.Duration `json:"late_ns"` // one in ten is later; 0: it may not come
	Sentence string        `json:"sentence"`
}

// Names of figures.
const (
	FigureWarming  = "warming"  // in the first quarter of an hour of full sun, no drive running
	FigureLoss     = "loss"     // in an hour of the dark, for each kelvin over the air outside, likewise
	FigureExchange = "exchange" // of air by the exhaust fan, if air alone had to be cooled
	FigureLoop     = "loop"     // warming by the ground loop, the house as cold as when it last ran
	FigureHeating  = "heating"  // by the heater, in the first quarter of an hour
)

// FigurePicture is what a house was found to be like.
type FigurePicture struct {
	Name     string  `json:"name"`
	Unit     string  `json:"unit"`
	Value    float64 `json:"value"`
	From     float64 `json:"from"` // nine in ten lie between
	To       float64 `json:"to"`
	Sentence string  `json:"sentence"`
}
