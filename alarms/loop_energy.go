package alarms

import (
	"math"
	"time"

	"telltale/alarms/ground"
)

// LoopEnergy is what a loop or one of its pipes brought over some time.
type LoopEnergy struct {
	Heat    float64       `json:"heat_kwh"`   // brought in
	Cold    float64       `json:"cold_kwh"`   // taken out, counted positive
	Fan     float64       `json:"fan_kwh"`    // drawn by the fan, where known; 0 for a pipe
	Run     time.Duration `json:"run_ns"`     // with air moving
	Watched time.Duration `json:"watched_ns"` // over which it was known
}

// EachFanKWh returns the heat and cold for each kWh that the fan drew, ok
// false where that is not known.
func (l LoopEnergy) EachFanKWh() (each float64, ok bool) {
	if l.Fan < 0.001 {
		return 0, false
	}
	return (l.Heat + l.Cold) / l.Fan, true
}

func (l LoopEnergy) plus(e ground.Energy) LoopEnergy {
	return LoopEnergy{l.Heat + e.Heat, l.Cold + e.Cold, l.Fan + e.Fan, l.Run + e.Run, l.Watched + e.Watched}
}

// sight is what is known of a loop at one moment.
type sight struct {
	house    ground.Air // temperature NaN: not known
	fanKnown bool
	fan      bool    // it runs
	drawn    float64 // W; NaN: not known
	pipes    []pipeSight
}

type pipeSight struct {
	outlet ground.Air // temperature NaN: not known
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
	s := sight{house: e.airAt(l.from), drawn: math.NaN(), fanKnown: e.seen(l.runs)}
	s.fan = s.fanKnown && l.plan.Runs.shows(l.runs.Value)
	switch {
	case e.seen(l.power):
		s.drawn = l.power.Value
	case s.fan && l.plan.FanWatts > 0:
		s.drawn = l.plan.FanWatts
	}
	for _, p := range l.pipes {
		one := pipeSight{outlet: e.airAt(p.outlet), known: s.fanKnown, moving: s.fan}
		if p.damper != nil {
			open := e.seen(p.damper) && p.plan.Damper.shows(p.damper.Value)
			one.known = s.fanKnown && (!s.fan || e.seen(p.damper))
			one.moving = s.fan && open
		}
		one.power = ground.Passage{Arriving: one.outlet, House: s.house, Volume: p.plan.Flow,
			AtHouse: l.plan.AtHouse, Pressure: l.plan.Pressure}.Delivered()
		s.pipes = append(s.pipes, one)
	}
	return s
}

// watts returns the power that p brings, NaN where that is not known.
func (p pipeSight) watts() float64 {
	switch {
	case !p.known:
		return math.NaN()
	case !p.moving:
		return 0
	}
	return p.power.Watts
}

// watts returns what all pipes bring of which that is known, NaN for none.
func (s sight) watts() float64 {
	sum := math.NaN()
	for _, p := range s.pipes {
		switch w := p.watts(); {
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
	s, t := e.look(l), now.time()
	all := s.watts()
	if math.IsNaN(all) && s.fanKnown {
		all = 0 // the fan counts although no pipe is seen
	}
	l.Day.Step(t, all, s.drawn, s.fan)
	for i, p := range l.pipes {
		p.Day.Step(t, s.pipes[i].watts(), 0, s.pipes[i].moving)
	}
}

// endLoopDay is midnight: it writes the day into the log.
func (e *Engine) endLoopDay(l *loop, due instant) {
	t := due.time()
	day := l.Day.Close(t)
	l.Last, l.Past = LoopEnergy{}.plus(day), l.Past.plus(day)
	for _, p := range l.pipes {
		closed := p.Day.Close(t)
		p.Last, p.Past = LoopEnergy{}.plus(closed), p.Past.plus(closed)
		e.forgetDecline(p, due)
	}
	if day.Run > 0 {
		l.tells = l.whyDay()
		e.note(l.log, due)
	}
	l.DayFrom = due
	e.timers.set(l.midnight, l.house.midnightAfter(due))
}

// ahead returns the energy counted up to at, for looking only.
func ahead(e ground.Energy, at time.Time) LoopEnergy { return LoopEnergy{}.plus(e.Close(at)) }
