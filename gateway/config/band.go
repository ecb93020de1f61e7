package config

import (
	"time"

	"telltale/alarms"
)

// limitKeys are the four limits from below.
var limitKeys = [4]string{"low-low", "low", "high", "high-high"}

// when says to which part of the day and season a table belongs.
type when struct {
	season alarms.Season // empty: all
	part   alarms.Daypart
}

// bandTable is one table of limits.
type bandTable struct {
	t       *table
	when    when
	limits  [4]value[float64] // core unit
	band    alarms.Band       // deadband, delays and priorities, inherited ones filled in
	quick   value[time.Duration]
	outside value[string] // why limits may lie outside the crop's band
}

// bandSite is all that the file says of one quantity of one place.
type bandSite struct {
	q        alarms.Quantity
	t        *table
	tables   []*bandTable // the most general first
	rate     rateSite
	disagree value[float64]
}

type rateSite struct {
	limit  alarms.RateLimit
	seen   bool
	window value[time.Duration]
}

// band reads the table of one quantity and its tables for day, night and the
// seasons.
func (r *reader) band(t *table, q alarms.Quantity) *bandSite {
	if !quantityFacts[q].limits {
		r.problem(t.at, "takes no limits; they are for %s", "temperature, humidity, surface, soil, current, power, speed, pressure, vpd and dew-margin")
		return nil
	}
	site := &bandSite{q: q, t: t, rate: r.rate(t, q)}
	defer t.done()
	site.disagree = r.step(t, "disagree", q, 0.001, width(q), "")
	base := r.bandTable(t, q, when{}, nil)
	site.tables = []*bandTable{base}
	r.dayparts(t, site, base)
	for _, s := range alarms.Seasons {
		if sub := t.table(string(s)); sub.seen {
			b := r.bandTable(sub, q, when{season: s}, base)
			site.tables = append(site.tables, b)
			r.dayparts(sub, site, b)
			sub.done()
		}
	}
	return site
}

func (r *reader) dayparts(t *table, site *bandSite, base *bandTable) {
	for _, part := range []alarms.Daypart{alarms.Day, alarms.Night} {
		if sub := t.table(part.String()); sub.seen {
			w := when{season: base.when.season, part: part}
			site.tables = append(site.tables, r.bandTable(sub, site.q, w, base))
			sub.done()
		}
	}
}

// bandTable reads limits, deadband, delays and priorities; what is not given
// comes from parent.
func (r *reader) bandTable(t *table, q alarms.Quantity, w when, parent *bandTable) *bandTable {
	b := &bandTable{t: t, when: w}
	if parent != nil {
		b.band, b.outside = parent.band, parent.outside
	}
	b.band.Quantity, b.band.When, b.band.Seasons = q, w.part, nil
	if w.season != "" {
		b.band.Seasons = []alarms.Season{w.season}
	}
	f := quantityFacts[q]
	for i, key := range limitKeys {
		b.limits[i] = t.number(key, r.scale.from(q, f.lo), r.scale.from(q, f.hi), r.scale.unit(q))
		b.limits[i].V = r.scale.into(q, b.limits[i].V)
	}
	if d := r.step(t, "deadband", q, 0, width(q), ""); d.Set {
		b.band.Deadband = d.V
	}
	r.bandTimes(t, b)
	if p := t.priority("priority"); p != alarms.NoPriority {
		b.band.Priority = p
	}
	if p := t.priority("worst-priority"); p != alarms.NoPriority {
		b.band.Worst = p
	}
	if o := t.text("outside-crop"); o.Seen {
		b.outside = o
	}
	return b
}

func (r *reader) bandTimes(t *table, b *bandTable) {
	const longest = 12 * time.Hour
	delay := t.span("delay", 0, longest)
	b.quick = t.span("quick-delay", 0, longest)
	clear := t.span("clear-delay", 0, longest)
	for _, one := range []struct {
		v    value[time.Duration]
		into *time.Duration
	}{{delay, &b.band.Delay}, {b.quick, &b.band.QuickDelay}, {clear, &b.band.ClearDelay}} {
		if one.v.Set {
			*one.into = none(one.v)
		}
	}
	if quick, slow := effective(b.band.QuickDelay, 15*time.Second), effective(b.band.Delay, time.Minute); quick > slow &&
		(delay.Set || b.quick.Set) {
		at := b.quick.at
		if !b.quick.Set {
			at = delay.at
		}
		r.problem(at, "low-low and high-high must not wait longer than low and high (quick-delay is %s, delay is %s)",
			span(quick), span(slow))
	}
}

// effective is what a duration of the plan comes to.
func effective(d, byDefault time.Duration) time.Duration {
	switch {
	case d < 0:
		return 0
	case d == 0:
		return byDefault
	}
	return d
}

// width is the largest difference that q can have.
func width(q alarms.Quantity) float64 { return quantityFacts[q].hi - quantityFacts[q].lo }

// step reads a difference of q in the file's unit; lo and hi are in the
// core's. per is said after the unit.
func (r *reader) step(t *table, key string, q alarms.Quantity, lo, hi float64, per string) value[float64] {
	v := t.number(key, r.scale.stepFrom(q, lo), r.scale.stepFrom(q, hi), r.scale.stepUnit(q)+per)
	v.V = r.scale.stepInto(q, v.V)
	return v
}

func (r *reader) rate(t *table, q alarms.Quantity) rateSite {
	rise, fall := r.step(t, "rise-per-hour", q, 0.01, 10*width(q), " an hour"), r.step(t, "fall-per-hour", q, 0.01, 10*width(q), " an hour")
	site := rateSite{seen: rise.Set || fall.Set, window: t.span("rate-window", time.Minute, day)}
	clear := t.span("rate-clear-delay", 0, 12*time.Hour)
	site.limit = alarms.RateLimit{Quantity: q, Rise: limit(rise), Fall: limit(fall), Window: site.window.V,
		ClearDelay: none(clear), Priority: t.priority("rate-priority")}
	if !rise.Seen && !fall.Seen && (site.window.Seen || clear.Seen || t.has("rate-priority")) {
		at := site.window.at
		if !site.window.Seen {
			at = t.at
		}
		r.problem(at, "there is no rate limit to go with it: give rise-per-hour or fall-per-hour")
	}
	return site
}

func limit(v value[float64]) alarms.Limit { return alarms.Limit{Value: v.V, Set: v.Set} }
