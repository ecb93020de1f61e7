package decode

import (
	"fmt"
	"math"
	"slices"

	"telltale/alarms"
)

// way is one way to write a quantity: its unit and factor, and between what
// numbers as sent it is usual. The ranges are common practice, no source; they
// only put choices in order.
type way struct {
	quantity alarms.Quantity
	unit     string // empty: the core's own
	factor   float64
	lo, hi   float64
	whole    bool   // only whole numbers
	part     bool   // only if some are no whole numbers
	ask      string // why it must be asked; empty: it need not
}

const (
	askWarm    = "Is it really so warm, in °C? In °F it would be an ordinary day."
	askF       = "Is it sent in °F? In °C it would be too hot for any plant."
	askK       = "Is it sent in kelvin?"
	askTenths  = "Is it sent in tenths?"
	askHundred = "Is it sent in hundredths?"
	askRatio   = "Is it a ratio from 0 to 1? Then 1 is 100 %."
	askShare   = "Which share is it?"
	askContact = "Which way round is it? Look whether the thing is open or closed now."
)

// ways are all ways, the likeliest of a quantity first where several are usual.
func ways() []way {
	var out []way
	for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Soil, alarms.Surface} {
		out = append(out,
			way{quantity: q, lo: -40, hi: 38},
			way{quantity: q, lo: 38, hi: 45, ask: askWarm},
			way{quantity: q, unit: "°F", lo: 45, hi: 130, ask: askF},
			way{quantity: q, unit: "K", lo: 233, hi: 333, part: true, ask: askK},
			way{quantity: q, factor: 0.1, lo: 131, hi: 600, whole: true, ask: askTenths},
			way{quantity: q, factor: 0.01, lo: 601, hi: 6000, whole: true, ask: askHundred},
			way{quantity: q, lo: 45, hi: 60, ask: askWarm},
			way{quantity: q, unit: "°F", lo: -40, hi: 45},
			way{quantity: q, unit: "K", lo: 233, hi: 333, whole: true, ask: askK})
	}
	for _, q := range []alarms.Quantity{alarms.Humidity, alarms.Battery, alarms.Speed, alarms.Opening} {
		out = append(out,
			way{quantity: q, unit: "ratio", lo: 0, hi: 1, part: true, ask: askRatio},
			way{quantity: q, lo: 0, hi: 100},
			way{quantity: q, unit: "ratio", lo: 0, hi: 1, whole: true, ask: askRatio},
			way{quantity: q, factor: 0.1, lo: 101, hi: 1000, whole: true, ask: askTenths},
			way{quantity: q, factor: 0.01, lo: 1001, hi: 10000, whole: true, ask: askHundred})
	}
	return append(out,
		way{quantity: alarms.Voltage, lo: 0, hi: 60}, way{quantity: alarms.Voltage, unit: "mV", lo: 100, hi: 60000, whole: true},
		way{quantity: alarms.Signal, lo: -140, hi: -10},
		way{quantity: alarms.Pressure, unit: "hPa", lo: 300, hi: 1100}, way{quantity: alarms.Pressure, lo: 30000, hi: 110000},
		way{quantity: alarms.Pressure, unit: "kPa", lo: 30, hi: 110}, way{quantity: alarms.Pressure, unit: "inHg", lo: 25, hi: 32},
		way{quantity: alarms.Current, lo: 0, hi: 60}, way{quantity: alarms.Current, unit: "mA", lo: 0, hi: 60000},
		way{quantity: alarms.Power, lo: 0, hi: 20000}, way{quantity: alarms.Power, unit: "kW", lo: 0, hi: 20})
}

func (w way) usual(values []float64) bool {
	parts := false
	for _, v := range values {
		if v < w.lo || v > w.hi {
			return false
		}
		parts = parts || v != math.Trunc(v)
	}
	return !(w.whole && parts) && !(w.part && !parts)
}

// spot weighs what a value may be.
func (p *proposer) spot(f *found) Spot {
	s := Spot{Where: f.read.At, Sent: f.text, Use: -1}
	q, word := named(f.names)
	if q == alarms.Temperature {
		q = warmth(f.names)
	}
	if f.boolean || p.form == Number && q == alarms.Contact || q == alarms.Contact && onlyBits(f.values) {
		p.contact(&s, f, word)
		return s
	}
	if odd := stranger(f.names); odd != "" && f.unit == "" {
		p.offer(&s, f, "")
		s.Why = "By its name it is " + odd + "."
		return s
	}
	if f.unit != "" {
		if p.stated(&s, f, q) {
			return s
		}
	}
	if q == alarms.Battery && !slices.ContainsFunc(f.values, func(v float64) bool { return v < 1.5 || v > 5 && v < 1500 || v > 5000 }) &&
		slices.ContainsFunc(f.values, func(v float64) bool { return v != math.Trunc(v) || v > 1000 }) {
		q = alarms.Voltage // a cell has 1.5 to 5 V
	}
	p.offer(&s, f, q)
	if q == "" || len(s.Choices) == 0 || s.Choices[0].Read.Quantity != q {
		s.Why = "Neither its name nor a unit says what it is."
		if q != "" {
			s.Why = fmt.Sprintf("It is called %q, but %s is not written like this.", word, q)
		}
		return s
	}
	s.Use = 0
	return s
}

