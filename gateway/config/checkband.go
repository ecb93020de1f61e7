package config

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
)

// moments are all combinations in which limits hold.
func moments() []when {
	var out []when
	for _, s := range alarms.Seasons {
		out = append(out, when{s, alarms.Day}, when{s, alarms.Night})
	}
	return out
}

// finishBands merges, checks and hands over the bands and rates of a place.
func (r *reader) finishBands(p *placeSite) {
	crops := r.cropBands(p)
	for _, q := range alarms.Quantities {
		site := p.site(q)
		own := cropOf(crops, q)
		switch {
		case site == nil && (len(own) == 0 || !p.sees(q)):
			continue
		case site == nil:
			site = &bandSite{q: q, t: p.t, tables: []*bandTable{{t: p.t, band: alarms.Band{Quantity: q}}}}
		}
		cells := site.cells(own)
		r.checkCrop(site, own)
		r.checkOrder(site, cells)
		r.checkDayparts(p, cells)
		r.checkMeasured(p, site)
		r.checkReach(p, site)
		r.checkRate(p, site)
		for _, c := range cells {
			if band, ok := c.plan(); ok {
				p.place.Bands = append(p.place.Bands, band)
			}
		}
		if site.rate.seen {
			p.place.Rates = append(p.place.Rates, site.rate.limit)
		}
	}
}

func (p *placeSite) site(q alarms.Quantity) *bandSite {
	for _, b := range p.bands {
		if b.q == q {
			return b
		}
	}
	return nil
}

// sees reports whether q is measured at p or follows from what is.
func (p *placeSite) sees(q alarms.Quantity) bool {
	if q.Derived() {
		return p.measures(alarms.Temperature) && p.measures(alarms.Humidity)
	}
	return p.measures(q)
}

// checkOrder tells limits in force at one time that are not in order, and a
// deadband that leaves no room between them.
func (r *reader) checkOrder(site *bandSite, cells []*cell) {
	for _, w := range moments() {
		in := inForce(cells, w)
		below := -1
		for i, l := range in {
			if !l.set {
				continue
			}
			if below >= 0 && l.v <= in[below].v {
				r.outOfOrder(site.q, in, below, i, w)
			}
			below = i
		}
		r.checkDeadband(site, cells, in, w)
	}
}

// outOfOrder tells that the limit hi is not above the limit lo, at the line of
// the one that was given by the file, preferring the later line.
func (r *reader) outOfOrder(q alarms.Quantity, in [4]origin, lo, hi int, w when) {
	mine, other, word := hi, lo, "above"
	if in[lo].at.line > in[hi].at.line {
		mine, other, word = lo, hi, "below"
	}
	where := ""
	switch o := in[other]; {
	case o.crop != "":
		where = fmt.Sprintf(", by %s for %s", w.part, o.crop)
	case o.at.line != in[mine].at.line && tableOf(o.at.path) != tableOf(in[mine].at.path):
		where = fmt.Sprintf(", from line %d", o.at.line)
	}
	if r.told(in[mine].at) {
		return // the same at another time of day or season, or outside the crop's band
	}
	r.problem(in[mine].at, "must be %s %s (got %s, %s is %s%s)", word, limitKeys[other],
		r.say(q, in[mine].v), limitKeys[other], r.say(q, in[other].v), where)
}

func tableOf(path string) string {
	for i := len(path) - 1; i >= 0; i-- {
		if path[i] == '.' {
			return path[:i]
		}
	}
	return ""
}

// say writes a value of q in the file's unit, without the unit.
func (r *reader) say(q alarms.Quantity, v float64) string { return figure(r.scale.from(q, v)) }

// sayUnit writes a value of q with its unit.
func (r *reader) sayUnit(q alarms.Quantity, v float64) string {
	return r.say(q, v) + spaced(r.scale.unit(q))
}

