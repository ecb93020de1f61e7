// Package drift says whether a figure that is found anew each day, such as what a house
// loses, has become another one: by so much, and for so long, that it is no whim of the
// weather.
//
// The middle of the last days is held against the middle of the weeks before. They are
// apart where the difference is large by itself, is large beside how much the figure
// goes up and down on its own (three of its usual deviations, by the median of them,
// which a few odd days do not move), and where all but one of the last days lie beyond
// all but a tenth of the days before. What changes over months moves the reference
// along, and is no drift. Common practice, no source; the numbers were chosen on
// simulated houses.
//
// A Course is deterministic, of a fixed size, and allocates nothing.
package drift

import (
	"math"
	"slices"

	"telltale/alarms/tape"
)

const (
	kept    = 28    // days
	recent  = 5     // of them are what holds now
	least   = 10    // before these, to compare with
	settles = 7     // first days, in which a figure is still being learned
	lasts   = 4     // days for which it has been apart before it is lasting
	beyond  = 3.0   // usual deviations
	calm    = 0.03  // of a logarithm, a usual deviation at least
	surely  = 0.6   // of the least difference, by which all but one of the last days are apart
	back    = 0.5   // of the difference that was asked for, below which it is over
	fine    = 1000. // steps to a logarithm of 1
)

// State is what is found of a figure.
type State uint8

// States.
const (
	Usual State = iota
	Apart       // for the first days
	Lasting
)

// Course is one figure, day by day. The zero value has seen nothing.
type Course struct {
	days    [kept]int16 // newest last, of those that there are
	n       uint8       // days that there are
	settled uint8       // first days that have passed
	stands  uint8       // days for which it has been apart
	State   State
	was     int16 // then: the middle of the days before
	asked   int16 // and the difference that was asked for
}

// Begin begins a new reference, with a figure that has first to settle.
func (c *Course) Begin() { *c = Course{} }

// Accept takes what holds now as usual.
func (c *Course) Accept() {
	days, n := c.newest()
	*c = Course{n: uint8(n), settled: settles, was: c.was}
	copy(c.days[:], days[:n])
}

// newest are the last days.
func (c *Course) newest() (days [recent]int16, n int) {
	n = min(int(c.n), recent)
	copy(days[:], c.days[int(c.n)-n:c.n])
	return days, n
}

// Day takes the figure of a day, as a logarithm that grows as it gets worse. Only what is
// at least so much worse, as a logarithm, counts.
func (c *Course) Day(v, worse float64) {
	if !(math.Abs(v) < math.MaxInt16/fine) {
		return
	}
	if c.settled < settles {
		c.settled++
		return
	}
	if c.n == kept {
		copy(c.days[:], c.days[1:])
		c.n--
	}
	c.days[c.n] = int16(math.Round(v * fine))
	c.n++
	switch c.State {
	case Usual:
		c.compare(int16(math.Round(worse * fine)))
	default:
		c.follow()
	}
}

// compare holds the last days against those before.
func (c *Course) compare(worse int16) {
	if c.n < recent+least {
		return
	}
	var buf, off [kept]int16
	before := buf[:copy(buf[:], c.days[:c.n-recent])]
	slices.Sort(before)
	was := middle(before)
	for i, v := range before {
		off[i] = max(v-was, was-v)
	}
	spread := off[:len(before)]
	slices.Sort(spread)
	usual := max(1.4826*float64(middle(spread)), calm*fine) // of the normal distribution
	asked := max(worse, int16(math.Round(beyond*usual)))
	last, _ := c.newest()
	slices.Sort(last[:])
	near := last[1]
	if middle(last[:])-was >= asked && float64(near-was) > surely*float64(worse) && near >= before[len(before)-1-len(before)/10] {
		c.State, c.was, c.asked, c.stands = Apart, was, asked, 0
	}
}

// follow looks whether what was apart still is.
func (c *Course) follow() {
	last, _ := c.newest()
	slices.Sort(last[:])
	off := middle(last[:]) - c.was
	c.stands = min(c.stands+1, lasts)
	switch {
	case float64(off) < back*float64(c.asked):
		c.Accept()
	case c.stands >= lasts && off >= c.asked:
		c.State = Lasting
	}
}

// Now is what holds now, as a logarithm.
func (c *Course) Now() float64 {
	last, n := c.newest()
	if n == 0 {
		return math.NaN()
	}
	slices.Sort(last[:n])
	return float64(middle(last[:n])) / fine
}

// Was is what it was before it was apart, also once it is so no longer.
func (c *Course) Was() float64 { return float64(c.was) / fine }

// middle is the median of what is sorted.
func middle(all []int16) int16 {
	n := len(all)
	return int16((int(all[n/2]) + int(all[(n-1)/2])) / 2)
}

// Pass writes or reads all of c.
func (c *Course) Pass(t *tape.Tape) {
	t.Trail(c.days[:])
	t.Short(&c.was)
	t.Short(&c.asked)
	for _, v := range []*uint8{&c.n, &c.settled, &c.stands, (*uint8)(&c.State)} {
		u := uint64(*v)
		t.Bits(&u, 1)
		*v = uint8(u)
	}
	t.Bad = t.Bad || c.n > kept || c.settled > settles || c.stands > lasts || c.State > Lasting || c.State != Usual && c.n < recent
}
