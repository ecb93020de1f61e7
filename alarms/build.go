package alarms

// house is a house at work.
type house struct {
	houseState
	plan       *House
	wall       *wallClock
	places     []*place
	streams    []*stream           // of all its probes, in plan order
	nodes      []*node             // what may fall silent, tops first
	feeds      map[CircuitID]*node // of a circuit: itself, or what is above it
	calendar   *calendar           // its days and nights
	settled    *timer              // end of the time in which the looser limits hold after another season
	turned     int                 // how often season or daypart, or whether they settle, have changed
	wary       []*point            // to be looked at when they do
	exposures  []*exposed          // of all its places
	derived    []*point            // likewise
	loop       *loop               // nil: none
	midnight   *timer              // end of the day of its switchings
	turn       *timer              // next moment at which the clock wants something else of drives
	mechanisms []*mechanism        // its thermostats and their drives
	openings   []*opening          // that people open and shut by hand
	turnings   []*alarm            // carry the log of its selectors
	due        *alarm              // says that another season is due
	outside    *place              // whose temperature is that outside; nil: none
	stage      *Stage              // that calls the exhaust fan; nil: none
	fanned     *place              // where the thermostat of it hangs
	season     *alarm              // carries the log of season changes
	aired      []*place            // where its temperature is measured
	silent     int                 // leaves in service that are
	dark       int                 // places of which something is unwatched
	witnessed  []*node             // that a witness may say are without power
	known      int                 // of them, those where it is not lost
	unserved   int                 // of them, those where nothing in service tells it
	newly      []*place            // of them, those that are being lost in this instant
	lasts      []*place            // of them, those that were the last to be known
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
	noted     bool // to be reviewed
	Dark      []Quantity

	air  *point // the temperature there; nil: none, or it is outside
	lost bool   // no probe is believed on it
	last bool   // and it was the last one known of the house
}

// probe is a probe at work.
type probe struct {
	probeState
	plan    *Probe
	place   *place
	circuit *Circuit
	streams []*stream
	node    *node              // its silence
	nodes   []*node            // that, and of each quantity where it has several
	faults  [faultCount]*alarm // made when first needed: see faultAlarm

	calibrations *alarm  // carries their log; made when first needed
	calibrated   *stream // the one being logged

	faultOrder int // of their timers
}

// probeState is what a snapshot keeps of a probe.
type probeState struct {
	At        string  `json:"at,omitempty"` // in a snapshot: house and place
	Out       bool    `json:"out,omitempty"`
	GarbledN  uint64  `json:"garbled_n,omitempty"`
	GarbledAt instant `json:"garbled_at,omitempty"`
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
	e.buildClock()
	all := make([]house, len(e.plan.Houses)) // side by side: some things look at each
	for i := range all {
		e.buildHouse(&all[i], &e.plan.Houses[i])
		e.houses = append(e.houses, &all[i])
	}
}

func (e *Engine) buildHouse(h *house, plan *House) {
	h.plan, h.wall = plan, &e.clock
	h.Season = plan.Season
	e.buildCalendar(h)
	h.settled = e.timers.build(func(due instant) { e.endSettling(h, due) })
	h.midnight = e.timers.build(func(due instant) { e.beginDay(h, due) })
	h.turn = e.timers.build(func(due instant) { e.turnDrives(h, due) })
	h.season = e.newAlarm(&alarm{
		id: AlarmID(plan.ID) + "/season", rule: RulePerson, house: h,
		priority: always(Low), why: func(Move, instant) Reason { return Reason{} },
	})
	for i := range plan.Places {
		h.places = append(h.places, e.buildPlace(h, &plan.Places[i]))
	}
	e.buildNodes(h)
	e.buildLoop(h)
	e.buildOpenings(h)
	h.outside = h.place("outside")
	h.stage, h.fanned = h.exhaustStage()
	h.findTemperatures()
	e.buildMechanisms(h)
	e.buildSeasonDue(h)
	e.buildSelectors(h)
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
			if q.Derived() {
				h.derived = append(h.derived, pt)
			}
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

func (e *Engine) house(id HouseID) *house {
	for _, h := range e.houses {
		if h.plan.ID == id {
			return h
		}
	}
	return nil
}

func (h *house) circuit(id CircuitID) *Circuit { return h.plan.circuit(id) }

func (h *house) id(place PlaceID, more ...string) AlarmID {
	id := string(h.plan.ID) + "/" + string(place)
	for _, m := range more {
		id += "/" + m
	}
	return AlarmID(id)
}

// always returns a function, made once for each priority, that returns p but for
// the level Last.
func always(p Priority) func(Level) Priority { return alwaysOf[min(int(p), len(alwaysOf)-1)] }

var alwaysOf = [...]func(Level) Priority{
	NoPriority: unlessLast(NoPriority), Low: unlessLast(Low), Medium: unlessLast(Medium), High: unlessLast(High),
}

func unlessLast(p Priority) func(Level) Priority {
	return func(l Level) Priority {
		if l == Last {
			return High
		}
		return p
	}
}

func byLevel(outer, inner Priority) func(Level) Priority {
	return func(l Level) Priority {
		if l == Inner {
			return inner
		}
		return outer
	}
}
