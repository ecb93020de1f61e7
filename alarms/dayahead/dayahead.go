// Package dayahead says, from the early morning, how warm a place will likely get
// until the sun sets and about when, and from the evening how cold until it rises,
// each with an interval in which it lies in eight of ten cases.
//
// It goes by nothing but the place's own last three days, at the same moments.
// Single rules look ahead: it gets as warm as yesterday; it rises from now on as
// much as it did yesterday; the means of three days of both; and, in between, as
// much of what today is warmer or colder by now as the days before have kept of
// it (regressions of one weight). They are weighed by the errors that they made
// of late, so that the one that suits the house has the say, and what was said is
// held against what came: that makes the interval (a quantile followed step by
// step; Gibbs & Candès 2021, Adaptive Conformal Inference, from memory).
//
// A Course is deterministic and looks at the past alone. It is of a fixed size,
// allocates nothing after New but when it is saved, and one that was saved and
// brought back goes on as if nothing had happened. The past is kept by the core's
// time; the wall clock says only where the sun stands, and whichever way it is
// put, what was learned stays.
package dayahead

import (
	"math"
	"time"
)

// Lack is why nothing can be said.
type Lack uint8

// What may be lacking.
const (
	Nothing Lack = iota // it can be said
	Days                // three days have not been seen yet
	Past                // what came at these hours on the last days was not heard
	Now                 // the place is not heard now
)

const (
	slot   = 3600      // s, the step of the past that is kept
	aDay   = 24 * slot // s
	days   = 3         // that are looked back
	stale  = 65 * 60   // s after which the last reading is not now any more
	longer = 2 * slot  // s of silence, after which a half day is not learned from
	jump   = 600       // s that the wall clock may be put without another day beginning
	settle = 300       // s, time constant of the mean that stands for a moment
	enough = 2         // days that were held against what was said of them before anything is said, and of the last three that must have been heard
)

// Course is what is known of the temperature of one place. Begin with New.
type Course struct {
	latitude, longitude float64
	zone                *time.Location
	state               state
}

// state is what is saved.
type state struct {
	Heard     int64   // Unix s of the core, of the last reading; 0: none
	Ahead     int64   // s that the wall clock was ahead then
	Now, Mean float32 // °C, the last reading, and a short mean
	Span      span    // of the sun now
	Past      past
	Asked     [stages]asked
	Records   [2][stages]record // by day and by night
}

// New begins with nothing heard, at a latitude and longitude in degrees, north
// and east positive, and a zone for where the sun says nothing: both zero stand
// for a place that is not known, nil for UTC.
func New(latitude, longitude float64, zone *time.Location) *Course {
	if zone == nil {
		zone = time.UTC
	}
	c := &Course{latitude: latitude, longitude: longitude, zone: zone}
	c.state.Past.empty()
	for night := range c.state.Records {
		for i := range c.state.Records[night] {
			c.state.Records[night][i].empty(i)
		}
	}
	return c
}

// Reading takes a reading in °C, at a time of the core's and how far the wall
// clock is ahead of it. One that is no number or not after the last one changes
// nothing.
func (c *Course) Reading(at time.Time, ahead time.Duration, v float64) {
	now, off := at.Unix(), int64(ahead/time.Second)
	step := now - c.state.Heard
	if !(math.Abs(v) <= most) || c.state.Heard != 0 && step <= 0 {
		return
	}
	if c.state.Heard == 0 || step > stale {
		c.state.Mean = float32(v)
	}
	if c.state.Heard != 0 {
		c.state.Past.reach(c.state.Heard, now, c.state.Mean, float32(v))
	}
	c.state.Mean += float32(1-math.Exp(-float64(step)/settle)) * (float32(v) - c.state.Mean)
	c.turn(at.Add(ahead), now, off, step)
	c.state.Heard, c.state.Ahead, c.state.Now = now, off, float32(v)
	c.state.Past.take(now, float32(v), c.state.Span.Night)
	for i := range c.state.Asked {
		c.state.Asked[i].take(v, c.state.Span.Night)
	}
	c.ask(now)
}

// turn ends a half day, and begins the next one.
func (c *Course) turn(wall time.Time, now, off, step int64) {
	put := off - c.state.Ahead
	stepped := c.state.Heard != 0 && (put > jump || put < -jump)
	if c.state.Heard != 0 && step > longer || stepped {
		c.drop()
	}
	if c.state.Span.Until != 0 && now < c.state.Span.Until && !stepped {
		return
	}
	for i := range c.state.Asked {
		c.state.Records[kind(c.state.Span.Night)][i].learn(&c.state.Asked[i], c.state.Span.Night)
	}
	c.drop()
	c.state.Span = c.spanAt(wall, off)
}

func (c *Course) drop() { c.state.Asked = [stages]asked{} }

func kind(night bool) int {
	if night {
		return 1
	}
	return 0
}