func (r *reader) checkDeadband(site *bandSite, cells []*cell, in [4]origin, w when) {
	low, high := in[1], in[2]
	if !low.set || !high.set || high.v <= low.v {
		return
	}
	c := specific(cells, w)
	band := c.band.Deadband
	if band == 0 {
		band = quantityFacts[site.q].deadband
	}
	if half := (high.v - low.v) / 2; band >= half {
		r.problem(c.t.spot("deadband"), "must be below half the way from low to high, or an alarm could never end (got %s, low is %s and high is %s)",
			figure(r.scale.stepFrom(site.q, band)), r.say(site.q, low.v), r.say(site.q, high.v))
	}
}

// specific is the most specific cell that holds at w.
func specific(cells []*cell, w when) *cell {
	for _, at := range []when{w, {season: w.season}, {part: w.part}} {
		if c := find(cells, at); c != nil {
			return c
		}
	}
	return find(cells, when{})
}

// checkDayparts tells limits by day or night in a house that cannot tell when
// it is day.
func (r *reader) checkDayparts(p *placeSite, cells []*cell) {
	if p.house.knowsDay() {
		return
	}
	for _, c := range cells {
		if _, ok := c.plan(); ok && c.when.part != alarms.Always {
			r.problem(p.house.t.at, "cannot tell day from night, yet has limits for them: give latitude and longitude, or day-from and day-to")
			return
		}
	}
}

// checkMeasured tells limits for what no probe of the place gives.
func (r *reader) checkMeasured(p *placeSite, site *bandSite) {
	if site.t == p.t || p.sees(site.q) {
		return
	}
	for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity} {
		if site.q.Derived() && !p.measures(q) {
			r.problem(site.t.at, "is worked out from temperature and humidity, but no probe of this place measures %s", q)
		}
	}
	if site.q.Derived() {
		return
	}
	r.problem(site.t.at, "has limits, but no probe of this place measures it")
}

// checkReach tells limits that no probe of the place can tell of, since its
// sensor is not believed beyond them.
func (r *reader) checkReach(p *placeSite, site *bandSite) {
	for _, t := range site.tables {
		for i, l := range t.limits {
			if l.Set && i < 2 {
				r.unreachable(p, site.q, l, func(lo, _ float64) bool { return l.V <= lo })
			} else if l.Set {
				r.unreachable(p, site.q, l, func(_, hi float64) bool { return l.V >= hi })
			}
		}
	}
}

// unreachable tells a limit that is out of reach by what out says of the lowest
// and highest value that is believed.
func (r *reader) unreachable(p *placeSite, q alarms.Quantity, l value[float64], out func(lo, hi float64) bool) {
	place := alarms.Place{}
	var names []string
	for _, one := range p.probes {
		if _, ok := one.stream(q); ok {
			place.Probes = append(place.Probes, one.probe)
			names = append(names, string(one.probe.ID))
		}
	}
	lo, hi, ok := place.Reach(q)
	if !ok || lo >= hi || !out(lo, hi) {
		return
	}
	r.problem(l.at, "can never be passed, so nobody would be told: %s of %s is believed from %s to %s (got %s); if its sensor can give more, set kind, min or max of the probe",
		q, strings.Join(names, ", "), r.say(q, lo), r.sayUnit(q, hi), r.say(q, l.V))
}

// leastIntervals is how many intervals of a probe a rate's window must hold:
// the core takes a slope from five readings on, and one may come late.
const leastIntervals = 5

// checkRate tells a window too short for the probes.
func (r *reader) checkRate(p *placeSite, site *bandSite) {
	if !site.rate.seen {
		return
	}
	window := effective(site.rate.limit.Window, 30*time.Minute)
	at := site.rate.window.at
	for _, probe := range p.probes {
		if _, ok := probe.stream(site.q); !ok && !site.q.Derived() {
			continue
		}
		if every := probe.probe.Every; every > 0 && window < leastIntervals*every {
			by := ""
			if !site.rate.window.Set {
				by = " by default"
			}
			r.problem(at, "must be at least %d intervals of probe %s, or there are too few readings to see a rate (got %s%s, the interval is %s)",
				leastIntervals, probe.probe.ID, span(window), by, span(every))
		}
	}
}
