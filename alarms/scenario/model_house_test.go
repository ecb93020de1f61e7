package scenario_test

import (
	"math"
	"slices"
	"time"

	"telltale/alarms"
)

// relation of a value to one limit.
type relation int

const (
	unknown relation = iota // nothing is known, or was for a moment
	suspect                 // beyond by one reading that is doubted
	beyond
	between // in the deadband
	inside
)

// lamp is one of the four limits: on after being beyond for its delay, off
// after being inside for the delay of the way back.
type lamp struct {
	high, inner bool
	on          bool
	seen        []sight // all that was ever judged, oldest first
}

type sight struct {
	at  int
	rel relation
}

// for how many seconds has inside been all that was seen? -1: it is not now.
func (l *lamp) insideFor(t int) int {
	from := -1
	for i := len(l.seen) - 1; i >= 0 && l.seen[i].rel == inside; i-- {
		from = l.seen[i].at
	}
	if from < 0 {
		return -1
	}
	return t - from
}

// for how many seconds has beyond been seen, with nothing else but times in
// which nothing was known? -1: it is not now.
func (l *lamp) beyondFor(t int) int {
	sum, end := -1, t
	for i := len(l.seen) - 1; i >= 0; i-- {
		switch l.seen[i].rel {
		case suspect:
			if sum < 0 {
				return -1
			}
			fallthrough
		case beyond:
			sum = max(sum, 0) + end - l.seen[i].at
		case unknown:
			if sum < 0 {
				return -1
			}
		default:
			return sum
		}
		end = l.seen[i].at
	}
	return sum
}

// greenhouse is the model of one house.
type greenhouse struct {
	*box
	house    *alarms.House
	probe    *alarms.Probe
	band     alarms.Band // its delays; those of all bands are the same
	lamps    []*lamp
	sides    [2]*card // too low, too high
	silence  *card
	dark     *card
	clock    *card
	season   *card
	start    time.Time
	now      struct{ season, before alarms.Season }
	part     struct{ now, before alarms.Daypart }
	settled  int // end of settling; 0: not settling
	value    float64
	known    bool                       // value may be judged
	wait     struct{ from, length int } // for the next message
	waits    bool
	silent   bool
	out      bool
	heard    float64 // value of the last message; NaN when it is forgotten
	newest   time.Time
	odd      float64 // value of a reading that may be an old one; NaN for none
	behind   bool    // the newest reading was one
	clockOff bool
	sane     int // good times since
}

func newGreenhouse(b *box, h *alarms.House, start time.Time) *greenhouse {
	p := &h.Places[0]
	g := &greenhouse{box: b, house: h, probe: &p.Probes[0], band: p.Bands[0], start: start, heard: math.NaN(), odd: math.NaN()}
	base := alarms.AlarmID(h.ID) + "/" + alarms.AlarmID(p.ID)
	g.season = b.add(alarms.AlarmID(h.ID)+"/season", fixed(alarms.Low))
	g.dark = b.add(base+"/unwatched", onlyLast)
	for i, name := range []alarms.AlarmID{"/temperature/low", "/temperature/high"} {
		g.lamps = append(g.lamps, &lamp{high: i == 1}, &lamp{high: i == 1, inner: true})
		g.sides[i] = b.add(base+name, func(l alarms.Level) alarms.Priority {
			if l == alarms.Inner {
				return alarms.High
			}
			return alarms.Medium
		})
		g.sides[i].every = int(g.probe.Every.Seconds())
		g.sides[i].how = func() (float64, float64, float64) { return g.how(i) }
	}
	g.silence = b.add(base+"/"+alarms.AlarmID(g.probe.ID)+"/silent", onlyLast)
	g.clock = b.add(base+"/"+alarms.AlarmID(g.probe.ID)+"/clock", fixed(alarms.Low))
	g.now.season, g.now.before = h.Season, h.Season
	g.part.now = g.daypart(0)
	g.part.before = g.part.now
	g.await(0, g.patient())
	return g
}

// daypart looks at the clock on the wall.
func (g *greenhouse) daypart(t int) alarms.Daypart {
	at := g.start.Add(time.Duration(t) * time.Second)
	clock := time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute + time.Duration(at.Second())*time.Second
	if clock >= g.house.Day.Start && clock < g.house.Day.End {
		return alarms.Day
	}
	return alarms.Night
}

// allowed is how long the probe may say nothing, in seconds.
func (g *greenhouse) allowed() int {
	every := int(g.probe.Every.Seconds())
	return 3*every + every/10
}

// await begins to wait for a message for some seconds.
func (g *greenhouse) await(t, length int) {
	g.waits = true
	g.wait.from, g.wait.length = t, length
}

