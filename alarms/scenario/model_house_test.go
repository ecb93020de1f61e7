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

// for how many seconds has rel been all that was seen? -1: it is not now.
func (l *lamp) lasted(rel relation, t int) int {
	from := -1
	for i := len(l.seen) - 1; i >= 0 && l.seen[i].rel == rel; i-- {
		from = l.seen[i].at
	}
	if from < 0 {
		return -1
	}
	return t - from
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
	season   *card
	start    time.Time
	now      struct{ season, before alarms.Season }
	part     struct{ now, before alarms.Daypart }
	settled  int // end of settling; 0: not settling
	value    float64
	known    bool // value may be judged
	deadline int  // for the next message; 0: none awaited
	silent   bool
	out      bool
	heard    float64 // value of the last message; NaN when it is forgotten
	newest   time.Time
}

func newGreenhouse(b *box, h *alarms.House, start time.Time) *greenhouse {
	p := &h.Places[0]
	g := &greenhouse{box: b, house: h, probe: &p.Probes[0], band: p.Bands[0], start: start, heard: math.NaN()}
	base := alarms.AlarmID(h.ID) + "/" + alarms.AlarmID(p.ID)
	g.season = b.add(alarms.AlarmID(h.ID)+"/season", fixed(alarms.Low))
	g.dark = b.add(base+"/unwatched", fixed(alarms.Medium))
	for i, name := range []alarms.AlarmID{"/temperature/low", "/temperature/high"} {
		g.lamps = append(g.lamps, &lamp{high: i == 1}, &lamp{high: i == 1, inner: true})
		g.sides[i] = b.add(base+name, func(l alarms.Level) alarms.Priority {
			if l == alarms.Inner {
				return alarms.High
			}
			return alarms.Medium
		})
	}
	g.silence = b.add(base+"/"+alarms.AlarmID(g.probe.ID)+"/silent", fixed(alarms.Medium))
	g.now.season, g.now.before = h.Season, h.Season
	g.part.now = g.daypart(0)
	g.part.before = g.part.now
	g.await(0)
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

// await begins to wait for a message anew, with time to spare.
func (g *greenhouse) await(t int) { g.deadline = t + max(g.allowed(), 120) }

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
func (g *greenhouse) look(t int) {
	for _, l := range g.lamps {
		rel := unknown
		if g.known {
			v, limit := g.value, g.inForce(l)
			if !l.high {
				v, limit = -v, -limit
			}
			switch {
			case v > limit:
				rel = beyond
			case v <= limit-g.band.Deadband:
				rel = inside
			default:
				rel = between
			}
		}
		l.seen = append(l.seen, sight{t, rel})
	}
	g.switchLamps(t)
}

// switchLamps sees which lamps go on or off at second t.
func (g *greenhouse) switchLamps(t int) {
	for _, l := range g.lamps {
		delay := g.band.Delay
		if l.inner {
			delay = g.band.QuickDelay
		}
		if l.on {
			if n := l.lasted(inside, t); n >= 0 && n >= int(g.band.ClearDelay.Seconds()) {
				l.on = false
			}
		} else if n := l.lasted(beyond, t); n >= 0 && n >= max(int(delay.Seconds()), 0) {
			l.on = true
		}
	}
	for i, c := range g.sides {
		level := alarms.Within
		if g.lamps[2*i].on {
			level = alarms.Outer
		}
		if g.lamps[2*i+1].on {
			level = alarms.Inner
		}
		if level != c.condition {
			g.box.now(c, t, level, false)
		}
	}
}

// doubt lets nothing that was seen before count towards the way back; with
// all, nor towards the way there.
func (g *greenhouse) doubt(t int, all bool) {
	for _, l := range g.lamps {
		if l.on || all {
			l.seen = append(l.seen, sight{t, unknown})
		}
	}
}

// change puts other limits in force.
func (g *greenhouse) change(t int, season alarms.Season, part alarms.Daypart) {
	g.now.before, g.part.before = g.now.season, g.part.now
	g.now.season, g.part.now = season, part
	g.settled = 0
	if s := int(g.house.Day.Settle.Seconds()); s > 0 {
		g.settled = t + s
	}
	g.look(t)
}

// passes does what the clock alone brings about at second t.
func (g *greenhouse) passes(t int, linkUp, linkTold bool) {
	if part := g.daypart(t); part != g.part.now {
		g.change(t, g.now.season, part)
	}
	if g.settled != 0 && g.settled == t {
		g.settled = 0
		g.look(t)
	}
	g.due(g.dark, t)
	if g.deadline == t && linkUp && !g.silent {
		g.silent, g.known, g.deadline, g.heard = true, false, 0, math.NaN()
		g.look(t)
		g.sayWhoIsMissing(t, linkTold)
	}
	g.switchLamps(t)
	g.due(g.sides[0], t)
	g.due(g.sides[1], t)
	g.due(g.silence, t)
}

// sayWhoIsMissing brings the silence and the darkness of the place up to date.
func (g *greenhouse) sayWhoIsMissing(t int, linkTold bool) {
	silent, dark := alarms.Within, alarms.Within
	if g.silent {
		silent, dark = alarms.Outer, alarms.Inner
	}
	if g.out {
		dark = alarms.Inner
	}
	g.box.now(g.silence, t, silent, silent != alarms.Within) // the dark place or the lost link says it
	g.box.now(g.dark, t, dark, linkTold)
}

// message takes a live or retained message of the probe.
func (g *greenhouse) message(t int, in alarms.Input, linkTold bool) {
	if in.Retained || in.Value == g.heard && !in.Measured.IsZero() && in.Measured.Equal(g.newest) {
		return
	}
	g.heard = in.Value
	if !g.out {
		g.deadline = t + g.allowed()
		if g.silent {
			g.silent = false
			g.sayWhoIsMissing(t, linkTold)
		}
	} else {
		return
	}
	if !in.Measured.IsZero() {
		if in.Measured.Before(g.newest) {
			return
		}
		late := max(10*time.Minute, 2*g.probe.Every)
		g.newest = in.Measured
		if in.At.Sub(in.Measured) > late {
			return
		}
	}
	g.value, g.known = in.Value, true
	g.look(t)
}

// serve takes the probe out of service or puts it back.
func (g *greenhouse) serve(t int, out, linkTold bool) {
	if g.out == out {
		return
	}
	g.out, g.known, g.silent, g.deadline, g.heard = out, false, false, 0, math.NaN()
	if out {
		g.person(g.silence, t, alarms.TakeOut, 0)
	} else {
		g.await(t)
		g.person(g.silence, t, alarms.PutBack, 0)
	}
	g.look(t)
	g.sayWhoIsMissing(t, linkTold)
}
