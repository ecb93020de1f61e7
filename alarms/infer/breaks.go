package infer

import (
	"math"
	"time"
)

const (
	breakSpan   = 15 * time.Minute // compared with the same span before it
	breakPoints = 40               // readings kept, so far apart at least that they cover both spans
	breakThin   = 50 * time.Second // less than a minute, for readings that come every minute or so
	breakFewest = 2                // readings on each side
	breakStart  = 4.0              // steps apart, before anything is learned
	breakLow    = 2.0              // the threshold never falls below
	breakHigh   = 12.0             // nor rises above
	breakLearn  = 0.05             // by how much of itself one false break raises it
	breakMemory = 48 * time.Hour
	leastStep   = 0.1 // K
	weather     = 0.3 // K inside for each K outside within the span
)

// Breaks finds breaks in the course of a temperature: all readings of the last
// quarter of an hour lie below, or above, all of the quarter before, with a gap
// between them of at least so many usual steps, after what the outside air
// explains was taken off. With readings further apart than 5 minutes the spans
// grow to three intervals.
//
// The threshold is not fixed but learned, so that false breaks come at a stated
// rate. A break that contradicts what all the rest makes likely (a fall while
// the fan is thought to stand, a rise while it is thought to run) is taken as
// false; each raises the threshold and time lowers it, by amounts that in the
// long run leave FalsePerDay of them a day (Robbins and Monro 1951, Ann. Math.
// Stat. 22:400). Where clouds and vents break the course as often with the fan
// as against it, as many false breaks are among those that agree: that many
// false sharp starts and stops a day, together, are to be expected. In simulated
// houses without a fan it was between one and two times the stated rate. It
// holds within the bounds of the threshold, 2 to 12 usual steps.
type Breaks struct {
	N         int                  `json:"n"`
	At        [breakPoints]int64   `json:"at"` // s, Unix
	In        [breakPoints]float64 `json:"in"`
	Out       [breakPoints]float64 `json:"out"`  // the last known, 0 where none was
	Known     [breakPoints]bool    `json:"know"` // of Out
	Step      float64              `json:"step"` // K, usual in 5 minutes
	Threshold float64              `json:"threshold"`
	Quiet     int64                `json:"quiet"` // s, Unix; no break before it
}

// broken is a break: +1 fell, -1 rose, 0 none.
type broken struct {
	sign int
	at   time.Time
}

func newBreaks() Breaks { return Breaks{Step: 0.2, Threshold: breakStart} }

func (b *Breaks) clear() { b.N = 0 }

// step takes a reading and says whether it completes a break.
func (b *Breaks) step(at time.Time, inside, outside float64, interval time.Duration) broken {
	now := at.Unix()
	if b.N > 0 {
		elapsed := time.Duration(now-b.At[b.N-1]) * time.Second
		if elapsed < breakThin {
			return broken{}
		}
		moved := math.Abs(inside-b.In[b.N-1]) * math.Sqrt(5/elapsed.Minutes())
		b.Step += (math.Min(moved, 3*b.Step) - b.Step) * lapse(min(elapsed, longest), breakMemory)
	}
	b.keep(now, inside, outside)
	if now < b.Quiet {
		return broken{}
	}
	span := int64(max(breakSpan, 3*interval).Seconds())
	gap, since := b.gap(now, span)
	if math.Abs(gap) < b.Threshold*math.Max(b.Step, leastStep) {
		return broken{}
	}
	b.Quiet = now + span
	sign := 1
	if gap < 0 {
		sign = -1
	}
	return broken{sign, time.Unix(since, 0).In(at.Location())}
}

// keep files a reading, dropping the oldest.
func (b *Breaks) keep(now int64, inside, outside float64) {
	if b.N == breakPoints {
		copy(b.At[:], b.At[1:])
		copy(b.In[:], b.In[1:])
		copy(b.Out[:], b.Out[1:])
		copy(b.Known[:], b.Known[1:])
		b.N--
	}
	known := finite(outside)
	if !known {
		outside = 0
	}
	b.At[b.N], b.In[b.N], b.Out[b.N], b.Known[b.N] = now, inside, outside, known
	b.N++
}

// side is what one of the two spans holds.
type side struct {
	n, known  int
	low, high float64
	out       float64
	first     int64
}

func (d *side) add(at int64, in, out float64, known bool) {
	if d.n == 0 || in < d.low {
		d.low = in
	}
	if d.n == 0 || in > d.high {
		d.high = in
	}
	if known {
		d.out += out
		d.known++
	}
	d.n++
	d.first = at
}

// gap returns by how many kelvin the last span lies below the one before it,
// negative where it lies above, 0 where they overlap, and when it began.
func (b *Breaks) gap(now, span int64) (kelvin float64, since int64) {
	var last, before side
	for i := b.N - 1; i >= 0; i-- {
		switch age := now - b.At[i]; {
		case age < span:
			last.add(b.At[i], b.In[i], b.Out[i], b.Known[i])
		case age < 2*span:
			before.add(b.At[i], b.In[i], b.Out[i], b.Known[i])
		}
	}
	if last.n < breakFewest || before.n < breakFewest {
		return 0, 0
	}
	fell := 0.0 // that outside explains
	if last.known > 0 && before.known > 0 {
		fell = weather * (before.out/float64(before.known) - last.out/float64(last.known))
	}
	if d := before.low - last.high - math.Max(fell, 0); d > 0 {
		return d, last.first
	}
	if d := last.low - before.high + math.Min(fell, 0); d > 0 {
		return -d, last.first
	}
	return 0, 0
}

// judge moves the threshold by whether a break agrees with the rest of what is
// known, the likelihood that the drive runs.
func (b *Breaks) judge(broke broken, rest, falsePerDay float64, passed time.Duration) {
	move := -breakLearn * falsePerDay * passed.Hours() / 24
	if broke.sign > 0 && rest < 0.5 || broke.sign < 0 && rest >= 0.5 {
		move += breakLearn
	}
	b.Threshold = math.Min(breakHigh, math.Max(breakLow, b.Threshold*math.Exp(move)))
}
