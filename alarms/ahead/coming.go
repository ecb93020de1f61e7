package ahead

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/dayahead"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// What makes it worth telling of a day, or a night, to come.
const (
	likely   = 0.5       // that a limit is reached
	unlikely = 0.2       // from which it is not told any more
	surely   = time.Hour // for which it must be likely
	calmly   = time.Hour // for which it must be unlikely
	unheard  = time.Hour // before its end, after which nobody knows what it was like
)

// coming is what is told of the day to come, on the high side, or of the night to come,
// on the low one: once a day, or a night, and before warnings of the next hours speak.
type coming struct {
	lifecycle.Plain
	place *Place
	side  *side
	alarm *lifecycle.Alarm // made when first needed
	order int              // of its timers
	over  *timing.Timer    // the end of the day, or the night, that it tells of
	told
}

// told is what is kept of it.
type told struct {
	Until    timing.Instant    `json:"until,omitempty"` // end of the day, or the night, that was told of last
	Limit    float64           `json:"limit"`           // °C, that was told of
	Likely   timing.Instant    `json:"likely,omitempty"`
	Unlikely timing.Instant    `json:"unlikely,omitempty"`
	Over     timing.Instant    `json:"over,omitempty"` // while it is told: Until
	Ended    alarms.AheadEnd   `json:"ended,omitempty"`
	Day      *alarms.DayReason `json:"day,omitempty"` // as it was told
}

// lookDay is what is expected of the day, or the night, that is now, for a place whose
// value furthest out is off by some kelvin from its middle; both zero where nothing is.
func (p *Place) lookDay(now timing.Instant) (seen dayahead.Ahead, of *coming, off float64) {
	middle, low, high, ok := p.host.Temperature()
	if !ok || p.days == nil {
		return seen, nil, 0
	}
	if seen = p.days.Look(now.UTC()); seen.Lacks != dayahead.Nothing {
		return seen, nil, 0
	}
	of = &p.coming[1]
	if seen.Night {
		of = &p.coming[0]
	}
	return seen, of, of.side.furthest(low, high) - middle
}

// foresee follows what is expected of the day, or the night.
func (p *Place) foresee(now timing.Instant) {
	seen, of, off := p.lookDay(now)
	if of == nil {
		return
	}
	limit := p.host.LimitAt(of.side.of, timing.At(seen.At))
	chance := 0.0
	if limit.Set && p.warns() {
		chance = seen.Reach(limit.Value - off)
	}
	of.step(now, &seen, chance, limit.Value, off)
}

// step takes how likely the limit is reached in the day, or the night, that is now.
func (c *coming) step(now timing.Instant, seen *dayahead.Ahead, chance, limit, off float64) {
	since(&c.Likely, chance >= likely, now)
	since(&c.Unlikely, chance < unlikely, now)
	switch {
	case c.on() && c.Unlikely != 0 && now.Since(c.Unlikely) >= calmly:
		c.end(alarms.AheadTurned, now)
	case c.on() || now < c.Until || c.speaks() != "" || c.Likely == 0 || now.Since(c.Likely) < surely:
	case timing.At(seen.At).Since(now) > farthest:
		c.raise(now, seen, limit, off)
	}
}

// since keeps since when something is so.
func since(at *timing.Instant, so bool, now timing.Instant) {
	switch {
	case !so:
		*at = 0
	case *at == 0:
		*at = now
	}
}

func (c *coming) on() bool { return c.alarm != nil && c.alarm.Condition != alarms.Within }

func (c *coming) raise(now timing.Instant, seen *dayahead.Ahead, limit, off float64) {
	c.Until, c.Limit, c.Ended = timing.At(seen.Until), limit, ""
	c.Day = c.place.reason(seen, off)
	if c.alarm == nil {
		c.make()
	}
	c.Over = c.Until
	c.place.panel.Timers.Set(c.over, c.Over)
	c.alarm.Apply(alarms.Outer, "", now)
}

