package engine

import (
	"telltale/alarms"
	"telltale/alarms/ahead"
	"telltale/alarms/lifecycle"
	"telltale/alarms/loop"
	"telltale/alarms/thermostat"
	"telltale/alarms/timing"
)

// house is a house at work.
type house struct {
	houseState
	// What there is of each kind of rule: see part.
	seasons
	selectors
	silences
	doses
	controls
	doors
	aheads

	e        *Engine
	plan     *alarms.House
	wall     *timing.Clock
	places   []*place
	streams  []*stream     // of all its probes, in plan order
	calendar *calendar     // its days and nights
	settled  *timing.Timer // end of the time in which the looser limits hold after another season
	turned   int           // how often season or daypart, or whether they settle, have changed
	wary     []*point      // to be looked at when they do
	derived  []*point      // likewise
	parts    []part        // what it is watched for, see part
	loop     *loop.Loop    // nil: none
	outside  *place        // whose temperature is that outside; nil: none
}

// houseState is what a snapshot keeps of a house.
type houseState struct {
	Season       alarms.Season  `json:"season"`
	Daypart      alarms.Daypart `json:"daypart"`
	SeasonBefore alarms.Season  `json:"season_before"`
	Before       alarms.Daypart `json:"daypart_before"`
	Settling     bool           `json:"settling,omitempty"`
	ChangeDue    timing.Instant `json:"change_due,omitempty"`
	SettledDue   timing.Instant `json:"settled_due,omitempty"`

	Outdoors outdoors      `json:"outdoors,omitzero"` // the weather of the last days
	Proposed alarms.Season `json:"proposed,omitempty"`

	MidnightDue timing.Instant               `json:"midnight_due,omitempty"`
	Selected    map[alarms.SelectorID]string `json:"selected,omitempty"` // position by selector
}

// place is a place at work.
type place struct {
	lifecycle.Plain
	plan      *alarms.Place
	house     *house
	points    []*point
	probes    []*probe
	unwatched *alarm
	watched   []*point // measured points that must not go unwatched
	exposures []*exposed
	noted     bool // to be reviewed
	Dark      []alarms.Quantity

	ahead *ahead.Place // what is expected of its temperature; nil: that has no limit

	air  *point // the temperature there; nil: none, or it is outside
	lost bool   // no probe is believed on it
	last bool   // and it was the last one known of the house
}

// probe is a probe at work.
type probe struct {
	probeState
	plan    *alarms.Probe
	place   *place
	circuit *alarms.Circuit
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
	At        string         `json:"at,omitempty"` // in a snapshot: house and place
	Out       bool           `json:"out,omitempty"`
	GarbledN  uint64         `json:"garbled_n,omitempty"`
	GarbledAt timing.Instant `json:"garbled_at,omitempty"`
	Sane      int            `json:"sane,omitempty"` // sane times in a row since a clock fault
	ClockOff  bool           `json:"clock_off,omitempty"`
	ClockBy   int64          `json:"clock_by,omitempty"` // ns, its clock minus ours
}

type streamKey struct {
	probe    alarms.ProbeID
	quantity alarms.Quantity
}

func (e *Engine) build() {
	e.buildWatch()
	e.buildClock()
	all := make([]house, len(e.plan.Houses)) // side by side: some things look at each
	for i := range all {
		all[i].e = e
		all[i].buildHouse(&e.plan.Houses[i])
		e.houses = append(e.houses, &all[i])
	}
	e.buildLeaves()
}

func (h *house) buildHouse(plan *alarms.House) {
	h.plan, h.wall = plan, &h.e.panel.Clock
	h.seasons.h, h.selectors.h, h.silences.h, h.doses.h, h.controls.h, h.doors.h = h, h, h, h, h, h
	h.Season = plan.Season
	h.buildCalendar(h.e)
	h.settled = h.e.panel.Timers.Build(func(due timing.Instant) { h.endSettling(h.e, due) })
	h.midnight = h.e.panel.Timers.Build(func(due timing.Instant) { h.beginDay(due) })
	h.turn = h.e.panel.Timers.Build(func(due timing.Instant) { h.turnDrives(due) })
	h.season = h.e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: alarms.AlarmID(plan.ID) + "/season", Kind: alarms.RulePerson, Priority: lifecycle.Always(alarms.Low),
		Because: func(alarms.Move, timing.Instant) alarms.Reason { return alarms.Reason{} },
	}, of: lifecycle.Log{}, house: h})
	for i := range plan.Places {
		h.places = append(h.places, h.buildPlace(h.e, &plan.Places[i]))
	}
	h.buildNodes()
	h.loop = loop.New(loopHost{h}, &h.e.panel)
	h.buildOpenings()
	h.outside = h.place("outside")
	h.stage, h.fanned = h.exhaustStage()
	h.findTemperatures()
	h.thermostats = thermostat.Build(thermostatHouse{h}, &h.e.panel)
	h.buildSeasonDue()
	h.buildSelectors()
	h.buildAhead()
	h.parts = []part{&h.doses}
	if h.loop != nil {
		h.parts = append(h.parts, loopPart{h.loop})
	}
	h.parts = append(h.parts, &h.seasons, &h.controls, &h.doors, &h.selectors, &h.aheads)
}

