package alarms

import "time"

// Defaults that a Plan need not state. Deadband and delays for temperature
// follow EEMUA 191 and ISA-18.2 (1 % of range, 60 s; from memory); the others
// are common practice, no source.
const (
	defaultDelay      = 60 * time.Second
	defaultQuickDelay = 15 * time.Second
	defaultClearDelay = 60 * time.Second
	defaultSettle     = time.Hour
	defaultWindow     = 30 * time.Minute
	defaultRateClear  = 5 * time.Minute
	defaultMisses     = 3.0
	defaultLinkDelay  = 30 * time.Second
	defaultDisagree   = 30 * time.Minute
	defaultStuck      = 12 * time.Hour
)

var defaultDeadbands = map[Quantity]float64{Humidity: 2, VPD: 0.05, DewMargin: 0.3}

var defaultDisagreements = map[Quantity]float64{Temperature: 2, Humidity: 10, Surface: 3, Soil: 3}

// or returns v, or what it stands for: its default when 0, none when negative.
func or(v, std time.Duration) time.Duration {
	switch {
	case v == 0:
		return std
	case v < 0:
		return 0
	}
	return v
}

func orPriority(p, std Priority) Priority {
	if p == NoPriority {
		return std
	}
	return p
}

func orName(name, id string) string {
	if name == "" {
		return id
	}
	return name
}

// withDefaults returns a copy of p in which nothing is left to default.
func (p Plan) withDefaults() Plan {
	c := &p.Chatter
	if c.Raises == 0 {
		c.Raises = 4
	}
	c.Within, c.Hold = or(c.Within, 30*time.Minute), or(c.Hold, 30*time.Minute)
	r := &p.Reminders
	r.Low, r.Medium, r.High = or(r.Low, 24*time.Hour), or(r.Medium, 2*time.Hour), or(r.High, 45*time.Minute)
	r.RepeatHigh, r.RepeatMedium = or(r.RepeatHigh, 30*time.Minute), or(r.RepeatMedium, 2*time.Hour)
	p.Link.Delay, p.Link.Priority = or(p.Link.Delay, defaultLinkDelay), orPriority(p.Link.Priority, High)
	if p.Words.Zone == nil {
		p.Words.Zone = time.UTC
	}
	houses := make([]House, len(p.Houses))
	for i, h := range p.Houses {
		houses[i] = h.withDefaults()
	}
	p.Houses = houses
	return p
}

func (h House) withDefaults() House {
	h.Name = orName(h.Name, string(h.ID))
	h.Priority = orPriority(h.Priority, High)
	h.Day.Settle = or(h.Day.Settle, defaultSettle)
	if h.Day.Zone == nil {
		h.Day.Zone = time.UTC
	}
	if h.Season == "" {
		h.Season = SeasonOpen
	}
	h.Loop = h.Loop.withDefaults(&h)
	h.Circuits = append([]Circuit(nil), h.Circuits...)
	for i := range h.Circuits {
		c := &h.Circuits[i]
		c.Name, c.Priority = orName(c.Name, string(c.ID)), orPriority(c.Priority, High)
	}
	h.Places = append([]Place(nil), h.Places...)
	for i := range h.Places {
		h.Places[i] = h.Places[i].withDefaults()
	}
	for i := range h.Circuits {
		h.Circuits[i].witnessDefaults(h.Places)
	}
	h.controlDefaults()
	h.openingDefaults()
	return h
}

// LeafBelow is how far a leaf at p is taken to be below the air, K.
func (p *Place) LeafBelow() float64 {
	if !p.LeafBelowAir.Set {
		return 1
	}
	return p.LeafBelowAir.Value
}