func onlyBits(values []float64) bool {
	return !slices.ContainsFunc(values, func(v float64) bool { return v != 0 && v != 1 })
}

// stated proposes what the unit in the payload says.
func (p *proposer) stated(s *Spot, f *found, q alarms.Quantity) bool {
	for _, of := range append([]alarms.Quantity{q, warmth(f.names)}, alarms.Quantities...) {
		if of == "" || of.Derived() {
			continue
		}
		u, ok := p.unitsOf(of).find(f.unit)
		if !ok || of == alarms.Contact {
			continue
		}
		r := f.read
		r.Quantity = of
		v, ok := p.try(f, r)
		if !ok { // the unit stands beside the value, not in it
			continue
		}
		if !p.carriesUnit() && u.scale != same {
			r.Unit = u.name
			v, _ = p.try(f, r)
		}
		s.Choices = append(s.Choices, Choice{Read: p.optional(r, f), Value: v})
		if s.Use < 0 {
			s.Use, s.Sure, s.Why = 0, Certain, fmt.Sprintf("The payload states its unit, %s.", f.unit)
			if share := []string{"%", "percent", "ratio", "/", "1"}; q != of && slices.Contains(share, f.unit) {
				s.Sure, s.Ask = Unsure, fmt.Sprintf(askShare+" The unit %s does not say.", f.unit)
			}
		}
	}
	return s.Use >= 0
}

// carriesUnit reports whether the decoder itself sees units in this form. In
// JSON only a unit within the text of the value is seen.
func (p *proposer) carriesUnit() bool { return p.form == Number || p.form == SenML }

// offer lists what f may be, what its name says first.
func (p *proposer) offer(s *Spot, f *found, q alarms.Quantity) {
	hint := unitWord(f.names, q)
	var first, rest []Choice
	for _, w := range p.ways {
		r := f.read
		r.Quantity, r.Unit, r.Factor = w.quantity, w.unit, w.factor
		told := hint != "" && w.quantity == q && w.factor == 0 && or(w.unit, p.coreUnit(q)) == hint
		if !w.usual(f.values) && !told {
			continue
		}
		v, ok := p.try(f, r)
		if !ok || slices.ContainsFunc(append(first, rest...), func(c Choice) bool { return sameRead(c.Read, r) }) {
			continue
		}
		c := Choice{Read: p.optional(r, f), Value: v}
		switch {
		case told:
			first = append([]Choice{c}, first...)
			s.Sure, s.Why, s.Ask = Certain, fmt.Sprintf("Its name says what it is, and in %s.", hint), ""
		case w.quantity == q:
			if len(first) == 0 {
				s.Sure, s.Why, s.Ask = Likely, "Its name says what it is, and the number is usual for that.", w.ask
				if w.ask != "" {
					s.Sure = Unsure
				}
			}
			first = append(first, c)
		default:
			rest = append(rest, c)
		}
	}
	s.Choices = append(first, rest...)
}

func sameRead(a, b Read) bool {
	return a.Quantity == b.Quantity && a.Unit == b.Unit && a.Factor == b.Factor && a.Inverted == b.Inverted
}

func (p *proposer) coreUnit(q alarms.Quantity) string {
	if fit := p.unitsOf(q).fit; len(fit) > 0 {
		return fit[0].name
	}
	return ""
}

// contact offers both ways round.
func (p *proposer) contact(s *Spot, f *found, word string) {
	plain, turned := f.read, f.read
	plain.Quantity, turned.Quantity = alarms.Contact, alarms.Contact
	turned.Inverted = true
	order := []Read{plain, turned}
	if (word == "open" || word == "opened") && f.text != "open" && f.text != "closed" {
		order = []Read{turned, plain}
	}
	for _, r := range order {
		if v, ok := p.try(f, r); ok {
			s.Choices = append(s.Choices, Choice{Read: p.optional(r, f), Value: v})
		}
	}
	s.Why, s.Ask = "It has two states, like a contact.", askContact
	if q, _ := named(f.names); q == alarms.Contact && len(s.Choices) > 0 {
		s.Use, s.Sure, s.Why = 0, Likely, "By its name and its two states it is a contact."
	}
	if len(s.Choices) > 0 && (p.form == Number && len(p.found) == 1) {
		s.Use = 0
	}
}

// optional marks a read that not every payload has.
func (p *proposer) optional(r Read, f *found) Read {
	r.Optional = f.missing
	return r
}
