package loop

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/timing"
)

func energyOf(e ground.Energy) alarms.LoopEnergy {
	return alarms.LoopEnergy{Heat: e.Heat, Cold: e.Cold, Wet: e.Wet, Dried: e.Dried, Fan: e.Fan, Run: e.Run, Watched: e.Watched}
}

// sight is what is known of a loop at one moment.
type sight struct {
	house    ground.Air // that enters the pipes; temperature NaN: not known
	from     ground.Air // at the place that the loop is from
	fanKnown bool
	fan      bool    // it runs
	drawn    float64 // W; NaN: not known
	pipes    []pipeSight
}

type pipeSight struct {
	mouth  ground.Air // in the house, at the place of its outlet; temperature NaN: not known
	enters ground.Air
	outlet ground.Air // that leaves it
	known  bool       // whether air is drawn through it
	moving bool       // it is
	power  ground.Power
}

// seen is what st says, which may be none.
func seen(st Stream) (v float64, ok bool) {
	if st == nil {
		return 0, false
	}
	return st.Live()
}

// look finds what is known of l now.
func (l *Loop) look() sight {
	s := sight{from: l.from.Air(), drawn: math.NaN()}
	runs, ok := seen(l.runs)
	s.fanKnown = ok
	s.fan = s.fanKnown && l.plan.Runs.Shows(runs)
	drawn, ok := seen(l.power)
	switch {
	case ok:
		s.drawn = drawn
	case s.fan && l.plan.FanWatts > 0:
		s.drawn = l.plan.FanWatts
	}
	for _, p := range l.pipes {
		s.pipes = append(s.pipes, p.lookInto(s))
	}
	s.house = s.inside(l)
	for i, p := range l.pipes {
		one := &s.pipes[i]
		one.enters, one.outlet = s.house, one.mouth
		if l.hand.up {
			one.enters, one.outlet = one.mouth, s.from
		}
		one.power = ground.Passage{Arriving: one.outlet, House: one.enters, Volume: p.volume(),
			AtHouse: l.plan.AtHouse, Pressure: l.plan.Pressure}.Delivered()
	}
	return s
}

// lookInto finds whether air passes through p.
func (p *pipe) lookInto(s sight) pipeSight {
	one := pipeSight{mouth: p.outlet.Air(), known: s.fanKnown, moving: s.fan}
	switch {
	case p.shut():
		one.known, one.moving = true, false
	case p.damper != nil:
		v, ok := seen(p.damper)
		one.known = s.fanKnown && (!s.fan || ok)
		one.moving = s.fan && ok && p.plan.Damper.Shows(v)
	}
	return one
}

// flow is warmth, or what vapour carries, in W; NaN: not known.
type flow func(ground.Power) float64

func warmth(p ground.Power) float64 { return p.Sensible }

// vapour is known only where both humidities are.
func vapour(p ground.Power) float64 {
	if p.Basis != ground.BothHumid {
		return math.NaN()
	}
	return p.Latent
}

// brings returns how much of a flow p brings, NaN where that is not known.
func (p pipeSight) brings(f flow) float64 {
	switch {
	case !p.known:
		return math.NaN()
	case !p.moving:
		return 0
	}
	return f(p.power)
}

// brings returns what all pipes bring of which that is known, NaN for none.
func (s sight) brings(f flow) float64 {
	sum := math.NaN()
	for _, p := range s.pipes {
		switch w := p.brings(f); {
		case math.IsNaN(w):
		case math.IsNaN(sum):
			sum = w
		default:
			sum += w
		}
	}
	return sum
}

// Count adds up what l brought up to now, and looks at what it brings from now on.
func (l *Loop) Count(now timing.Instant) {
	s, t := l.look(), now.UTC()
	l.Day.Step(t, s.brings(warmth), s.brings(vapour), s.drawn, s.fan)
	for i, p := range l.pipes {
		p.Day.Step(t, s.pipes[i].brings(warmth), s.pipes[i].brings(vapour), 0, s.pipes[i].moving)
	}
}

// endDay is midnight: it writes the day into the log.
func (l *Loop) endDay(due timing.Instant) {
	if from := l.house.Leap(due); from != due {
		l.panel.Timers.Set(l.midnight, l.house.Midnight(from))
		return
	}
	t := due.UTC()
	day := l.Day.Close(t)
	l.Last, l.Past = energyOf(day), l.Past.Plus(energyOf(day))
	for _, p := range l.pipes {
		closed := p.Day.Close(t)
		p.Last, p.Past = energyOf(closed), p.Past.Plus(energyOf(closed))
		p.forgetDecline(due)
	}
	l.countWay(energyOf(day))
	l.Counted = alarms.LoopEnergy{}
	if day.Run > 0 {
		l.tells = l.whyDay()
		l.log.Write(due)
	}
	l.DayFrom = due
	l.panel.Timers.Set(l.midnight, l.house.Midnight(due))
}

// ahead returns the energy counted up to at, for looking only.
func ahead(e ground.Energy, at time.Time) alarms.LoopEnergy { return energyOf(e.Close(at)) }

// alone reports whether what leaves p is seen by itself.
func (s sight) alone(l *Loop, i int) bool {
	if !l.hand.up {
		return true
	}
	for k, p := range s.pipes {
		if k != i && (p.moving || !p.known) {
			return false
		}
	}
	return true
}

// inside is the air of the house that enters the pipes of l: drawn up it enters at
// their outlets.
func (s sight) inside(l *Loop) ground.Air {
	if !l.hand.up {
		return s.from
	}
	sum, n := 0.0, 0.0
	for _, p := range s.pipes {
		if t := p.mouth.Temperature; !math.IsNaN(t) {
			sum, n = sum+t, n+1
		}
	}
	return ground.Dry(sum / n) // no number where nothing is known
}