// reason is what is expected, as data.
func (p *Place) reason(seen *dayahead.Ahead, off float64) *alarms.DayReason {
	return &alarms.DayReason{Night: seen.Night, Value: seen.Value + off, From: seen.From + off, To: seen.To + off,
		At: p.panel.Clock.At(timing.At(seen.At))}
}

// pass ends what was told with the day, or the night, that it told of.
func (c *coming) pass(due timing.Instant) {
	why := alarms.AheadPast
	if due.Since(c.place.heard) > unheard {
		why = alarms.AheadUnknown
	}
	c.end(why, due)
}

// end ends what was told.
func (c *coming) end(why alarms.AheadEnd, due timing.Instant) {
	c.Over, c.Ended = 0, why
	c.place.panel.Timers.Set(c.over, 0)
	c.alarm.Apply(alarms.Within, "", due)
}

// speaks is who says of the side of c that its limit is reached, or soon will be; "" for nobody.
func (c *coming) speaks() alarms.AlarmID {
	limit, warning := c.place.host.LimitAlarm(c.side.of), c.side.alarm
	switch {
	case limit.State.Active() || limit.State.Aside():
		return limit.ID
	case warning != nil && warning.State.Active():
		return warning.ID
	}
	return ""
}

// follow leaves the word to the warning of the next hours, and to the alarm of the limit.
func (c *coming) follow(due timing.Instant) {
	if !c.on() {
		return
	}
	switch by := c.speaks(); {
	case c.place.host.LimitAlarm(c.side.of).State.Aside(): // it says nothing, and neither does this
		c.alarm.Apply(c.alarm.Condition, by, due)
		c.end("", due)
	case by == "" && c.alarm.State == alarms.SuppressedByDesign:
		c.end("", due)
	case by != c.alarm.Cause:
		c.alarm.Apply(c.alarm.Condition, by, due)
	}
}

func (c *coming) make() {
	limit := c.place.host.LimitAlarm(c.side.of)
	c.alarm = c.place.host.Alarm(lifecycle.Alarm{
		ID: limit.ID.Day(), Kind: alarms.RuleDay, Quantity: alarms.Temperature, Side: c.side.of,
		Priority: func(alarms.Level) alarms.Priority { return alarms.Low }, Because: c.why, Passing: true, Order: c.order,
	}, c)
}

// why says what is expected, or how that ended.
func (c *coming) why(m alarms.Move, _ timing.Instant) alarms.Reason {
	limit := c.Limit
	r := alarms.Reason{Value: c.place.host.Present(c.side.of).Value, Limit: &limit}
	day := alarms.DayReason{}
	if c.Day != nil {
		day = *c.Day
	}
	switch {
	case m == alarms.Return || m == alarms.Release:
		day.Ended, r.Since = c.Ended, c.place.panel.Clock.At(c.place.heard)
		if c.alarm.Peak.At >= c.alarm.Began {
			peak := c.alarm.Peak.Value
			r.Peak = &peak
		}
	case m == alarms.Suppress && c.place.host.LimitAlarm(c.side.of).State.Aside():
		day.Ended = alarms.AheadAside
	}
	r.Day = &day
	return r
}

// First is what to look at first.
func (c *coming) First(_ *lifecycle.Alarm, r *alarms.Reason, f *alarms.First) {
	c.place.host.First(r, f)
}

// Present is the value that is furthest out.
func (c *coming) Present(*lifecycle.Alarm) alarms.Present { return c.place.host.Present(c.side.of) }

// drawDays is what is expected of the day, or the night, that is now.
func (p *Place) drawDays() []alarms.DayAhead {
	seen, of, off := p.lookDay(p.panel.Now)
	if of == nil {
		return nil
	}
	r := p.reason(&seen, off)
	d := alarms.DayAhead{Side: of.side.of, Value: r.Value, From: r.From, To: r.To, At: r.At}
	if limit := p.host.LimitAt(of.side.of, timing.At(seen.At)); limit.Set && seen.Reach(limit.Value-off) >= likely {
		d.Reaches = &limit.Value
	}
	return []alarms.DayAhead{d}
}
