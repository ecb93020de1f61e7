package engine

import (
	"cmp"
	"encoding/json"
	"fmt"
	"math/rand/v2"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// A plan by chance, and changes of it by chance. 20 °C to 22 °C, 60 % and 20 °C
// of soil are within every limit that is ever drawn.

var someZones = []string{"", "Europe/London", "America/New_York", "Asia/Kathmandu"}

func zone(name string) *time.Location {
	z, err := time.LoadLocation(name)
	if err != nil {
		return time.UTC
	}
	return z
}

func pick[T any](rnd *rand.Rand, some ...T) T { return some[rnd.IntN(len(some))] }

// clonePlan copies p, which must hold plain data but for its zones.
func clonePlan(p alarms.Plan) alarms.Plan {
	b, err := json.Marshal(p)
	if err != nil {
		panic(err)
	}
	var c alarms.Plan
	if err := json.Unmarshal(b, &c); err != nil {
		panic(err)
	}
	c.Words.Zone = p.Words.Zone
	for i := range c.Houses {
		c.Houses[i].Day.Zone = p.Houses[i].Day.Zone
	}
	return c
}

// maker draws parts of plans; it never gives a name twice.
type maker struct {
	rnd   *rand.Rand
	named int
}

func (m *maker) name(kind string) string {
	m.named++
	return fmt.Sprintf("%s-%d", kind, m.named)
}

func (m *maker) plan() alarms.Plan {
	var p alarms.Plan
	for range 1 + m.rnd.IntN(2) {
		p.Houses = append(p.Houses, m.house())
	}
	tidy(&p)
	return p
}

// tidy takes out of p what nothing measures, and delays and windows that no plan
// may have.
func tidy(p *alarms.Plan) {
	for h := range p.Houses {
		for i := range p.Houses[h].Places {
			pl := &p.Houses[h].Places[i]
			pl.Bands = slices.DeleteFunc(slices.Clone(pl.Bands), func(b alarms.Band) bool { return !pl.Sees(b.Quantity) })
			pl.Rates = slices.DeleteFunc(slices.Clone(pl.Rates), func(r alarms.RateLimit) bool { return !pl.Sees(r.Quantity) })
			pl.Exposures = slices.DeleteFunc(slices.Clone(pl.Exposures), func(x alarms.Exposure) bool { return !pl.Sees(x.Quantity) })
			for k := range pl.Bands {
				if b := &pl.Bands[k]; b.QuickDelay > cmp.Or(b.Delay, time.Minute) {
					b.QuickDelay = b.Delay
				}
			}
			for k := range pl.Rates {
				for _, pr := range pl.Probes {
					pl.Rates[k].Window = max(pl.Rates[k].Window, alarms.LeastReadings*pr.Every)
				}
			}
		}
	}
}

func (m *maker) house() alarms.House {
	h := alarms.House{ID: alarms.HouseID(m.name("house")), Latitude: 52, Longitude: -1, Season: alarms.SeasonOpen, Circuits: []alarms.Circuit{{ID: "north", FedBy: pick(m.rnd, alarms.CircuitID(""), "main")}, {ID: "south"}, {ID: "main"}}}
	m.days(&h)
	for range 2 + m.rnd.IntN(2) {
		h.Places = append(h.Places, m.place())
	}
	if m.rnd.IntN(2) == 0 {
		m.thermostat(&h)
	}
	if m.rnd.IntN(3) == 0 {
		m.loop(&h)
	}
	if m.rnd.IntN(2) == 0 {
		m.opening(&h)
	}
	return h
}

// feed picks a circuit of h, or none.
func (m *maker) feed(h *alarms.House) alarms.CircuitID {
	all := []alarms.CircuitID{""}
	for _, c := range h.Circuits {
		all = append(all, c.ID)
	}
	return pick(m.rnd, all...)
}

func (m *maker) days(h *alarms.House) {
	h.Day = alarms.DayRule{Zone: zone(pick(m.rnd, someZones...)), Settle: pick(m.rnd, 0, -1, 3*time.Hour)}
	if m.rnd.IntN(2) == 0 {
		h.Day.Fixed, h.Day.Start, h.Day.End = true, time.Duration(m.rnd.IntN(24))*time.Hour, time.Duration(m.rnd.IntN(24))*time.Hour
	}
}

func (m *maker) place() alarms.Place {
	p := alarms.Place{ID: alarms.PlaceID(m.name("place")), Unwatched: pick(m.rnd, alarms.NoPriority, alarms.High)}
	for range 1 + m.rnd.IntN(3) {
		p.Probes = append(p.Probes, m.probe())
	}
	m.bands(&p)
	m.rates(&p)
	if m.rnd.IntN(3) == 0 {
		p.Exposures = append(p.Exposures, m.exposure())
	}
	if m.rnd.IntN(3) == 0 {
		p.DisagreeFor = 10 * time.Minute
	}
	return p
}

func (m *maker) probe() alarms.Probe {
	p := alarms.Probe{ID: alarms.ProbeID(m.name("probe")), Circuit: pick(m.rnd, alarms.CircuitID(""), "north", "north", "south"), Every: pick(m.rnd, 0, 5*time.Minute, 10*time.Minute),
		Kind: pick(m.rnd, alarms.KindPlain, alarms.KindOneWire, alarms.KindCapacitive), Streams: []alarms.Stream{{Quantity: alarms.Temperature}}}
	if m.rnd.IntN(2) == 0 {
		p.Streams = append(p.Streams, alarms.Stream{Quantity: alarms.Humidity})
	}
	if m.rnd.IntN(4) == 0 {
		p.Streams = append(p.Streams, alarms.Stream{Quantity: alarms.Battery})
	}
	return p
}

func (m *maker) band() alarms.Band {
	delay := func() time.Duration { return pick(m.rnd, 0, -1, time.Minute, 12*time.Minute, 40*time.Minute) }
	l := alarms.Limits{Low: alarms.At(16 - float64(m.rnd.IntN(3))), High: alarms.At(26 + float64(m.rnd.IntN(3)))}
	if m.rnd.IntN(2) == 0 {
		l.LowLow, l.HighHigh = alarms.At(5), alarms.At(36)
	}
	switch m.rnd.IntN(6) {
	case 0:
		l.Low = alarms.Limit{}
	case 1:
		l.High = alarms.Limit{}
	}
	return alarms.Band{Quantity: alarms.Temperature, Limits: l, Delay: delay(), QuickDelay: delay(), ClearDelay: delay(), Priority: pick(m.rnd, alarms.Low, alarms.Medium, alarms.High)}
}

func (m *maker) bands(p *alarms.Place) {
	p.Bands = []alarms.Band{m.band()}
	if m.rnd.IntN(2) == 0 {
		b := m.band()
		b.When = pick(m.rnd, alarms.Day, alarms.Night)
		p.Bands = append(p.Bands, b)
	}
	if m.rnd.IntN(2) == 0 {
		b := m.band()
		b.Seasons = []alarms.Season{pick(m.rnd, alarms.Seasons...)}
		p.Bands = append(p.Bands, b)
	}
	if m.rnd.IntN(2) == 0 {
		p.Bands = append(p.Bands, alarms.Band{Quantity: alarms.Humidity, Limits: alarms.Limits{High: alarms.At(85)}}, alarms.Band{Quantity: alarms.VPD, Limits: alarms.Limits{High: alarms.At(2)}})
	}
}

func (m *maker) rates(p *alarms.Place) {
	p.Rates = nil
	if m.rnd.IntN(2) == 0 {
		p.Rates = []alarms.RateLimit{{Quantity: alarms.Temperature, Rise: alarms.At(9), Fall: alarms.At(9), Window: pick(m.rnd, 30*time.Minute, time.Hour)}}
	}
}

func (m *maker) exposure() alarms.Exposure {
	x := alarms.Exposure{ID: alarms.ExposureID(m.name("exposure")), Says: "flowers drop", Quantity: alarms.Temperature, Above: alarms.At(pick(m.rnd, 25.0, 27)), Time: pick(m.rnd, 20*time.Minute, time.Hour)}
	switch m.rnd.IntN(3) {
	case 0:
		x.Window = 24 * time.Hour
	case 1:
		x.Gap = 2 * time.Hour
	case 2:
		x.Days = 1
	}
	return x
}

func (m *maker) thermostat(h *alarms.House) {
	clamp, end := alarms.ProbeID(m.name("clamp")), alarms.ProbeID(m.name("switch"))
	h.Places = append(h.Places, alarms.Place{ID: alarms.PlaceID(m.name("box")), Probes: []alarms.Probe{
		{ID: clamp, Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Current}}}, {ID: end, Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Contact}}}}})
	fan, shutter := alarms.DriveID(m.name("fan")), alarms.DriveID(m.name("shutter"))
	h.Drives = append(h.Drives,
		alarms.Drive{ID: fan, Circuit: m.feed(h), Kind: alarms.ExhaustFan, With: []alarms.DriveID{shutter}, Evidence: []alarms.Evidence{{Probe: clamp, Quantity: alarms.Current, Above: alarms.At(0.1)}}},
		alarms.Drive{ID: shutter, Kind: alarms.IntakeShutter, Evidence: []alarms.Evidence{{Probe: end, Quantity: alarms.Contact}}})
	m.light(h)
	h.Controls = append(h.Controls, alarms.Control{ID: alarms.ControlID(m.name("thermostat")), Place: h.Places[0].ID,
		Stages: []alarms.Stage{{SetPoint: 28, SetPointNight: pick(m.rnd, alarms.Limit{}, alarms.At(26)), Drives: []alarms.DriveID{fan}}}})
	if m.rnd.IntN(2) == 0 {
		m.humidistat(h)
	}
	if m.rnd.IntN(2) == 0 {
		h.Selectors = append(h.Selectors, alarms.Selector{ID: alarms.SelectorID(m.name("selector")), Positions: []alarms.Position{
			{Name: "auto", Follow: []alarms.DriveID{fan}}, {Name: "off", Off: []alarms.DriveID{fan}}}})
	}
	if m.rnd.IntN(2) == 0 {
		h.Selectors = append(h.Selectors, alarms.Selector{ID: alarms.SelectorID(m.name("covers")), Positions: []alarms.Position{
			{Name: "off"}, {Name: "on", Covered: []alarms.DriveID{fan, shutter}}}})
	}
}

