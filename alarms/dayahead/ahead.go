package dayahead

import (
	"math"
	"time"
)

// Ahead is what is expected of the rest of a day, or of a night.
type Ahead struct {
	Lacks    Lack
	Night    bool           // it is the lowest until sunrise; else the peak until sunset
	Value    float64        // °C, likely
	From, To float64        // °C: one in ten is lower than From, one in ten higher than To
	At       time.Time      // when, likely
	Until    time.Time      // when the sun rises, or sets
	Rules    [rules]float64 // °C, what each rule says
	Weights  [rules]float64 // and its say in Value, of 1
}

// Look says what is expected from now on. All times are the core's.
func (c *Course) Look(at time.Time) (out Ahead) {
	now := at.Unix()
	out.Night, out.Until = c.state.Span.Night, time.Unix(c.state.Span.Until, 0).UTC()
	r := c.record(now)
	b, in, seen := c.look(now)
	switch {
	case c.state.Heard == 0 || now-c.state.Heard > stale || now >= c.state.Span.Until:
		out.Lacks = Now
	case r.Days < enough:
		out.Lacks = Days
	case seen < enough:
		out.Lacks = Past
	}
	if out.Lacks != Nothing {
		return out
	}
	r.say(b, float64(c.state.Now), &out)
	out.From = out.Value + r.width()*min(0, float64(r.Low))
	out.To = out.Value + r.width()*max(0, float64(r.High))
	if out.Night {
		out.To = min(out.To, float64(c.state.Now))
	} else {
		out.From = max(out.From, float64(c.state.Now))
	}
	out.At = at.Add(time.Duration(in) * time.Second)
	return out
}

// record is what is known of the stage nearest to now, or of an earlier one: short
// nights have no late stage.
func (c *Course) record(now int64) *record {
	all, i := &c.state.Records[kind(c.state.Span.Night)], stageOf(now-c.state.Span.Since)
	for i > 0 && all[i].Days < enough {
		i--
	}
	return &all[i]
}

// look looks at the days before, from this moment on: what the rules go by, in how
// many seconds the peak, or the lowest, came, and of how many days that is known.
func (c *Course) look(now int64) (b basis, in int64, seen int) {
	mean := float64(c.state.Mean)
	for day := int64(1); day <= days; day++ {
		from := now - day*aDay
		before := c.state.Past.at(from)
		best, when, known := c.state.Past.extremeOf(from, c.state.Span.Until-day*aDay, c.state.Span.Night)
		if !known || math.IsNaN(before) {
			continue
		}
		if seen++; seen == 1 {
			b.yesterday, b.rise = best, mean+best-before
		}
		b.mean += best
		b.meanRise += mean + best - before
		in += max(0, when-from)
	}
	if seen > 0 {
		b.mean /= float64(seen)
		b.meanRise /= float64(seen)
		in = min(in/int64(seen), max(0, c.state.Span.Until-now))
	}
	return b, in, seen
}

// ask holds each stage to what it says at its time.
func (c *Course) ask(now int64) {
	passed := now - c.state.Span.Since
	for i := range c.state.Asked {
		a := &c.state.Asked[i]
		if a.Open || passed < due[i] || passed > due[i]+slot {
			continue
		}
		if b, _, seen := c.look(now); seen > 0 {
			v := packed(float64(c.state.Now))
			*a = asked{true, packed(b.yesterday), packed(b.rise), packed(b.mean), packed(b.meanRise), v, v}
		}
	}
}

// Reach is how likely a limit in °C is reached: half beyond the middle, a tenth beyond
// the ends of the interval, and falling off exponentially.
func (a *Ahead) Reach(limit float64) float64 {
	past, toward, away := limit-a.Value, a.To-a.Value, a.Value-a.From
	if a.Night {
		past, toward, away = -past, away, toward
	}
	const tail = 1.6094 // ln of the 5 between a half and a tenth
	if past > 0 {
		return 0.5 * math.Exp(-tail*past/max(toward, 0.02))
	}
	return 1 - 0.5*math.Exp(tail*past/max(away, 0.02))
}
