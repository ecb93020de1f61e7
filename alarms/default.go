package alarms

import (
	"cmp"
	"slices"
	"time"

	"telltale/alarms/walk"
)

// Defaults that a Plan need not state. Delays for temperature follow EEMUA 191 and
// ISA-18.2 (60 s; from memory); the others are common practice, no source.
const (
	defaultDelay     = 60 * time.Second
	defaultSettle    = time.Hour
	defaultRateClear = 5 * time.Minute
	defaultMisses    = 3.0
	defaultLinkDelay = 30 * time.Second
	defaultDisagree  = 30 * time.Minute
)

// DefaultWindow is over what time a rate is taken; common practice, no source.
const DefaultWindow = 30 * time.Minute

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

// withDefaults returns a copy of p in which nothing is left to default.
func (p Plan) withDefaults() Plan {
	c := &p.Chatter
	c.Raises = cmp.Or(c.Raises, 4)
	c.Within, c.Hold = or(c.Within, 30*time.Minute), or(c.Hold, 30*time.Minute)
	r := &p.Reminders
	r.Low, r.Medium, r.High = or(r.Low, 24*time.Hour), or(r.Medium, 2*time.Hour), or(r.High, 45*time.Minute)
	r.RepeatHigh, r.RepeatMedium = or(r.RepeatHigh, 30*time.Minute), or(r.RepeatMedium, 2*time.Hour)
	p.Link.Delay, p.Link.Priority = or(p.Link.Delay, defaultLinkDelay), cmp.Or(p.Link.Priority, High)
	if p.Words.Zone == nil {
		p.Words.Zone = time.UTC
	}
	p.Houses = walk.Each(p.Houses, House.withDefaults)
	return p
}

func (h House) withDefaults() House {
	h.Name = cmp.Or(h.Name, string(h.ID))
	h.Priority = cmp.Or(h.Priority, High)
	h.Day.Settle = or(h.Day.Settle, defaultSettle)
	if h.Day.Zone == nil {
		h.Day.Zone = time.UTC
	}
	h.Season = cmp.Or(h.Season, SeasonOpen)
	h.Loop = h.Loop.withDefaults(&h)
	h.Circuits = walk.Each(h.Circuits, func(c Circuit) Circuit {
		c.Name, c.Priority = cmp.Or(c.Name, string(c.ID)), cmp.Or(c.Priority, High)
		return c
	})
	h.Places = walk.Each(h.Places, Place.withDefaults)
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
	p.Name = cmp.Or(p.Name, string(p.ID))
	p.Unwatched = cmp.Or(p.Unwatched, Medium)
	p.LeafBelowAir = At(p.LeafBelow())
	p.DisagreeFor = or(p.DisagreeFor, defaultDisagree)
	p.Bands = walk.Each(p.Bands, Band.withDefaults)
	p.Rates = walk.Each(p.Rates, RateLimit.withDefaults)
	p.Exposures = walk.Each(p.Exposures, Exposure.withDefaults)
	p.Probes = walk.Each(p.Probes, Probe.withDefaults)
	return p
}

func (p Probe) withDefaults() Probe {
	p.Name = cmp.Or(p.Name, string(p.ID))
	p.MissesAllowed = cmp.Or(p.MissesAllowed, defaultMisses)
	p.Streams = walk.Each(p.Streams, func(s Stream) Stream { return s.withDefaults(p.Kind) })
	return p
}

func (r RateLimit) withDefaults() RateLimit {
	r.Window, r.ClearDelay = or(r.Window, cmp.Or(r.Quantity.Facts().Window, DefaultWindow)), or(r.ClearDelay, defaultRateClear)
	r.Priority = cmp.Or(r.Priority, Medium)
	return r
}

func (b Band) withDefaults() Band {
	f := b.Quantity.Facts()
	delay := cmp.Or(f.Delay, defaultDelay)
	b.Deadband = cmp.Or(b.Deadband, f.Deadband)
	b.Delay = or(b.Delay, delay)
	b.QuickDelay = or(b.QuickDelay, min(delay/4, b.Delay))
	b.ClearDelay = or(b.ClearDelay, delay)
	b.Priority, b.Worst = cmp.Or(b.Priority, Medium), cmp.Or(b.Worst, High)
	return b
}

// believed returns the range outside which a reading of q cannot be right. Figures of
// the kinds are those usual in data sheets of such sensors.
func (f Facts) believed(kind ProbeKind) (lo, hi float64) {
	switch {
	case kind == KindOneWire && f.Zero:
		return -55, 125
	case kind == KindThermistor && f.Zero:
		return -45, 80
	case kind == KindCapacitive && f.Quantity == Temperature:
		return -40, 125
	}
	return f.Believed[0], f.Believed[1]
}

// Reach returns the lowest and the highest value that s, of a probe of kind,
// can be judged by, in the quantity's unit: what is believed of its sensor, with
// its offset, on the scale of the quantity. A limit that is not within can
// never be passed.
func (s Stream) Reach(kind ProbeKind) (lo, hi float64) {
	full := s.withDefaults(kind)
	return s.Quantity.Scaled(full.Min.Value + s.Offset), s.Quantity.Scaled(full.Max.Value + s.Offset)
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
	f := s.Quantity.Facts()
	lo, hi := f.believed(kind)
	if !s.Min.Set {
		s.Min = At(lo)
	}
	if !s.Max.Set {
		s.Max = At(hi)
	}
	if !s.Weak.Set {
		s.Weak = f.Weak
	}
	s.Jump = cmp.Or(s.Jump, f.Jump)
	s.StuckFor = or(s.StuckFor, f.Stuck)
	return s
}

// Filled returns p with nothing left to default: as an Engine judges by it.
func (p Plan) Filled() Plan { return p.withDefaults() }

// witnessDefaults puts the witness of c on c, and says by what it shows that the
// power is gone. The probes of ps are copies.
func (c *Circuit) witnessDefaults(ps []Place) {
	for i := range ps {
		for j := range ps[i].Probes {
			pr := &ps[i].Probes[j]
			if c.Witness == "" || pr.ID != c.Witness {
				continue
			}
			if pr.Circuit == "" {
				pr.Circuit = c.ID
			}
			for _, q := range []Quantity{Voltage, Contact} {
				if c.Zero == "" && slices.ContainsFunc(pr.Streams, func(st Stream) bool { return st.Quantity == q }) {
					c.Zero = q
				}
			}
		}
	}
}