// opening adds a door of which the contact says 0 while it is shut.
func (m *maker) opening(h *alarms.House) {
	contact := alarms.ProbeID(m.name("door-contact"))
	h.Openings = append(h.Openings, alarms.HandOpening{ID: alarms.OpeningID(m.name("door")), Kind: pick(m.rnd, alarms.OpeningKinds...), Place: h.Places[0].ID, Probe: contact,
		Inverted: true, ShutBy: pick(m.rnd, 0, 0, 13*time.Hour, -1), Falls: pick(m.rnd, 0, 2.0)})
	h.Places = append(h.Places, alarms.Place{ID: alarms.PlaceID(m.name("doorway")), Probes: []alarms.Probe{{ID: contact, Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Contact}}}}})
}

// humidistat lets one drive the first drive of h besides, where humidity is measured.
func (m *maker) humidistat(h *alarms.House) {
	for i := range h.Places {
		for _, pr := range h.Places[i].Probes {
			if len(h.Drives) > 0 && slices.ContainsFunc(pr.Streams, func(s alarms.Stream) bool { return s.Quantity == alarms.Humidity }) {
				h.Controls = append(h.Controls, alarms.Control{ID: alarms.ControlID(m.name("humidistat")), Place: h.Places[i].ID,
					Stages: []alarms.Stage{{Mode: alarms.Drying, SetPoint: 85, Drives: []alarms.DriveID{h.Drives[0].ID}}}})
				return
			}
		}
	}
}

