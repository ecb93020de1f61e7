// Package outlook says what the temperature of a place will do in the next two
// hours, from nothing but its own readings: the likely highest and lowest with
// their uncertainty, how likely a limit is reached, and about when.
//
// Several forecasters look ahead: a regression on the last hours, the sun and
// yesterday, learned on line with slow forgetting; the damped trend of the last
// half hour; and "it goes on as yesterday at this hour", which by night is "as
// last night". Each knows the errors that it made, by day and by night, and
// speaks in quantiles. They are weighed by their recent skill at each horizon,
// by the pinball loss (Koenker & Bassett 1978, Econometrica 46:33), which asks
// for sharp and honest quantiles alike. Their quantiles are averaged, not their
// distributions: that keeps the spread honest (Lichtendahl, Grushka-Cockayne &
// Winkler 2013, Management Science 59:1594). What is left to mend is learned: by how
// much the average must be spread wider for one in ten to lie beyond its outer
// quantiles.
//
// Times given to a Course are those of the core, which only move forward; the
// wall clock, which people and networks set, counts for nothing but the sun.
//
// A Course is deterministic and looks at the past alone. It is of a fixed size,
// allocates nothing after New but when it is saved, and a Course that was saved
// and brought back goes on as if nothing had happened: what it keeps in memory
// has the precision in which it is saved.
package outlook

import (
	"math"
	"time"
)

// Sides of a temperature.
const (
	Highest = iota
	Lowest
	sides
)

// Horizons are how far ahead is looked, the nearest first.
var Horizons = [horizons]time.Duration{15 * time.Minute, 30 * time.Minute, time.Hour, 2 * time.Hour}

const (
	horizons = 4
	levels   = 7
	slot     = 300 // s, the step of the past that is kept
	aDay     = 24 * 3600 / slot
	ahead    = 24 // slots of the farthest horizon
	early    = 60 // s that a reading may come before its slot and still be it
	hour     = 12 // slots
)

var (
	horizonSlots = [horizons]int{3, 6, 12, ahead}
	// Quantiles are the shares of the outcomes that lie below each value of Ahead.
	Quantiles = [levels]float64{0.05, 0.1, 0.3, 0.5, 0.7, 0.9, 0.95}
)

// Lack is why nothing can be said yet.
type Lack uint8

// What may be lacking.
const (
	Nothing Lack = iota // it can be said
	Days                // too little has been learned yet: the first two days
	Hour                // the last hour was not heard, or not as a whole
	Often               // readings come too seldom: more than about every 10 minutes
)

const (
	soonest = 2 * aDay // slots learned before anything is said
	longest = 25 * 60  // s between two readings over which a straight line is thought
	seldom  = 640      // s, usual between readings, from which nothing is said
	stale   = 15 * 60  // s after which the last reading is not now any more
)

// Course is what is known of the temperature of one place. Begin with New.
type Course struct {
	latitude, longitude float64
	wall                int64   // s that the wall clock is ahead of the times given
	last                int64   // Unix s, of the newest slot
	heard               int64   // Unix s, of the last reading
	now                 float64 // °C, the last reading, to the last digit: nothing is expected below it, or above
	high, low           float32 // °C, since the newest slot
	every               float32 // s, usual between readings
	whole               uint16  // slots since the last gap, up to those that are kept
	past                past
	model               regression
	records             [sides][horizons]record
	sizes               [simples][sides]sizes
	likely              [sides][horizons]likely
	day                 uint16         // slots of the day that is learned from
	peak                [sides]float32 // °C, its highest and lowest so far
	usual               [sides]float32 // °C, those that days come to
	learned             float32        // slots
	unseen              [sides]float32 // of them with what the day before had not seen, times the horizons
}

// New begins with nothing heard, at a latitude and longitude in degrees, north
// and east positive. Both zero stand for a place that is not known: 45° north,
// where the sun is highest at noon of the clock.
func New(latitude, longitude float64) *Course {
	if latitude == 0 && longitude == 0 {
		latitude = 45
	}
	c := &Course{latitude: latitude, longitude: longitude, high: -most, low: most}
	c.past.empty()
	c.model.empty()
	for side := range sides {
		for h := range horizons {
			c.records[side][h].empty()
			c.likely[side][h] = likely{short(float64(first[side].shift)), short(float64(first[side].slope))}
			for i := range c.sizes {
				c.sizes[i][side][h] = [2]float32{0.5, 1}
			}
		}
	}
	return c
}

