package alarms

// house is a house at work.
type house struct {
	houseState
	plan       *House
	places     []*place
	streams    []*stream    // of all its probes, in plan order
	nodes      []*node      // what may fall silent, tops first
	change     *timer       // next change between day and night
	settled    *timer       // end of the time in which the looser limits hold
	held       *timer       // when a silence is told though its extent is not known
	loop       *loop        // nil: none
	midnight   *timer       // end of the day of its switchings
	mechanisms []*mechanism // its thermostats and their drives
	turned     []*alarm     // carry the log of its selectors
	due        *alarm       // says that another season is due
	outside    *place       // whose temperature is that outside; nil: none
	season     *alarm       // carries the log of season changes
	noted      bool         // to be reviewed
	waiting    bool         // a silence is not yet told; follows from the rest
}

// houseState is what a snapshot keeps of a house.
type houseState struct {
	Season       Season  `json:"season"`
	Daypart      Daypart `json:"daypart"`
	SeasonBefore Season  `json:"season_before"`
	Before       Daypart `json:"daypart_before"`
	Settling     bool    `json:"settling,omitempty"`
	ChangeDue    instant `json:"change_due,omitempty"`
	SettledDue   instant `json:"settled_due,omitempty"`
	HeldDue      instant `json:"held_due,omitempty"`

	Outdoors outdoors `json:"outdoors,omitzero"` // the weather of the last days
	Proposed Season   `json:"proposed,omitempty"`

	MidnightDue instant               `json:"midnight_due,omitempty"`
	Selected    map[SelectorID]string `json:"selected,omitempty"` // position by selector
}

// place is a place at work.
type place struct {
	plan      *Place
	house     *house
	points    []*point
	probes    []*probe
	unwatched *alarm
	watched   []*point // measured points that must not go unwatched
	exposures []*exposed
	Dark      []Quantity
}

// probe is a probe at work.
type probe struct {
	probeState
	plan    *Probe
	place   *place
	circuit *Circuit
	streams []*stream
	node    *node              // its silence
	faults  [faultCount]*alarm // made when first needed: see faultAlarm

	calibrations *alarm  // carries their log; made when first needed
	calibrated   *stream // the one being logged

	faultOrder int // of their timers
}

// probeState is what a snapshot keeps of a probe.
type probeState struct {
	Out       bool    `json:"out,omitempty"`
	Garbled   int     `json:"garbled,omitempty"` // in a row
	GarbledN  uint64  `json:"garbled_n,omitempty"`
	GarbleWhy string  `json:"garble_why,omitempty"`
	LateRun   int     `json:"late_run,omitempty"` // late messages in a row
	LateFrom  instant `json:"late_from,omitempty"`
	LateClock instant `json:"late_clock,omitempty"`
	Sane      int     `json:"sane,omitempty"` // sane times in a row since a clock fault
	ClockOff  bool    `json:"clock_off,omitempty"`
	ClockBy   int64   `json:"clock_by,omitempty"` // ns, its clock minus ours
}

type streamKey struct {
	probe    ProbeID
	quantity Quantity
}

func (e *Engine) build() {
	e.buildWatch()
	for i := range e.plan.Houses {
		e.houses = append(e.houses, e.buildHouse(&e.plan.Houses[i]))
	}
}

func (e *Engine) buildHouse(plan *House) *house {
	h := &house{plan: plan}
	h.Season = plan.Season
	h.change = e.timers.build(func(due instant) { e.changeDay(h, due) })
	h.settled = e.timers.build(func(due instant) { e.endSettling(h, due) })
	h.held = e.timers.build(func(due instant) { e.review(h) })
	h.midnight = e.timers.build(func(due instant) { e.beginDay(h, due) })
	h.season = e.newAlarm(&alarm{
		id: AlarmID(plan.ID) + "/season", rule: RulePerson, house: h,
		priority: always(Low), why: func(Move, instant) Reason { return Reason{} },
	})
	for i := range plan.Places {
		h.places = append(h.places, e.buildPlace(h, &plan.Places[i]))
	}
	e.buildNodes(h)
	e.buildLoop(h)
	h.outside = h.place("outside")
	e.buildMechanisms(h)
	e.buildSeasonDue(h)
	e.buildSelectors(h)
	return h
}

func (e *Engine) buildPlace(h *house, plan *Place) *place {
	p := &place{plan: plan, house: h}
	p.unwatched = e.newAlarm(&alarm{
		id: h.id(plan.ID, "unwatched"), rule: RuleUnwatched, house: h, place: p,
		priority: always(plan.Unwatched), why: func(_ Move, due instant) Reason { return p.whyDark(due) },
	})
	for i := range plan.Probes {
		p.probes = append(p.probes, e.buildProbe(p, &plan.Probes[i]))
	}
	for _, q := range Quantities {
		if pt := e.buildPoint(p, q); pt != nil {
			p.points = append(p.points, pt)
			if pt.mustBeWatched() {
				p.watched = append(p.watched, pt)
			}
		}
	}
	p.watchSources()
	e.buildExposures(p)
	return p
}

func (e *Engine) buildProbe(p *place, plan *Probe) *probe {
	pr := &probe{plan: plan, place: p, circuit: p.house.circuit(plan.Circuit)}
	e.probes[plan.ID] = pr
	for i := range plan.Streams {
		st := e.buildStream(pr, &plan.Streams[i])
		pr.streams = append(pr.streams, st)
		p.house.streams = append(p.house.streams, st)
		e.streams[streamKey{plan.ID, st.plan.Quantity}] = st
	}
	pr.faultOrder = e.timers.reserve(alarmTimerCount * (int(faultCount) + 1)) // and that of calibrations
	return pr
}

func (h *house) circuit(id CircuitID) *Circuit {
	for i := range h.plan.Circuits {
		if h.plan.Circuits[i].ID == id {
			return &h.plan.Circuits[i]
		}
	}
	return nil
}

func (h *house) id(place PlaceID, more ...string) AlarmID {
	id := string(h.plan.ID) + "/" + string(place)
	for _, m := range more {
		id += "/" + m
	}
	return AlarmID(id)
}

// always returns a function, made once for each priority, that returns p.
func always(p Priority) func(Level) Priority { return alwaysOf[min(int(p), len(alwaysOf)-1)] }

var alwaysOf = [...]func(Level) Priority{
	NoPriority: func(Level) Priority { return NoPriority },
	Low:        func(Level) Priority { return Low },
	Medium:     func(Level) Priority { return Medium },
	High:       func(Level) Priority { return High },
}

func byLevel(outer, inner Priority) func(Level) Priority {
	return func(l Level) Priority {
		if l == Inner {
			return inner
		}
		return outer
	}
}