// light adds a grow light on a timer of its own.
func (m *maker) light(h *alarms.House) {
	clamp := alarms.ProbeID(m.name("lamp"))
	h.Places = append(h.Places, alarms.Place{ID: alarms.PlaceID(m.name("shelf")), Probes: []alarms.Probe{{ID: clamp, Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Current}}}}})
	d := alarms.Drive{ID: alarms.DriveID(m.name("light")), Kind: alarms.GrowLight, Evidence: []alarms.Evidence{{Probe: clamp, Quantity: alarms.Current, Above: alarms.At(0.1)}}}
	for _, s := range alarms.Seasons {
		d.Runs = append(d.Runs, alarms.Run{Season: s, On: true, Hours: m.hours()})
	}
	h.Drives = append(h.Drives, d)
}

func (m *maker) hours() []alarms.Hours {
	return pick(m.rnd, []alarms.Hours{{From: 6 * time.Hour, To: 10 * time.Hour}}, []alarms.Hours{{From: 7 * time.Hour, To: 11 * time.Hour}},
		[]alarms.Hours{{From: 5 * time.Hour, To: 9 * time.Hour}, {From: 16 * time.Hour, To: 20 * time.Hour}}, []alarms.Hours{{From: 22 * time.Hour, To: 3 * time.Hour}})
}