// Wall says how far the wall clock is ahead of the times given to Reading and
// Look, negative: behind. At first the two are one; it is to be said whenever that
// changes, and is saved with the rest. It tells where the sun stands, now and, as
// clocks are set because they were wrong, in the past that is still to be learned.
func (c *Course) Wall(ahead time.Duration) { c.wall = int64(ahead / time.Second) }

// Reading takes a reading in °C. One that is no number or not after the last one
// changes nothing.
func (c *Course) Reading(at time.Time, v float64) {
	now, before := at.Unix(), c.now
	step := now - c.heard
	if math.IsNaN(v) || math.IsInf(v, 0) || c.heard != 0 && step <= 0 {
		return
	}
	if c.heard == 0 {
		c.last, before = now-slot, v
	} else {
		c.every = short(float64(c.every) + 0.05*(float64(min(step, 3600))-float64(c.every)))
	}
	c.heard, c.now = now, v
	c.high, c.low = max(c.high, short(v)), min(c.low, short(v))
	n := int((now - c.last + early) / slot)
	if n < 1 {
		return
	}
	if step > longest && c.whole > 0 {
		c.gap(n - 1)
		c.last = now - slot
		n = 1
	}
	for i := 1; i < n; i++ { // in between: a straight line
		w := before + (v-before)*float64(i)/float64(n)
		c.slot(w, w, w)
	}
	c.slot(v, float64(c.high), float64(c.low))
	if off := now - c.last; off < -early || off > slot/2 {
		c.last = now
	}
	c.high, c.low = -most, most
}

// gap forgets that the past is whole.
func (c *Course) gap(slots int) {
	for range min(slots, kept) {
		c.past.push(math.NaN(), math.NaN(), math.NaN())
	}
	c.whole = 0
}

// slot keeps one more step of the past and learns from it.
func (c *Course) slot(v, high, low float64) {
	c.last += slot
	c.past.push(v, high, low)
	c.whole = min(c.whole+1, kept)
	if c.whole > ahead+hour {
		c.learn()
	}
}

// learn holds what would have been said two hours ago against what came. All
// horizons learn that late, so that one covariance does for all.
func (c *Course) learn() {
	v := view{c: c, shift: ahead, at: c.last - ahead*slot, now: c.past.value(ahead)}
	var x features
	if !v.features(&x) {
		return
	}
	c.settle()
	v.doubt = c.model.doubt(&x)
	noise := 1.0
	if !v.day {
		noise = nightNoise
	}
	gain := c.model.update(&x, noise)
	for side := range sides {
		spread := c.model.spread(&x, side, v.doubt)
		for h, slots := range horizonSlots {
			y, told := c.past.extreme(side, ahead, slots)-v.now, c.model.tell(&x, side, h)
			var said Ahead
			c.mix(&v, &said, side, h, told, spread)
			c.likely[side][h].learn(&v, &said, side, y)
			c.records[side][h].widen(&said, v.now, y, side)
			c.judge(&v, side, h, y, told, spread)
			c.model.learn(&x, &gain, side, h, y)
		}
	}
	c.learned++
}

// Lacks says why nothing can be said now, if so.
func (c *Course) Lacks(at time.Time) Lack {
	switch {
	case c.every > seldom:
		return Often
	case at.Unix()-c.heard > stale || c.whole <= hour:
		return Hour
	case c.learned < soonest:
		return Days
	}
	return Nothing
}

// Look says what is expected from now on; nothing where it lacks something. It
// costs some microseconds, and once a minute will do.
func (c *Course) Look(at time.Time) (out Outlook) {
	if out.Lacks = c.Lacks(at); out.Lacks != Nothing {
		return out
	}
	out.likely = c.likely
	v := view{c: c, at: at.Unix(), now: c.now, part: max(0, float64(c.heard-c.last)/slot)}
	var x features
	if !v.features(&x) {
		out.Lacks = Hour
		return out
	}
	v.doubt = c.model.doubt(&x)
	for side := range sides {
		spread := c.model.spread(&x, side, v.doubt)
		for h := range horizonSlots {
			c.mix(&v, &out.Sides[side][h], side, h, c.model.tell(&x, side, h), spread)
		}
	}
	return out
}
