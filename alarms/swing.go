package alarms

import (
	"fmt"
	"time"
)

// What comes and goes is held: it is told that it does, and that it is over only
// when it has been quiet for a while. So a value that swings about its limit is
// told of when it passes it, when it is back, and when it passes it again; from
// then on only when it gets worse. For how long it must be quiet grows with the
// cycle of the swing and with the interval of the probes.

// A limit, of a value or of how fast it changes, is held from the second time
// within swingWithin, or within swingIntervals of the probes, whichever is longer;
// that covers the cycle of a thermostat, 10 to 30 min, and that of clouds. Then it
// must be quiet for half as long again as the longest cycle of late, at most
// longestQuiet, or for quietIntervals. Common practice, no source.
const (
	swingTimes     = 2
	swingWithin    = 2 * time.Hour
	swingIntervals = 4
	quietIntervals = 3
	longestQuiet   = 90 * time.Minute
	mostPasses     = 64
)

// pass is one time that an alarm got worse by a level.
type pass struct {
	At   instant  `json:"at"`
	From Level    `json:"from,omitempty"`
	To   Level    `json:"to"`
	Far  *float64 `json:"far,omitempty"`  // the worst value of it, once it is over
	Told *float64 `json:"told,omitempty"` // how bad it was when it was told last, then
}

// swings reports whether a is of a limit, about which a value may swing.
func (a *alarm) swings() bool { return a.rule == RuleLimit || a.rule == RuleRate }

// interval is that of the slowest probe that a swing of a is seen by.
func (a *alarm) interval() (every time.Duration) {
	for _, pr := range a.place.probes {
		for _, st := range pr.streams {
			if st.leaf {
				every = max(every, st.interval())
			}
		}
	}
	return every
}

// within is how far back a's passes count.
func (e *Engine) within(a *alarm) time.Duration {
	if !a.swings() {
		return e.plan.Chatter.Within
	}
	return max(swingWithin, e.plan.Chatter.Within, swingIntervals*a.interval())
}

// quietFor is for how long a must have been quiet to be over.
func (e *Engine) quietFor(a *alarm) time.Duration {
	d := e.plan.Chatter.Hold
	if !a.swings() {
		return d
	}
	cycle, last := time.Duration(0), instant(0)
	for _, p := range a.Passes {
		if p.From != Within {
			continue
		}
		if last != 0 {
			cycle = max(cycle, p.At.since(last))
		}
		last = p.At
	}
	return max(d, min(cycle*3/2, longestQuiet)+time.Second, quietIntervals*a.interval()+time.Second) // what comes just then comes again
}

// passed notes that a, which was at a level, got worse, and reports whether it is
// held from now on.
func (e *Engine) passed(a *alarm, from Level, due instant) (held bool) {
	keep, w := a.Passes[:0], e.within(a)
	for _, p := range a.Passes {
		if due.since(p.At) < w {
			keep = append(keep, p)
		}
	}
	if len(keep) == mostPasses {
		keep = append(keep[:0], keep[1:]...)
	}
	a.Passes = append(keep, pass{At: due, From: from, To: a.Condition})
	came, worse := 0, 0
	for _, p := range a.Passes {
		if p.From == Within {
			came++
		}
		if p.To > Outer {
			worse++
		}
	}
	least := e.plan.Chatter.Raises
	if a.swings() {
		least, came = swingTimes, max(came, worse)
	}
	held = !a.Chatters && came >= least
	a.Chatters = a.Chatters || held
	return held
}

// inside notes that a is over for now.
func (a *alarm) inside(due instant) {
	a.Inside = due
	for i := len(a.Passes) - 1; i >= 0; i-- {
		if p := &a.Passes[i]; p.From == Within {
			far := a.Peak.Value
			p.Far, p.Told = &far, a.Mark
			return
		}
	}
}

// worstPassed is the worst level that a has been at since it began to come and go.
func (a *alarm) worstPassed() Level {
	worst := Within
	for _, p := range a.Passes {
		worst = max(worst, p.To)
	}
	return worst
}

// toldPassed is how bad a was at the most when it was told of late; nil: not known.
func (a *alarm) toldPassed() (most *float64) {
	for _, p := range a.Passes {
		if p.Told != nil && (most == nil || *p.Told > *most) {
			most = p.Told
		}
	}
	return most
}

// rest lets a, which is held, be over or less bad once it has been quiet for long enough.
func (e *Engine) rest(a *alarm, due instant) {
	if quiet := e.timersOf(a).quiet; quiet.due == 0 {
		e.timers.set(quiet, due.add(e.quietFor(a)))
	}
}

// rested ends the hold of a, or lets it be less bad.
func (e *Engine) rested(a *alarm, due instant) {
	over := a.Inside.add(e.quietFor(a))
	switch {
	case !a.State.Active():
		a.calm()
	case a.Condition == Within && over <= due:
		a.calm()
		e.end(a, due)
	case a.Condition == Within:
		e.timers.set(a.timers.quiet, over)
	case a.Condition < a.Level:
		a.Level = a.Condition
		e.move(a, Ease, a.State, due)
	}
}

// stays reports whether a has been on without a break for so long that it does
// not come and go any more.
func (e *Engine) stays(a *alarm, due instant) bool {
	return due.since(a.Began) > e.quietFor(a)
}

// Swing is how often something came and went, as data.
type Swing struct {
	Times  int           `json:"times"`
	Within time.Duration `json:"within_ns"`
	Far    *float64      `json:"far,omitempty"` // how far it went, in the quantity's unit
	Quiet  time.Duration `json:"quiet_ns"`      // for how long it must be quiet to be over
}

// swing says how often a, which is held, came of late: within the last hour if it
// came twice then, else within all that counts.
func (e *Engine) swing(a *alarm, due instant) *Swing {
	s := &Swing{Within: time.Hour, Quiet: e.quietFor(a)}
	if s.count(a, due); s.Times < swingTimes {
		s.Within = e.within(a)
		s.count(a, due)
	}
	return s
}

func (s *Swing) count(a *alarm, due instant) {
	s.Times, s.Far = 0, nil
	take := func(v float64) {
		if s.Far == nil || a.side == HighSide && v > *s.Far || a.side == LowSide && v < *s.Far {
			s.Far = &v
		}
	}
	for _, p := range a.Passes {
		if p.From != Within || due.since(p.At) > s.Within {
			continue
		}
		s.Times++
		if p.Far != nil && a.rule == RuleLimit {
			take(*p.Far)
		}
	}
	if a.rule == RuleLimit && a.Condition != Within {
		take(a.Peak.Value)
	}
}

// swingSentence says that something comes and goes, to follow a sentence; "" where
// it does not.
func (w Words) swingSentence(q Quantity, side Side, s *Swing) string {
	if s == nil {
		return ""
	}
	far := ""
	if s.Far != nil {
		far = ", up to "
		if side == LowSide {
			far = ", down to "
		}
		far += w.Value(q, *s.Far)
	}
	span := Span(s.Within)
	if s.Within == time.Hour {
		span = "hour"
	}
	return fmt.Sprintf(" It comes and goes: %d times in the last %s%s. That it is over is told when it has been quiet for %s.",
		s.Times, span, far, Span(s.Quiet))
}