func (m *maker) loop(h *alarms.House) {
	power := alarms.ProbeID(m.name("loop-power"))
	l := &alarms.Loop{House: h.Places[0].ID, Runs: alarms.Evidence{Probe: power, Quantity: alarms.Power, Above: alarms.At(15)}}
	for _, p := range h.Places[1:] {
		if slices.ContainsFunc(p.Probes, func(pr alarms.Probe) bool { return pr.Streams[0].Quantity == alarms.Temperature }) {
			l.Pipes = append(l.Pipes, alarms.Pipe{Outlet: p.ID, Depth: 1 + float64(m.rnd.IntN(3)), Flow: 0.05})
		}
	}
	h.Places = append(h.Places, alarms.Place{ID: alarms.PlaceID(m.name("box")), Probes: []alarms.Probe{{ID: power, Every: 5 * time.Minute, Streams: []alarms.Stream{{Quantity: alarms.Power}}}}})
	h.Loop = l
	if len(l.Pipes) > 0 && m.rnd.IntN(2) == 0 {
		h.Selectors = append(h.Selectors, alarms.Selector{ID: alarms.SelectorID(m.name("knob")), Positions: []alarms.Position{
			{Name: "high"}, {Name: "medium", Flow: 0.02 * float64(1+m.rnd.IntN(3)), Shut: []alarms.PlaceID{l.Pipes[0].Outlet}}, {Name: "turned", Direction: alarms.Up}}})
	}
}

// edit is one change of a plan.
type edit struct {
	name string
	do   func(m *maker, p *alarms.Plan)
}

func (m *maker) in(p *alarms.Plan) *alarms.House {
	if len(p.Houses) == 0 {
		p.Houses = append(p.Houses, m.house())
	}
	return &p.Houses[m.rnd.IntN(len(p.Houses))]
}

func (m *maker) at(p *alarms.Plan) *alarms.Place {
	h := m.in(p)
	if len(h.Places) == 0 {
		h.Places = append(h.Places, m.place())
	}
	return &h.Places[m.rnd.IntN(len(h.Places))]
}

func (m *maker) of(p *alarms.Plan) *alarms.Probe {
	for range 20 {
		if pl := m.at(p); len(pl.Probes) > 0 {
			return &pl.Probes[m.rnd.IntN(len(pl.Probes))]
		}
	}
	pl := m.at(p)
	pl.Probes = append(pl.Probes, m.probe())
	return &pl.Probes[0]
}

// without returns s without one of it.
func without[T any](rnd *rand.Rand, s []T) []T {
	if len(s) == 0 {
		return s
	}
	i := rnd.IntN(len(s))
	return slices.Delete(slices.Clone(s), i, i+1)
}

