package config

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

var limitKeys = alarms.LimitNames

// when says to which part of the day and season a table belongs.
type when struct {
	season alarms.Season // empty: all
	part   alarms.Daypart
}

// bandTable is one table of limits.
type bandTable struct {
	t       *table
	parent  *bandTable // nil: none
	when    when
	limits  [4]value[float64] // core unit
	band    alarms.Band       // deadband, delays and priorities, inherited ones filled in
	outside value[string]     // why limits may lie outside the crop's band
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
	limit alarms.RateLimit
	seen  bool
}

// readBand reads the table of one quantity and its tables for day, night and the
// seasons.
func readBand(t *table, q alarms.Quantity) *bandSite {
	site := &bandSite{q: q, t: t, rate: readRate(t, q)}
	defer t.done()
	site.disagree = t.step("disagree", q, 0.001, width(q), "")
	base := readBandTable(t, q, when{}, nil)
	site.tables = []*bandTable{base}
	readDayparts(t, site, base)
	for _, s := range alarms.Seasons {
		if sub := t.table(string(s)); sub.seen {
			b := readBandTable(sub, q, when{season: s}, base)
			site.tables = append(site.tables, b)
			readDayparts(sub, site, b)
			sub.done()
		}
	}
	return site
}

func readDayparts(t *table, site *bandSite, base *bandTable) {
	for _, part := range []alarms.Daypart{alarms.Day, alarms.Night} {
		if sub := t.table(part.String()); sub.seen {
			w := when{season: base.when.season, part: part}
			site.tables = append(site.tables, readBandTable(sub, site.q, w, base))
			sub.done()
		}
	}
}

// readBandTable reads limits, deadband, delays and priorities; what is not given
// comes from parent.
func readBandTable(t *table, q alarms.Quantity, w when, parent *bandTable) *bandTable {
	b := &bandTable{t: t, parent: parent, when: w}
	if parent != nil {
		b.band, b.outside = parent.band, parent.outside
	}
	b.band.Quantity, b.band.When, b.band.Seasons = q, w.part, nil
	if w.season != "" {
		b.band.Seasons = []alarms.Season{w.season}
	}
	f := q.Facts()
	for i, key := range limitKeys {
		b.limits[i] = t.amount(key, q, f.Lowest, f.Highest)
	}
	if d := t.step("deadband", q, 0, width(q), ""); d.Set {
		b.band.Deadband = d.V
	}
	readBandTimes(t, b)
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

func readBandTimes(t *table, b *bandTable) {
	const longest = 12 * time.Hour
	for _, one := range []struct {
		key  string
		into *time.Duration
	}{{"delay", &b.band.Delay}, {"quick-delay", &b.band.QuickDelay}, {"clear-delay", &b.band.ClearDelay}} {
		if v := t.span(one.key, 0, longest); v.Set {
			*one.into = none(v)
		}
	}
}

// width is the largest difference that q can have.
func width(q alarms.Quantity) float64 { return q.Facts().Width() }

// step reads a difference of q in the file's unit; lo and hi are in the
// core's. per is said of the unit; empty: nothing is.
func (t *table) step(key string, q alarms.Quantity, lo, hi float64, per tongue.Text) value[float64] {
	var unit any = t.r.scale.stepUnit(q)
	if per != "" {
		unit = tongue.Put(per, unit)
	}
	v := t.number(key, t.r.scale.stepFrom(q, lo), t.r.scale.stepFrom(q, hi), unit)
	v.V = t.r.scale.stepInto(q, v.V)
	return v
}

func readRate(t *table, q alarms.Quantity) rateSite {
	rise, fall := t.step("rise-per-hour", q, alarms.LeastRate, 10*width(q), "%s an hour"), t.step("fall-per-hour", q, alarms.LeastRate, 10*width(q), "%s an hour")
	window := t.span("rate-window", time.Minute, day)
	site := rateSite{seen: rise.Set || fall.Set}
	clear := t.span("rate-clear-delay", 0, 12*time.Hour)
	site.limit = alarms.RateLimit{Quantity: q, Rise: limit(rise), Fall: limit(fall), Window: window.V,
		ClearDelay: none(clear), Priority: t.priority("rate-priority")}
	if !rise.Seen && !fall.Seen && (window.Seen || clear.Seen || t.has("rate-priority")) {
		at := window.at
		if !window.Seen {
			at = t.at
		}
		t.problem(at, "there is no rate limit to go with it: give rise-per-hour or fall-per-hour")
	}
	return site
}

func limit(v value[float64]) alarms.Limit { return alarms.Limit{Value: v.V, Set: v.Set} }