// patient is how many seconds it is waited for one that must find the broker first.
func (g *greenhouse) patient() int { return max(g.allowed(), 120) }

// overdue reports whether the wait is over at second t: all of it has passed,
// and after a time in which nothing could be heard an interval, or two in all.
func (g *greenhouse) overdue(t int, ears *ears) bool {
	every := int(g.probe.Every.Seconds())
	grace := max(every+every/10, 120)
	switch {
	case !g.waits || t-g.wait.from < g.wait.length:
		return false
	case ears.heard(g.wait.from, t) == t-g.wait.from && !ears.deaf:
		return true
	case ears.heard(g.wait.from, t) >= 2*grace:
		return true
	case ears.mute:
		return t-ears.from >= grace
	}
	return !ears.deaf && t-ears.since >= grace
}

// limit is what holds for l at second t.
func (g *greenhouse) limit(l *lamp, season alarms.Season, part alarms.Daypart) float64 {
	for _, b := range g.house.Places[0].Bands { // the most specific first
		if b.When != part && b.When != alarms.Always || len(b.Seasons) > 0 && !slices.Contains(b.Seasons, season) {
			continue
		}
		v := b.Low
		switch {
		case l.high && l.inner:
			v = b.HighHigh
		case l.high:
			v = b.High
		case l.inner:
			v = b.LowLow
		}
		if v.Set {
			return v.Value
		}
	}
	panic("a limit is missing in the plan of the model")
}

func (g *greenhouse) inForce(l *lamp) float64 {
	v := g.limit(l, g.now.season, g.part.now)
	if g.settled != 0 {
		old := g.limit(l, g.now.before, g.part.before)
		if l.high {
			return max(v, old)
		}
		return min(v, old)
	}
	return v
}

// look judges the present value, if there is one, by all four limits.
// Deaf, it takes nothing of before as seen to hold still.
func (g *greenhouse) look(t int, deaf bool) {
	for _, l := range g.lamps {
		rel := unknown
		v, odd, limit := g.value, g.odd, g.inForce(l)
		if !l.high {
			v, odd, limit = -v, -odd, -limit
		}
		switch {
		case g.known && v > limit:
			rel = beyond
		case !l.on && odd > limit:
			rel = suspect
		case g.known && v <= limit-g.band.Deadband:
			rel = inside
		case g.known:
			rel = between
		}
		if deaf && ((rel == beyond || rel == suspect) && !l.on || rel == inside && l.on) {
			rel = unknown
		}
		l.seen = append(l.seen, sight{t, rel})
	}
	before := [2]alarms.Level{g.sides[0].condition, g.sides[1].condition}
	g.switchLamps(t)
	g.deepens(t, before)
}

// switchLamps sees which lamps go on or off at second t.
func (g *greenhouse) switchLamps(t int) {
	for _, l := range g.lamps {
		delay := g.band.Delay
		if l.inner {
			delay = g.band.QuickDelay
		}
		if l.on {
			if n := l.insideFor(t); n >= 0 && n >= int(g.band.ClearDelay.Seconds()) {
				l.on = false
			}
		} else if n := l.beyondFor(t); n >= 0 && n >= max(int(delay.Seconds()), 0) {
			l.on = true
		}
	}
	for i, c := range g.sides {
		level := g.lit(i)
		if level != c.condition {
			g.box.now(c, t, level, false)
		}
	}
}

// lit is the worse of the two limits of a side whose lamp is on.
func (g *greenhouse) lit(i int) alarms.Level {
	level := alarms.Within
	if g.lamps[2*i].on {
		level = alarms.Outer
	}
	if g.lamps[2*i+1].on {
		level = alarms.Inner
	}
	return level
}

// how bad side i is, how much worse is worth telling, and how much less bad is
// clearly better.
func (g *greenhouse) how(i int) (worse, step, better float64) {
	width := g.inForce(g.lamps[2]) - g.inForce(g.lamps[0])
	step = max(min(3, width*0.15), 2*g.band.Deadband)
	if inner := g.lamps[2*i+1]; !inner.on && len(inner.seen) > 0 && inner.seen[len(inner.seen)-1].rel == beyond {
		step = math.Inf(1) // the worse limit will be told in a moment
	}
	switch {
	case !g.known:
		return math.NaN(), step, g.band.Deadband
	case i == 0:
		return -g.value, step, g.band.Deadband
	}
	return g.value, step, g.band.Deadband
}

// deepens tells sides that got much worse without passing another limit.
func (g *greenhouse) deepens(t int, before [2]alarms.Level) {
	for i, c := range g.sides {
		if c.state.Active() && c.condition == before[i] && c.worse() {
			g.box.now(c, t, c.condition, false)
		}
	}
}