var edits = []edit{
	{"add a probe", func(m *maker, p *alarms.Plan) { pl := m.at(p); pl.Probes = append(pl.Probes, m.probe()) }},
	{"remove a probe", func(m *maker, p *alarms.Plan) { pl := m.at(p); pl.Probes = without(m.rnd, pl.Probes) }},
	{"remove the probes of a place", func(m *maker, p *alarms.Plan) { m.at(p).Probes = nil }},
	{"keep one probe of a place", func(m *maker, p *alarms.Plan) { pl := m.at(p); pl.Probes = pl.Probes[:min(len(pl.Probes), 1)] }},
	{"rename a probe", func(m *maker, p *alarms.Plan) { m.of(p).ID = alarms.ProbeID(m.name("probe")) }},
	{"move a probe", func(m *maker, p *alarms.Plan) {
		from, to := m.at(p), m.at(p)
		if len(from.Probes) > 0 && from != to {
			to.Probes = append(to.Probes, from.Probes[0])
			from.Probes = slices.Delete(slices.Clone(from.Probes), 0, 1)
		}
	}},
	{"add a place", func(m *maker, p *alarms.Plan) { h := m.in(p); h.Places = append(h.Places, m.place()) }},
	{"remove a place", func(m *maker, p *alarms.Plan) { h := m.in(p); h.Places = without(m.rnd, h.Places) }},
	{"rename a place", func(m *maker, p *alarms.Plan) {
		h, pl := m.in(p), m.name("place")
		if len(h.Places) == 0 {
			return
		}
		at := &h.Places[m.rnd.IntN(len(h.Places))]
		for i := range h.Controls {
			if h.Controls[i].Place == at.ID {
				h.Controls[i].Place = alarms.PlaceID(pl)
			}
		}
		for i := range h.Openings {
			if h.Openings[i].Place == at.ID {
				h.Openings[i].Place = alarms.PlaceID(pl)
			}
		}
		at.ID = alarms.PlaceID(pl)
	}},
	{"name a place otherwise in sentences", func(m *maker, p *alarms.Plan) { m.at(p).Name = m.name("Bench") }},
	{"add a house", func(m *maker, p *alarms.Plan) { p.Houses = append(p.Houses, m.house()) }},
	{"remove a house", func(m *maker, p *alarms.Plan) { p.Houses = without(m.rnd, p.Houses) }},
	{"rename a house", func(m *maker, p *alarms.Plan) { m.in(p).ID = alarms.HouseID(m.name("house")) }},
	{"put a probe on another circuit", func(m *maker, p *alarms.Plan) { m.of(p).Circuit = pick(m.rnd, alarms.CircuitID(""), "north", "south") }},
	{"let one circuit feed the others", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Circuits {
			if h.Circuits[i].FedBy = "main"; h.Circuits[i].ID == "main" {
				h.Circuits[i].FedBy = ""
			}
		}
	}},
	{"let no circuit feed another", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Circuits {
			h.Circuits[i].FedBy = ""
		}
	}},
	{"put the drives on another circuit", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Drives {
			h.Drives[i].Circuit = m.feed(h)
		}
	}},
	{"take all probes off their circuits", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		h.Circuits = nil
		for i := range h.Drives {
			h.Drives[i].Circuit = ""
		}
		for i := range h.Places {
			for k := range h.Places[i].Probes {
				h.Places[i].Probes[k].Circuit = ""
			}
		}
	}},
	{"add a mechanism", func(m *maker, p *alarms.Plan) { m.thermostat(m.in(p)) }},
	{"remove the mechanisms", func(m *maker, p *alarms.Plan) { h := m.in(p); h.Controls, h.Drives, h.Selectors = nil, nil, nil }},
	{"remove the thermostats", func(m *maker, p *alarms.Plan) { h := m.in(p); h.Controls, h.Selectors = nil, nil }},
	{"turn a dial", func(m *maker, p *alarms.Plan) {
		for i := range m.in(p).Controls {
			h := m.in(p)
			if i < len(h.Controls) && h.Controls[i].Stages[0].Mode.Quantity() == alarms.Temperature { // 30 % of humidity is passed in the calm
				h.Controls[i].Stages[0].SetPoint = 30
			}
		}
	}},
	{"add a humidistat", func(m *maker, p *alarms.Plan) { m.humidistat(m.in(p)) }},
	{"remove all but the first thermostat", func(m *maker, p *alarms.Plan) {
		if h := m.in(p); len(h.Controls) > 1 {
			h.Controls = h.Controls[:1]
		}
	}},
	{"the thermostats the other way round", func(m *maker, p *alarms.Plan) { slices.Reverse(m.in(p).Controls) }},
	{"drives that must not run together", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := 1; i < len(h.Drives); i++ {
			if !slices.Contains(h.Drives[0].With, h.Drives[i].ID) && !slices.Contains(h.Drives[i].With, h.Drives[0].ID) {
				h.Drives[i].Never = []alarms.DriveID{h.Drives[0].ID}
			}
		}
	}},
	{"another set point by night", func(m *maker, p *alarms.Plan) {
		if h := m.in(p); len(h.Controls) > 0 {
			h.Controls[0].Stages[0].SetPointNight = pick(m.rnd, alarms.Limit{}, alarms.At(26), alarms.At(32)) // it must end in the calm, the tolerance of the dial counted in
		}
	}},
	{"name a stage otherwise", func(m *maker, p *alarms.Plan) {
		if h := m.in(p); len(h.Controls) > 0 {
			h.Controls[0].Stages[0].Name = m.name("stage")
		}
	}},
	{"other hours of the timers", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Drives {
			for k := range h.Drives[i].Runs {
				if r := &h.Drives[i].Runs[k]; len(r.Hours) > 0 {
					r.Hours = m.hours()
				}
			}
		}
	}},
	{"no timers", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Drives {
			for k := range h.Drives[i].Runs {
				h.Drives[i].Runs[k] = alarms.Run{Season: h.Drives[i].Runs[k].Season, On: true, OnFor: pick(m.rnd, 0, time.Hour), OffFor: 2 * time.Hour}
				if h.Drives[i].Runs[k].OnFor == 0 {
					h.Drives[i].Runs[k] = alarms.Run{Season: h.Drives[i].Runs[k].Season}
				}
			}
		}
	}},
	{"bar the drives", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Drives {
			h.Drives[i].Barred = alarms.Seasons
		}
	}},
	{"other selector positions", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Selectors {
			h.Selectors[i].Positions = slices.Clone(h.Selectors[i].Positions)
			h.Selectors[i].Positions[1].Name = m.name("position")
		}
	}},
	{"add a door", func(m *maker, p *alarms.Plan) {
		if h := m.in(p); len(h.Places) > 0 {
			m.opening(h)
		}
	}},
	{"remove the doors", func(m *maker, p *alarms.Plan) { m.in(p).Openings = nil }},
	{"another contact, place and hour for a door", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Openings {
			o := &h.Openings[i]
			o.ShutBy, o.Falls, o.Place = pick(m.rnd, 0, -1, 20*time.Hour), 8, pick(m.rnd, h.Places...).ID
			for k := range h.Places {
				for j := range h.Places[k].Probes {
					if pr := &h.Places[k].Probes[j]; pr.ID == o.Probe && m.rnd.IntN(2) == 0 {
						pr.ID = alarms.ProbeID(m.name("door-contact"))
						o.Probe = pr.ID
					}
				}
			}
		}
	}},
	{"add a loop", func(m *maker, p *alarms.Plan) {
		if h := m.in(p); h.Loop == nil && len(h.Places) > 0 {
			m.loop(h)
		}
	}},
	{"remove the loop", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		h.Loop = nil
		h.Selectors = slices.DeleteFunc(slices.Clone(h.Selectors), func(s alarms.Selector) bool { return strings.HasPrefix(string(s.ID), "knob") })
	}},
	{"other speeds of a loop fan", func(m *maker, p *alarms.Plan) {
		h := m.in(p)
		for i := range h.Selectors {
			if s := &h.Selectors[i]; strings.HasPrefix(string(s.ID), "knob") {
				s.Positions = slices.Clone(s.Positions)
				s.Positions[1].Flow, s.Positions[1].Shut, s.Positions[2].Direction = 0.1, nil, pick(m.rnd, alarms.Up, alarms.Down)
			}
		}
	}},
	{"deeper pipes, the other way round", func(m *maker, p *alarms.Plan) {
		if l := m.in(p).Loop; l != nil {
			slices.Reverse(l.Pipes)
			for i := range l.Pipes {
				l.Pipes[i].Depth++
			}
		}
	}},
	{"add an exposure", func(m *maker, p *alarms.Plan) { pl := m.at(p); pl.Exposures = append(pl.Exposures, m.exposure()) }},
	{"remove the exposures", func(m *maker, p *alarms.Plan) { m.at(p).Exposures = nil }},
	{"change an exposure", func(m *maker, p *alarms.Plan) {
		if pl := m.at(p); len(pl.Exposures) > 0 {
			id := pl.Exposures[0].ID
			pl.Exposures[0] = m.exposure()
			pl.Exposures[0].ID = id
		}
	}},
	{"other bands", func(m *maker, p *alarms.Plan) { m.bands(m.at(p)) }},
	{"remove a band", func(m *maker, p *alarms.Plan) { pl := m.at(p); pl.Bands = without(m.rnd, pl.Bands) }},
	{"remove the bands", func(m *maker, p *alarms.Plan) { m.at(p).Bands = nil }},
	{"remove the high limits", func(m *maker, p *alarms.Plan) {
		for pl, i := m.at(p), 0; i < len(pl.Bands); i++ {
			pl.Bands[i].High, pl.Bands[i].HighHigh = alarms.Limit{}, alarms.Limit{}
		}
	}},
	{"other delays", func(m *maker, p *alarms.Plan) {
		for pl, i := m.at(p), 0; i < len(pl.Bands); i++ {
			pl.Bands[i].Delay, pl.Bands[i].ClearDelay = pick(m.rnd, -1, 30*time.Minute), 8*time.Minute
			if pl.Bands[i].Quantity == alarms.Temperature {
				pl.Bands[i].Deadband = pick(m.rnd, 0, 2.0)
			}
		}
	}},
	{"other rate limits", func(m *maker, p *alarms.Plan) { m.rates(m.at(p)) }},
	{"other day hours", func(m *maker, p *alarms.Plan) { m.days(m.in(p)) }},
	{"another latitude", func(m *maker, p *alarms.Plan) { h := m.in(p); h.Latitude, h.Longitude = pick(m.rnd, -45.0, 0, 70), 120 }},
	{"another zone", func(m *maker, p *alarms.Plan) {
		m.in(p).Day.Zone, p.Words.Zone = zone("Asia/Kathmandu"), zone("America/New_York")
	}},
	{"another kind of probe", func(m *maker, p *alarms.Plan) {
		m.of(p).Kind = pick(m.rnd, alarms.KindPlain, alarms.KindThermistor, alarms.KindCapacitive)
	}},
	{"another interval", func(m *maker, p *alarms.Plan) {
		m.of(p).Every = pick(m.rnd, 0, 5*time.Minute, 10*time.Minute, 20*time.Minute)
	}},
	{"other misses", func(m *maker, p *alarms.Plan) { m.of(p).MissesAllowed = pick(m.rnd, 2.0, 8) }},
	{"an offset", func(m *maker, p *alarms.Plan) {
		if st := &m.of(p).Streams[0]; st.Quantity == alarms.Temperature {
			st.Offset = 0.3
		}
	}},
	{"no stuck values", func(m *maker, p *alarms.Plan) { m.of(p).Streams[0].StuckFor = -1 }},
	{"other priorities", func(m *maker, p *alarms.Plan) {
		m.of(p).Priority = alarms.High
		for pl, i := m.at(p), 0; i < len(pl.Bands); i++ {
			pl.Bands[i].Priority, pl.Bands[i].Worst = alarms.Low, alarms.Medium
		}
	}},
	{"another distance for siblings", func(m *maker, p *alarms.Plan) {
		m.at(p).Disagree = map[alarms.Quantity]float64{alarms.Temperature: pick(m.rnd, 0, 1.0, 8)}
	}},
	{"one quantity less", func(m *maker, p *alarms.Plan) { pr := m.of(p); pr.Streams = pr.Streams[:1] }},
	{"words", func(m *maker, p *alarms.Plan) { p.Words.Fahrenheit = !p.Words.Fahrenheit }},
	{"nothing", func(*maker, *alarms.Plan) {}},
}

// sound reports whether p can be judged by.
func sound(p alarms.Plan) bool {
	_, err := New(p)
	return err == nil && len(p.Houses) > 0
}
