package model

import (
	"cmp"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/walk"
)

// Published is one message as a probe sends it.
type Published struct {
	Topic   string
	Payload []byte
	At      time.Time
	Retain  bool
}

// Sim is the garden at work.
type Sim struct {
	seed    uint64
	start   time.Time
	now     time.Time // all nodes are at this moment, a whole number of ticks after start
	climate climate
	weather Weather
	houses  []*running
	probes  []*probe
	faults  []Fault
	events  []scheduled // still to come, sorted
	coarse  time.Duration
}

// running is a house at work.
type running struct {
	house    *house
	controls controls
	nodes    nodes
	ledger   Ledger
	now      moment
}

// scheduled is a fault that will begin or end.
type scheduled struct {
	at    time.Time
	fault Fault
	on    bool
}

// The step of the simulation, and the one of a past that is to be there soon.
const (
	tick       = 5 * time.Second
	coarseTick = 20 * time.Second
)

// Coarse makes the garden quick: from now on it goes by larger steps, and of what a
// probe would send in a span of time it sends the first alone. Zero: as ever.
func (s *Sim) Coarse(span time.Duration) { s.coarse = span }

func (s *Sim) tick() time.Duration {
	if s.coarse > 0 {
		return coarseTick
	}
	return tick
}

// Advance lets time pass until to and returns what the probes published in
// the time after the last call, in order. While the broker is gone nothing
// arrives, and what is sent then is lost.
func (s *Sim) Advance(to time.Time) []Published {
	var list []Published
	for {
		by := s.tick()
		next := s.now.Add(by)
		list = append(list, s.publish(to, next)...)
		if next.After(to) {
			return list
		}
		s.now = next
		s.happen()
		s.step(by)
	}
}

// schedule lets a fault begin or end at a moment that is still to come.
func (s *Sim) schedule(at time.Time, f Fault, on bool) error {
	if err := s.checkFault(f); err != nil {
		return err
	}
	i, _ := slices.BinarySearchFunc(s.events, at, func(e scheduled, at time.Time) int {
		if e.at.After(at) {
			return 1
		}
		return -1
	})
	s.events = slices.Insert(s.events, i, scheduled{at, f, on})
	return nil
}

// happen switches the faults whose time has come.
func (s *Sim) happen() {
	for len(s.events) > 0 && !s.events[0].at.After(s.now) {
		e := s.events[0]
		s.events = s.events[1:]
		if err := s.Switch(e.fault, e.on); err != nil {
			panic("model: " + err.Error()) // schedule has checked it
		}
	}
}

// step moves every house and then every probe on by one step.
func (s *Sim) step(by time.Duration) {
	out := s.climate.at(s.seed, s.weather, s.now)
	for _, r := range s.houses {
		r.step(s, out, by.Seconds())
	}
	for _, p := range s.probes {
		p.feel(by.Seconds())
		if !s.powered(p) {
			p.fresh = true
		}
	}
}

func (r *running) step(s *Sim, out outside, seconds float64) {
	id := alarms.HouseID(r.house.id)
	broken := func(k Kind) bool { return s.has(Fault{Kind: k, House: id}) }
	live := func(circuit string) bool {
		return !s.has(Fault{Kind: BreakerTripped, House: id, Circuit: alarms.CircuitID(circuit)})
	}
	set := r.controls.run(s.now, r.house.air(r.nodes).temperature, broken, live, seconds)
	f := r.house.step(&r.nodes, &r.ledger, set, out, s.climate.ground, seconds)
	r.look(f, set, out)
}

// look notes what probes could feel now. Warm air gathers under the roof as
// the sun shines and the fan is off, by about 0.6 K for each 100 W/m² inside
// (common practice, no source).
func (r *running) look(f flows, set setting, out outside) {
	a := r.house.air(r.nodes)
	layers := 0.6 * f.light / 100
	if set.fan > 0 {
		layers *= 0.4
	}
	r.now = moment{outside: out, air: a, mass: r.nodes.mass, control: r.controls, outlet: f.outlet,
		ridge: moist{a.temperature + layers, a.ratio}}
	share := 0.4 // of house air at a closed shutter
	if set.fan > 0 && set.shutter > 0.1 {
		share = 0
	}
	r.now.intake = mixed(a, out.air, share)
	for i := range r.house.pipes {
		if !set.loop { // still air at the mouth of the pipe
			r.now.outlet[i] = mixed(a, moist{r.nodes.soil[i], min(a.ratio, saturated(r.nodes.soil[i]))}, 0.7)
		}
	}
}

func mixed(a, b moist, share float64) moist {
	return moist{share*a.temperature + (1-share)*b.temperature, share*a.ratio + (1-share)*b.ratio}
}

// publish returns the messages due before next and not after to, in order.
func (s *Sim) publish(to, next time.Time) []Published {
	type message struct {
		index uint64
		Published
	}
	var list []message
	for _, p := range s.probes {
		for {
			at := p.due(s.start, s.seed)
			if at.After(to) || !at.Before(next) {
				break
			}
			if s.due(p, at) && s.powered(p) && !s.has(Fault{Kind: ProbeSilent, Probe: p.ID}) {
				payload := s.message(p, at)
				if s.BrokerUp() {
					list = append(list, message{p.index, Published{p.Topic, payload, at, p.Retain}})
				}
			}
			p.sent++
		}
	}
	slices.SortFunc(list, func(a, b message) int {
		return cmp.Or(a.At.Compare(b.At), cmp.Compare(a.index, b.index))
	})
	return walk.Each(list, func(m message) Published { return m.Published })
}

// due reports whether what p would send at a moment is sent, coarse as it may be.
func (s *Sim) due(p *probe, at time.Time) bool {
	if s.coarse <= 0 {
		return true
	}
	span := at.Truncate(s.coarse)
	first := !span.Equal(p.span)
	p.span = span
	return first
}

func (s *Sim) powered(p *probe) bool {
	return p.Circuit == "" || !s.has(Fault{Kind: BreakerTripped, House: p.House, Circuit: p.Circuit})
}

func (s *Sim) houseNamed(id alarms.HouseID) *running {
	for _, r := range s.houses {
		if r.house.id == string(id) {
			return r
		}
	}
	return nil
}

func (s *Sim) houseNames() []string {
	return walk.Each(s.houses, func(r *running) string { return r.house.id })
}
