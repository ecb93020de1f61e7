package alarms

import (
	"errors"
	"fmt"
)

// check reports everything that makes p impossible to judge by, joined.
func (p Plan) check() error {
	c := &checker{seen: map[string]string{}}
	for i := range p.Houses {
		c.house(&p.Houses[i])
	}
	return errors.Join(c.errs...)
}

type checker struct {
	errs []error
	seen map[string]string // what claimed a name
}

func (c *checker) fail(format string, args ...any) {
	c.errs = append(c.errs, fmt.Errorf(format, args...))
}

func (c *checker) claim(name, by string) {
	if name == "" {
		c.fail("%s has no name: give it one", by)
		return
	}
	if first, taken := c.seen[name]; taken {
		c.fail("%q is the name of %s and of %s: names must differ", name, first, by)
	}
	c.seen[name] = by
}

func (c *checker) house(h *House) {
	c.claim("house "+string(h.ID), "a house")
	if h.ID == "" || h.ID == "watch" {
		c.fail("house %q: a house needs a name, and not \"watch\"", h.ID)
	}
	circuits := map[CircuitID]bool{"": true}
	for _, ci := range h.Circuits {
		c.claim(string(h.ID)+"/"+string(ci.ID), "a circuit of "+string(h.ID))
		circuits[ci.ID] = true
		c.witness(h, &ci)
		c.fedBy(h, &ci)
	}
	for i := range h.Places {
		pl := &h.Places[i]
		c.claim(string(h.ID)+"/"+string(pl.ID), "a place of "+string(h.ID))
		if pl.ID == "season" || pl.ID == "silent" {
			c.fail("place %s/%s: this word is taken", h.ID, pl.ID)
		}
		c.place(h, pl, circuits)
	}
	c.controls(h)
	c.loop(h)
}

func (c *checker) place(h *House, p *Place, circuits map[CircuitID]bool) {
	where := string(h.ID) + "/" + string(p.ID)
	for i := range p.Bands {
		c.band(where, &p.Bands[i])
		c.reach(where, p, &p.Bands[i])
	}
	c.exposures(where, p.Exposures)
	for _, r := range p.Rates {
		if (r.Rise.Set && r.Rise.Value <= 0) || (r.Fall.Set && r.Fall.Value <= 0) {
			c.fail("%s: rate limits of %s must be above 0", where, r.Quantity)
		}
		if r.Quantity.Derived() {
			c.fail("%s: %s is derived and takes no rate limit", where, r.Quantity)
		}
	}
	for _, pr := range p.Probes {
		c.claim("probe "+string(pr.ID), "a probe at "+where)
		if Quantity(pr.ID).Known() || pr.ID == "unwatched" {
			c.fail("%s: probe %q: this word is taken", where, pr.ID)
		}
		if !circuits[pr.Circuit] {
			c.fail("%s: probe %s is on circuit %q, which %s does not have", where, pr.ID, pr.Circuit, h.ID)
		}
		if len(pr.Streams) == 0 {
			c.fail("%s: probe %s measures nothing", where, pr.ID)
		}
		seen := map[Quantity]bool{}
		for _, st := range pr.Streams {
			if seen[st.Quantity] || st.Quantity.Derived() || !st.Quantity.Known() {
				c.fail("%s: probe %s cannot claim %q: each measured quantity once", where, pr.ID, st.Quantity)
			}
			seen[st.Quantity] = true
		}
	}
}

// reach reports limits that no probe of p can tell of.
func (c *checker) reach(where string, p *Place, b *Band) {
	lo, hi, ok := p.Reach(b.Quantity)
	if !ok || lo >= hi {
		return
	}
	for i, l := range b.all() {
		if l.Set && (i < 2 && l.Value <= lo || i >= 2 && l.Value >= hi) {
			c.fail("%s: no probe can tell that %s is beyond the limit of %g: it is believed from %g to %g", where, b.Quantity, l.Value, lo, hi)
		}
	}
}

func (c *checker) band(where string, b *Band) {
	last := Limit{}
	for _, l := range b.all() {
		if l.Set && last.Set && l.Value <= last.Value {
			c.fail("%s: limits of %s must rise from low-low to high-high (got %g after %g)", where, b.Quantity, l.Value, last.Value)
		}
		if l.Set {
			last = *l
		}
	}
}
