package decode

import (
	"cmp"
	"math"
	"slices"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// way is one way to write a quantity: its unit and factor, and between what
// numbers as sent it is usual, which only puts choices in order.
type way struct {
	unit   string // empty: the core's own
	factor float64
	lo, hi float64
	whole  bool        // only whole numbers
	part   bool        // only if some are no whole numbers
	ask    tongue.Text // why it must be asked; empty: it need not
}

const (
	byItsName tongue.Text = "By its name it is %s."

	askWarm     tongue.Text = "Is it really so warm, in °C? In °F it would be an ordinary day."
	askF        tongue.Text = "Is it sent in °F? In °C it would be too hot for any plant."
	askK        tongue.Text = "Is it sent in kelvin?"
	askTenths   tongue.Text = "Is it sent in tenths?"
	askHundred  tongue.Text = "Is it sent in hundredths?"
	askRatio    tongue.Text = "Is it a ratio from 0 to 1? Then 1 is 100 %."
	askLux      tongue.Text = "Is it sent in lux? What is sent in W/m² or µmol is no light as it is counted here."
	askShare    tongue.Text = "Which share is it? The unit %s does not say."
	askNameless tongue.Text = "Is it a temperature? Nothing says what it is; a lone number mostly is one."
	askContact  tongue.Text = "Which way round is it? Look whether the thing is open or closed now."
)

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
		s.Why = tongue.Keep(byItsName, odd)
		return s
	}
	if slices.Contains(radiation, f.unit) {
		s.Why = tongue.Keep("Its unit, %s, is one of radiation, and no factor makes light of that.", f.unit)
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
		s.Why = tongue.Keep("Neither its name nor a unit says what it is.")
		// Of a message somebody is asked; a column of a table nobody is.
		if q == "" && p.topic != "" && len(p.found) == 1 && len(s.Choices) > 0 && s.Choices[0].Read.Quantity == alarms.Temperature && s.Choices[0].Read.Factor == 0 {
			s.Use, s.Ask = 0, tongue.Keep(askNameless)
		}
		if q != "" {
			s.Why = tongue.Keep("It is called %q, but %s is not written like this.", word, NameOf(q))
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
		u, ok := unitsOf(of).find(f.unit)
		if !ok || of == alarms.Contact {
			continue
		}
		r := f.read
		r.Quantity = of
		v, ok := p.try(f, r)
		if !ok { // the unit stands beside the value, not in it
			continue
		}
		if p.form != Number && p.form != SenML && u.scale != same {
			r.Unit = u.name
			v, _ = p.try(f, r)
		}
		if slices.ContainsFunc(s.Choices, func(c Choice) bool { return sameRead(c.Read, r) }) {
			continue
		}
		s.Choices = append(s.Choices, Choice{Read: p.optional(r, f), Value: v})
		if s.Use < 0 {
			s.Use, s.Sure, s.Why = 0, Certain, tongue.Keep("The payload states its unit, %s.", f.unit)
			if share := []string{"%", "percent", "ratio", "/", "1"}; q != of && slices.Contains(share, f.unit) {
				s.Sure, s.Ask = Unsure, tongue.Keep(askShare, f.unit)
			}
		}
	}
	return s.Use >= 0
}

// offer lists what f may be, what its name says first.
func (p *proposer) offer(s *Spot, f *found, q alarms.Quantity) {
	hint := unitWord(f.names, q)
	var first, rest []Choice
	for _, known := range table {
		for _, w := range known.ways {
			r := f.read
			r.Quantity, r.Unit, r.Factor = known.quantity, w.unit, w.factor
			told := hint != "" && r.Quantity == q && w.factor == 0 && cmp.Or(w.unit, known.units[0].name) == hint
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
				s.Sure, s.Why, s.Ask = Certain, tongue.Keep("Its name says what it is, and in %s.", hint), ""
			case r.Quantity == q:
				if len(first) == 0 {
					s.Sure, s.Why, s.Ask = Likely, tongue.Keep("Its name says what it is, and the number is usual for that."), ""
					if w.ask != "" {
						s.Sure, s.Ask = Unsure, tongue.Keep(w.ask)
					}
				}
				first = append(first, c)
			default:
				rest = append(rest, c)
			}
		}
	}
	s.Choices = append(first, rest...)
}

func sameRead(a, b Read) bool {
	return a.Quantity == b.Quantity && a.Unit == b.Unit && a.Factor == b.Factor && a.Inverted == b.Inverted
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
	s.Why, s.Ask = tongue.Keep("It has two states, like a contact."), tongue.Keep(askContact)
	if q, _ := named(f.names); q == alarms.Contact && len(s.Choices) > 0 {
		s.Use, s.Sure, s.Why = 0, Likely, tongue.Keep("By its name and its two states it is a contact.")
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