func (p Place) withDefaults() Place {
	p.Name = orName(p.Name, string(p.ID))
	p.Unwatched = orPriority(p.Unwatched, Medium)
	p.LeafBelowAir = At(p.LeafBelow())
	p.DisagreeFor = or(p.DisagreeFor, defaultDisagree)
	p.Bands = append([]Band(nil), p.Bands...)
	for i := range p.Bands {
		p.Bands[i] = p.Bands[i].withDefaults()
	}
	p.Rates = append([]RateLimit(nil), p.Rates...)
	for i := range p.Rates {
		r := &p.Rates[i]
		r.Window, r.ClearDelay = or(r.Window, defaultWindow), or(r.ClearDelay, defaultRateClear)
		r.Priority = orPriority(r.Priority, Medium)
	}
	p.Exposures = append([]Exposure(nil), p.Exposures...)
	for i := range p.Exposures {
		p.Exposures[i] = p.Exposures[i].withDefaults()
	}
	p.Probes = append([]Probe(nil), p.Probes...)
	for i := range p.Probes {
		pr := &p.Probes[i]
		pr.Name = orName(pr.Name, string(pr.ID))
		if pr.MissesAllowed == 0 {
			pr.MissesAllowed = defaultMisses
		}
		pr.Streams = append([]Stream(nil), pr.Streams...)
		for j := range pr.Streams {
			pr.Streams[j] = pr.Streams[j].withDefaults(pr.Kind)
		}
	}
	return p
}

func (b Band) withDefaults() Band {
	if b.Deadband == 0 {
		b.Deadband = 0.5
		if d, ok := defaultDeadbands[b.Quantity]; ok {
			b.Deadband = d
		}
	}
	b.Delay, b.QuickDelay = or(b.Delay, defaultDelay), or(b.QuickDelay, defaultQuickDelay)
	b.ClearDelay = or(b.ClearDelay, defaultClearDelay)
	b.Priority, b.Worst = orPriority(b.Priority, Medium), orPriority(b.Worst, High)
	return b
}

// physical are the ranges outside which a stream cannot be right. Figures of
// the kinds are those usual in data sheets of such sensors.
var physical = map[ProbeKind]map[Quantity][2]float64{
	KindPlain: {Temperature: {-60, 90}, Surface: {-60, 90}, Soil: {-40, 70}, Humidity: {0, 105},
		Contact: {0, 1}, Current: {-0.5, 200}, Power: {-5, 50000}, Speed: {0, 105}, Opening: {-5, 105}, Battery: {0, 105},
		Voltage: {-1, 500}, Signal: {-150, 20}, Pressure: {30000, 110000}},
	KindOneWire:    {Temperature: {-55, 125}, Surface: {-55, 125}, Soil: {-55, 125}},
	KindThermistor: {Temperature: {-45, 80}, Surface: {-45, 80}, Soil: {-45, 80}},
	KindCapacitive: {Temperature: {-40, 125}, Humidity: {0, 105}},
}

// Reach returns the lowest and the highest value that s, of a probe of kind,
// can be judged by, in the quantity's unit: what is believed of its sensor, with
// its offset, on the scale of the quantity. A limit that is not within can
// never be passed.
func (s Stream) Reach(kind ProbeKind) (lo, hi float64) {
	full := s.withDefaults(kind)
	return s.Quantity.scaled(full.Min.Value + s.Offset), s.Quantity.scaled(full.Max.Value + s.Offset)
}

// Reach returns the lowest and the highest value of q that some probe of p can
// be judged by; ok is false where none measures it.
func (p *Place) Reach(q Quantity) (lo, hi float64, ok bool) {
	for _, pr := range p.Probes {
		for _, s := range pr.Streams {
			if s.Quantity != q {
				continue
			}
			l, h := s.Reach(pr.Kind)
			if !ok {
				lo, hi, ok = l, h, true
			}
			lo, hi = min(lo, l), max(hi, h)
		}
	}
	return lo, hi, ok
}

func (s Stream) withDefaults(kind ProbeKind) Stream {
	r, ok := physical[kind][s.Quantity]
	if !ok {
		r = physical[KindPlain][s.Quantity]
	}
	if !s.Min.Set {
		s.Min = At(r[0])
	}
	if !s.Max.Set {
		s.Max = At(r[1])
	}
	if s.Jump == 0 {
		switch s.Quantity {
		case Temperature, Surface, Soil:
			s.Jump = 10
		case Humidity:
			s.Jump = 40
		}
	}
	switch s.Quantity {
	case Temperature, Surface, Humidity:
		s.StuckFor = or(s.StuckFor, defaultStuck)
	case Battery:
		if !s.Weak.Set {
			s.Weak = At(20)
		}
	case Signal:
		if !s.Weak.Set {
			s.Weak = At(-90)
		}
	}
	return s
}

// Filled returns p with nothing left to default: as an Engine judges by it.
func (p Plan) Filled() Plan { return p.withDefaults() }
