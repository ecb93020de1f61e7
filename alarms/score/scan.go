package score

import (
	"slices"
	"time"

	"telltale/alarms"
)

// scan follows one side of the limits of a place.
type scan struct {
	Scan
	steps    []alarms.BandStep
	deadband float64
	delay    time.Duration
	open     bool
	long     bool // the open excursion has been beyond for the delay
	since    time.Time
	last     time.Time // of the readings
	out      []out
}

// out is a probe that is beyond the limit, or not inside it by the deadband.
type out struct {
	probe  alarms.ProbeID
	beyond bool
}

// find is where a probe stands among those that are out; -1: it is inside.
func (c *scan) find(probe alarms.ProbeID) int {
	return slices.IndexFunc(c.out, func(o out) bool { return o.probe == probe })
}

// outer is the first limit met on a side.
func outer(l alarms.Limits, side alarms.Side) alarms.Limit {
	first, second := l.High, l.HighHigh
	if side == alarms.LowSide {
		first, second = l.Low, l.LowLow
	}
	if first.Set {
		return first
	}
	return second
}

func (c *scan) reading(at time.Time, probe alarms.ProbeID, v float64) {
	if at.After(c.last) { // at one moment one probe may take over from another
		c.over()
	}
	c.last = at
	for len(c.steps) > 1 && !at.Before(c.steps[0].To) {
		c.steps = c.steps[1:]
	}
	limit := outer(c.steps[0].Limits, c.Side)
	by := v - limit.Value // how far beyond
	if c.Side == alarms.LowSide {
		by = -by
	}
	was, i := c.any(), c.find(probe)
	if limit.Set && by > 0 {
		if !was {
			c.since = at
		}
		if !c.open {
			c.open, c.long = true, false
			c.Excursions++
		}
		if worse := v > c.Worst != (c.Side == alarms.LowSide); c.Excursions == 1 && !was || worse && v != c.Worst {
			c.Worst = v
		}
	}
	switch {
	case limit.Set && by > -c.deadband:
		if i < 0 {
			i, c.out = len(c.out), append(c.out, out{probe: probe})
		}
		c.out[i].beyond = by > 0
	case i >= 0:
		c.out = slices.Delete(c.out, i, i+1)
	}
	if was && !c.any() {
		c.long = c.long || at.Sub(c.since) >= c.delay
	}
}

// over closes an excursion that no probe is part of any more.
func (c *scan) over() {
	if c.open && len(c.out) == 0 {
		c.close()
	}
}

func (c *scan) any() bool {
	return slices.ContainsFunc(c.out, func(o out) bool { return o.beyond })
}

func (c *scan) close() {
	if !c.long {
		c.Short++
	}
	c.open = false
}

// end closes what is still open.
func (c *scan) end(at time.Time) {
	if c.open {
		c.long = c.long || c.any() && at.Sub(c.since) >= c.delay
		c.out = nil
		c.close()
	}
}

// heard follows when a quantity of a probe is heard.
type heard struct {
	every  time.Duration // 0: learned from the first steps
	misses float64
	last   time.Time
	steps  []time.Duration
	gap    Gap
}

func (h *heard) at(at time.Time) {
	last := h.last
	h.last = at
	step := at.Sub(last)
	if last.IsZero() || step <= 0 {
		return
	}
	const enough = 32
	if h.every == 0 {
		if h.steps = append(h.steps, step); len(h.steps) == enough {
			slices.Sort(h.steps)
			h.every = h.steps[enough/2]
		}
		return
	}
	if float64(step) <= float64(h.every)*(h.misses+0.1) {
		return
	}
	h.gap.Times++
	h.gap.Blind += step - h.every
	if step > h.gap.Longest {
		h.gap.Longest, h.gap.LongestAt = step, last
	}
}
