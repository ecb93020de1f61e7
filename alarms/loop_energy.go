package alarms

import (
	"math"
	"time"

	"telltale/alarms/ground"
)

// LoopEnergy is what a loop or one of its pipes brought over some time. Heat and
// cold are what a thermometer shows; what vapour carried is apart, since it warms
// nothing until it condenses.
type LoopEnergy struct {
	Heat    float64       `json:"heat_kwh"`                  // warmth brought in
	Cold    float64       `json:"cold_kwh"`                  // warmth taken out, counted positive
	Wet     float64       `json:"moisture_in_kwh,omitzero"`  // brought in by vapour, where both humidities are known
	Dried   float64       `json:"moisture_out_kwh,omitzero"` // taken out by vapour, counted positive
	Fan     float64       `json:"fan_kwh"`                   // drawn by the fan, where known; 0 for a pipe
	Run     time.Duration `json:"run_ns"`                    // with air moving
	Watched time.Duration `json:"watched_ns"`                // over which the warmth was known
}

// EachFanKWh returns the heat and cold for each kWh that the fan drew, ok
// false where that is not known.
func (l LoopEnergy) EachFanKWh() (each float64, ok bool) {
	if l.Fan < 0.001 || l.Watched == 0 {
		return 0, false
	}
	return (l.Heat + l.Cold) / l.Fan, true
}

// Plus is l and m together.
func (l LoopEnergy) Plus(m LoopEnergy) LoopEnergy {
	return LoopEnergy{Heat: l.Heat + m.Heat, Cold: l.Cold + m.Cold, Wet: l.Wet + m.Wet, Dried: l.Dried + m.Dried,
		Fan: l.Fan + m.Fan, Run: l.Run + m.Run, Watched: l.Watched + m.Watched}
}

func (l LoopEnergy) plus(e ground.Energy) LoopEnergy {
	return l.Plus(LoopEnergy{Heat: e.Heat, Cold: e.Cold, Wet: e.Wet, Dried: e.Dried, Fan: e.Fan, Run: e.Run, Watched: e.Watched})
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

// seen reports whether st has a value of the present that may be used.
func (e *Engine) seen(st *stream) bool {
	return st != nil && st.usable() && e.link.up() && st.ValueAt >= e.link.Since
}

// airAt returns the air at p: of one probe where one has temperature and
// humidity, else of the first that has each.
func (e *Engine) airAt(p *place) ground.Air {
	found := ground.Dry(math.NaN())
	for _, pr := range p.probes {
		own := ground.Dry(math.NaN())
		for _, st := range pr.streams {
			switch {
			case !e.seen(st):
			case st.plan.Quantity == Temperature:
				own.Temperature = st.Value
			case st.plan.Quantity == Humidity:
				own.Humidity = st.Value
			}
		}
		if !math.IsNaN(own.Temperature + own.Humidity) {
			return own
		}
		if math.IsNaN(found.Temperature) {
			found.Temperature = own.Temperature
		}
		if math.IsNaN(found.Humidity) {
			found.Humidity = own.Humidity
		}
	}
	return found
}

// look finds what is known of l now.
func (e *Engine) look(l *loop) sight {
	s := sight{from: e.airAt(l.from), drawn: math.NaN(), fanKnown: e.seen(l.runs)}
	s.fan = s.fanKnown && l.plan.Runs.shows(l.runs.Value)
	switch {
	case e.seen(l.power):
		s.drawn = l.power.Value
	case s.fan && l.plan.FanWatts > 0:
		s.drawn = l.plan.FanWatts
	}
	for _, p := range l.pipes {
		s.pipes = append(s.pipes, e.lookInto(p, s))
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
func (e *Engine) lookInto(p *pipe, s sight) pipeSight {
	one := pipeSight{mouth: e.airAt(p.outlet), known: s.fanKnown, moving: s.fan}
	switch {
	case p.shut():
		one.known, one.moving = true, false
	case p.damper != nil:
		open := e.seen(p.damper) && p.plan.Damper.shows(p.damper.Value)
		one.known = s.fanKnown && (!s.fan || e.seen(p.damper))
		one.moving = s.fan && open
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

// countLoop counts what h's loop brought up to now, and looks at what it
// brings from now on.
func (e *Engine) countLoop(h *house, now instant) {
	l := h.loop
	if l == nil {
		return
	}
	s, t := e.look(l), now.utc()
	l.Day.Step(t, s.brings(warmth), s.brings(vapour), s.drawn, s.fan)
	for i, p := range l.pipes {
		p.Day.Step(t, s.pipes[i].brings(warmth), s.pipes[i].brings(vapour), 0, s.pipes[i].moving)
	}
}

// endLoopDay is midnight: it writes the day into the log.
func (e *Engine) endLoopDay(l *loop, due instant) {
	if from := e.leap(due, l.house, e.asleep); from != due {
		e.timers.set(l.midnight, l.house.midnightAfter(from))
		return
	}
	t := due.utc()
	day := l.Day.Close(t)
	l.Last, l.Past = LoopEnergy{}.plus(day), l.Past.plus(day)
	for _, p := range l.pipes {
		closed := p.Day.Close(t)
		p.Last, p.Past = LoopEnergy{}.plus(closed), p.Past.plus(closed)
		e.forgetDecline(p, due)
	}
	l.countWay(LoopEnergy{}.plus(day))
	l.Counted = LoopEnergy{}
	if day.Run > 0 {
		l.tells = l.whyDay()
		e.note(l.log, due)
	}
	l.DayFrom = due
	e.timers.set(l.midnight, l.house.midnightAfter(due))
}

// ahead returns the energy counted up to at, for looking only.
func ahead(e ground.Energy, at time.Time) LoopEnergy { return LoopEnergy{}.plus(e.Close(at)) }
