package lifecycle

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/timing"
)

// What comes and goes is held: it is told that it does, and that it is over only
// when it has been quiet for a while. So a value that swings about its limit is
// told of when it passes it, when it is back, and when it passes it again; from
// then on only when it gets worse. For how long it must be quiet grows with the
// cycle of the swing and with the interval of the probes.

// A limit, of a value or of how fast it changes, is held from the second time
// within swingWithin, or within swingIntervals of the probes, whichever is longer;
// that covers the cycle of a thermostat, 10 to 30 min, and that of clouds. Then it
// must be quiet for half as long again as the longest cycle recently, at most
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
	At   timing.Instant `json:"at"`
	From alarms.Level   `json:"from,omitempty"`
	To   alarms.Level   `json:"to"`
	Far  *float64       `json:"far,omitempty"`  // the worst value of it, once it is over
	Told *float64       `json:"told,omitempty"` // how bad it was when it was told last, then
}

// Swings reports whether a is of a limit, about which a value may swing.
func (a *Alarm) Swings() bool { return a.Kind == alarms.RuleLimit || a.Kind == alarms.RuleRate }

// within is how far back a's passes count.
func (a *Alarm) within() time.Duration {
	if !a.Swings() {
		return a.panel.Chatter.Within
	}
	return max(swingWithin, a.panel.Chatter.Within, swingIntervals*a.About.Interval())
}

// QuietFor is for how long a must have been quiet to be over.
func (a *Alarm) QuietFor() time.Duration {
	d := a.panel.Chatter.Hold
	if !a.Swings() {
		return d
	}
	cycle, last := time.Duration(0), timing.Instant(0)
	for _, p := range a.Passes {
		if p.From != alarms.Within {
			continue
		}
		if last != 0 {
			cycle = max(cycle, p.At.Since(last))
		}
		last = p.At
	}
	return max(d, min(cycle*3/2, longestQuiet)+time.Second, quietIntervals*a.About.Interval()+time.Second) // what comes just then comes again
}

// passed notes that a, which was at a level, got worse, and reports whether it is
// held from now on.
func (a *Alarm) passed(from alarms.Level, due timing.Instant) (held bool) {
	keep, w := a.Passes[:0], a.within()
	for _, p := range a.Passes {
		if due.Since(p.At) < w {
			keep = append(keep, p)
		}
	}
	if len(keep) == mostPasses {
		keep = append(keep[:0], keep[1:]...)
	}
	a.Passes = append(keep, pass{At: due, From: from, To: a.Condition})
	came, worse := 0, 0
	for _, p := range a.Passes {
		if p.From == alarms.Within {
			came++
		}
		if p.To > alarms.Outer {
			worse++
		}
	}
	least := a.panel.Chatter.Raises
	if a.Swings() {
		least, came = swingTimes, max(came, worse)
	}
	held = !a.Chatters && came >= least
	a.Chatters = a.Chatters || held
	return held
}

// inside notes that a is over for now.
func (a *Alarm) inside(due timing.Instant) {
	a.Inside = due
	for i := len(a.Passes) - 1; i >= 0; i-- {
		if p := &a.Passes[i]; p.From == alarms.Within {
			far := a.Peak.Value
			p.Far, p.Told = &far, a.Mark
			return
		}
	}
}

// worstPassed is the worst level that a has been at since it began to come and go.
func (a *Alarm) worstPassed() alarms.Level {
	worst := alarms.Within
	for _, p := range a.Passes {
		worst = max(worst, p.To)
	}
	return worst
}

// toldPassed is how bad a was at the most when it was told recently; nil: not known.
func (a *Alarm) toldPassed() (most *float64) {
	for _, p := range a.Passes {
		if p.Told != nil && (most == nil || *p.Told > *most) {
			most = p.Told
		}
	}
	return most
}

// rest lets a, which is held, be over or less bad once it has been quiet for long enough.
func (a *Alarm) rest(due timing.Instant) {
	if quiet := a.timersOf().quiet; quiet.Due == 0 {
		a.panel.Timers.Set(quiet, due.Add(a.QuietFor()))
	}
}

// rested ends the hold of a, or lets it be less bad.
func (a *Alarm) rested(due timing.Instant) {
	over := a.Inside.Add(a.QuietFor())
	switch {
	case !a.State.Active():
		a.calm()
	case a.Condition == alarms.Within && over <= due:
		a.calm()
		a.end(due)
	case a.Condition == alarms.Within:
		a.panel.Timers.Set(a.timers.quiet, over)
	case a.Condition < a.Level:
		a.Level = a.Condition
		a.Move(alarms.Ease, a.State, due)
	}
}

// stays reports whether a has been on without a break for so long that it does
// not come and go any more.
func (a *Alarm) stays(due timing.Instant) bool {
	return due.Since(a.Began) > a.QuietFor()
}

// swing says how often a, which is held, came recently: within the last hour if it
// came twice then, else within all that counts.
func (a *Alarm) swing(due timing.Instant) *alarms.Swing {
	s := &alarms.Swing{Within: time.Hour, Quiet: a.QuietFor()}
	if a.countSwing(s, due); s.Times < swingTimes {
		s.Within = a.within()
		a.countSwing(s, due)
	}
	return s
}

func (a *Alarm) countSwing(s *alarms.Swing, due timing.Instant) {
	s.Times, s.Far = 0, nil
	take := func(v float64) {
		if s.Far == nil || a.Side == alarms.HighSide && v > *s.Far || a.Side == alarms.LowSide && v < *s.Far {
			s.Far = &v
		}
	}
	for _, p := range a.Passes {
		if p.From != alarms.Within || due.Since(p.At) > s.Within {
			continue
		}
		s.Times++
		if p.Far != nil && a.Kind == alarms.RuleLimit {
			take(*p.Far)
		}
	}
	if a.Kind == alarms.RuleLimit && a.Condition != alarms.Within {
		take(a.Peak.Value)
	}
}

// SettleDown ends the hold of a, if it is held, and forgets how it came and went.
func (a *Alarm) SettleDown(due timing.Instant) {
	if a.Chatters {
		a.stayNoisy()
		a.calm()
		if a.State.Active() && a.Condition == alarms.Within {
			a.end(due)
		}
	}
	a.Passes = nil
}