// doubt is when nothing is seen any more.
func (g *greenhouse) doubt(t int) {
	for _, l := range g.lamps {
		l.seen = append(l.seen, sight{t, unknown})
	}
}

// change puts other limits in force.
func (g *greenhouse) change(t int, season alarms.Season, part alarms.Daypart, deaf bool) {
	g.now.before, g.part.before = g.now.season, g.part.now
	g.now.season, g.part.now = season, part
	g.settled = 0
	if s := int(g.house.Day.Settle.Seconds()); s > 0 {
		g.settled = t + s
	}
	g.look(t, deaf)
}

// passes does what the clock alone brings about at second t.
func (g *greenhouse) passes(t int, ears *ears, linkSays bool) {
	if part := g.daypart(t); part != g.part.now {
		g.change(t, g.now.season, part, ears.deaf)
	}
	if g.settled != 0 && g.settled == t {
		g.settled = 0
		g.look(t, ears.deaf)
	}
	g.due(g.dark, t)
	g.misses(t, ears, linkSays)
	g.switchLamps(t)
	g.due(g.sides[0], t)
	g.due(g.sides[1], t)
	g.due(g.silence, t)
	g.due(g.clock, t)
	g.sayWhoIsMissing(t, linkSays) // a shelf may have ended
}

// misses finds that the probe has been silent for too long.
func (g *greenhouse) misses(t int, ears *ears, linkSays bool) {
	if g.overdue(t, ears) {
		g.silent, g.known, g.waits, g.heard, g.odd = true, false, false, math.NaN(), math.NaN()
		g.look(t, ears.deaf)
		g.sayWhoIsMissing(t, linkSays)
	}
}

// onlyLast is high where nothing else is known of the house.
func onlyLast(l alarms.Level) alarms.Priority {
	if l == alarms.Last {
		return alarms.High
	}
	return alarms.Medium
}

// sayWhoIsMissing brings the silence and the darkness of the place up to date.
func (g *greenhouse) sayWhoIsMissing(t int, linkSays bool) {
	silent, dark := alarms.Within, alarms.Within
	if g.silent {
		silent, dark = alarms.Last, alarms.Last // its only temperature
	}
	if g.out {
		dark = alarms.Inner
	}
	g.box.now(g.silence, t, silent, silent != alarms.Within && (linkSays || !g.dark.aside())) // the dark place or the lost link says it
	g.box.now(g.dark, t, dark, linkSays)
}

// message takes a live or retained message of the probe.
func (g *greenhouse) message(t int, in alarms.Input, linkSays bool) {
	if in.Retained || in.Value == g.heard && !in.Measured.IsZero() && in.Measured.Equal(g.newest) {
		return
	}
	g.heard = in.Value
	if !g.out {
		g.await(t, g.allowed())
		if g.silent {
			g.silent = false
			g.sayWhoIsMissing(t, linkSays)
		}
	} else {
		return
	}
	if !in.Measured.IsZero() && g.mayBeOld(t, in) {
		g.odd = in.Value
	} else {
		g.value, g.known, g.odd = in.Value, true, math.NaN()
	}
	g.look(t, false)
}

// mayBeOld reports whether a reading may be an old one by its own time. Of two
// in a row the second is not, since none here come in one go.
func (g *greenhouse) mayBeOld(t int, in alarms.Input) bool {
	old := in.At.Sub(in.Measured) > max(10*time.Minute, 2*g.probe.Every)
	switch {
	case old && g.clockOff:
		g.sane = 0
		return false
	case (old || in.Measured.Before(g.newest)) && !g.behind:
		g.behind = true
		return true
	case old:
		g.clockOff, g.sane = true, 0
		g.box.now(g.clock, t, alarms.Outer, false)
	case !in.Measured.Before(g.newest):
		g.behind = false
		if g.sane++; g.clockOff && g.sane == 5 {
			g.clockRight(t)
		}
	}
	g.newest = in.Measured
	return false
}

func (g *greenhouse) clockRight(t int) {
	g.clockOff, g.sane = false, 0
	g.box.now(g.clock, t, alarms.Within, false)
}

// serve takes the probe out of service or puts it back.
func (g *greenhouse) serve(t int, out bool, ears *ears, linkSays bool) {
	if g.out == out {
		return
	}
	g.out, g.known, g.silent, g.waits, g.heard, g.odd = out, false, false, false, math.NaN(), math.NaN()
	g.clockRight(t)
	if out {
		g.person(g.silence, t, alarms.TakeOut, 0)
	} else {
		g.await(t, g.patient())
		g.person(g.silence, t, alarms.PutBack, 0)
	}
	g.look(t, ears.deaf)
	g.sayWhoIsMissing(t, linkSays)
}