// blind is when nothing can be heard in h any more.
func (h *house) blind(now timing.Instant) {
	for _, one := range h.parts {
		one.blind(now)
	}
}

func (h *house) buildPlace(e *Engine, plan *alarms.Place) *place {
	p := &place{plan: plan, house: h}
	p.unwatched = e.newAlarm(&alarm{Alarm: lifecycle.Alarm{
		ID: h.id(plan.ID, "unwatched"), Kind: alarms.RuleUnwatched, Priority: lifecycle.Always(plan.Unwatched),
		Because: func(_ alarms.Move, due timing.Instant) alarms.Reason { return p.whyDark(due) },
	}, of: p, house: h, place: p})
	for i := range plan.Probes {
		p.probes = append(p.probes, p.buildProbe(e, &plan.Probes[i]))
	}
	for _, q := range alarms.Quantities {
		if pt := p.buildPoint(e, q); pt != nil {
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
	p.buildExposures(e)
	return p
}

func (p *place) buildProbe(e *Engine, plan *alarms.Probe) *probe {
	pr := &probe{plan: plan, place: p, circuit: p.house.circuit(plan.Circuit)}
	e.probes[plan.ID] = pr
	for i := range plan.Streams {
		st := pr.buildStream(e, &plan.Streams[i])
		pr.streams = append(pr.streams, st)
		p.house.streams = append(p.house.streams, st)
		e.streams[streamKey{plan.ID, st.plan.Quantity}] = st
	}
	pr.faultOrder = e.panel.Timers.Reserve(lifecycle.TimerCount * (int(faultCount) + 1)) // and that of calibrations
	return pr
}

func (e *Engine) house(id alarms.HouseID) *house {
	for _, h := range e.houses {
		if h.plan.ID == id {
			return h
		}
	}
	return nil
}

func (h *house) place(id alarms.PlaceID) *place {
	for _, p := range h.places {
		if p.plan.ID == id {
			return p
		}
	}
	return nil
}

func (h *house) circuit(id alarms.CircuitID) *alarms.Circuit { return h.plan.Circuit(id) }

func (h *house) id(place alarms.PlaceID, more ...string) alarms.AlarmID {
	id := string(h.plan.ID) + "/" + string(place)
	for _, m := range more {
		id += "/" + m
	}
	return alarms.AlarmID(id)
}

// part is a kind of rule at work in a house, with its own state, timers and alarms, which
// it keeps in a snapshot under its own name. buildHouse lists all parts of a house once;
// whatever concerns every kind of rule goes through that list.
type part interface {
	// start sets what depends on the first moment ever seen.
	start(now timing.Instant)
	// blind is when nothing can be heard any more.
	blind(now timing.Instant)
	// save writes the state of the part into s.
	save(s *snapshot)
	// recall makes those alarms, else made when first needed, that s has something of.
	recall(s *snapshot)
	// load goes on from s; replanned: it was taken under another plan.
	load(s *snapshot, replanned bool)
	// replan brings what is on to what the rules of another plan find.
	replan(due timing.Instant)
	// draw shows the part in a picture of its house.
	draw(p *alarms.HousePicture)
}

// plainPart is a part with nothing of its own.
type plainPart struct{}

func (plainPart) start(timing.Instant)      {}
func (plainPart) blind(timing.Instant)      {}
func (plainPart) save(*snapshot)            {}
func (plainPart) recall(*snapshot)          {}
func (plainPart) load(*snapshot, bool)      {}
func (plainPart) replan(timing.Instant)     {}
func (plainPart) draw(*alarms.HousePicture) {}
