package config

import (
	"strings"
	"time"
	_ "time/tzdata" // a small board may have no time zone files

	"telltale/alarms"
)

const day = 24 * time.Hour

// houseSite is a house with what the checks across tables must know.
type houseSite struct {
	t         *table
	house     alarms.House
	places    []*placeSite
	circuits  []*circuitSite
	controls  []*controlSite
	drives    []*driveSite
	selectors []*selectorSite
	openings  []*openingSite
	loop      *loopSite // nil: none
	form      *shapeSite
}

// placeSite is a place with its tables.
type placeSite struct {
	t     *table
	house *houseSite
	place alarms.Place
	at    spotSite
	crop  value[string]
	bands []*bandSite // one a quantity, in the order of alarms.Quantities
	// exposures are those that the file has tables of.
	exposures []*exposureSite
	probes    []*probeSite
}

// measures reports whether a probe of the place gives q.
func (p *placeSite) measures(q alarms.Quantity) bool {
	for _, one := range p.probes {
		if _, ok := one.stream(q); ok {
			return true
		}
	}
	return false
}

func (r *reader) words(root *table) alarms.Words {
	t := root.table("words")
	defer t.done()
	w := alarms.Words{Zone: time.UTC}
	unit := t.oneOf("temperature", "°C", "°F", "C", "F")
	r.degreesGiven = unit.Set
	switch unit.or("°C") {
	case "°F", "F":
		w.Fahrenheit = true
	}
	if zone := t.text("zone"); zone.Set {
		loc, err := time.LoadLocation(zone.V)
		if err != nil || zone.V == "Local" {
			r.problem(zone.at, "must be a zone name of the IANA time zone database such as \"UTC\" or \"CET\" (got %q)", zone.V)
		} else {
			w.Zone = loc
		}
	}
	r.scale.fahrenheit = w.Fahrenheit
	return w
}

func (r *reader) houses(root *table, zone *time.Location) []*houseSite {
	var out []*houseSite
	for _, t := range root.children("house") {
		out = append(out, r.house(t, zone))
	}
	if len(out) == 0 && !r.bare(root) {
		r.problem(root.spot("house"), "is missing: name at least one house, for example [house.long-house]")
	}
	return out
}

func (r *reader) house(t *table, zone *time.Location) *houseSite {
	defer t.done()
	r.checkID(t, "house", "watch")
	site := &houseSite{t: t, house: alarms.House{ID: alarms.HouseID(t.name), Name: t.text("name").or(t.name)}}
	h := &site.house
	lat, long := t.number("latitude", -90, 90, "degrees"), t.number("longitude", -180, 180, "degrees")
	h.Latitude, h.Longitude = lat.V, long.V
	if lat.Seen != long.Seen {
		r.problem(t.at, "latitude and longitude belong together: give both or neither")
	}
	h.Day = r.dayRule(t, zone)
	h.Season = alarms.Season(t.oneOf("season", seasonNames()...).or(string(alarms.SeasonOpen)))
	h.Priority, h.Directions = t.priority("silent-priority"), t.directions()
	for _, c := range t.children("circuit") {
		r.checkID(c, "circuit")
		site.circuits = append(site.circuits, r.circuit(c, h))
	}
	for _, p := range t.children("place") {
		site.places = append(site.places, r.place(p, site))
	}
	r.mechanics(t, site)
	site.loop = r.loop(t.table("loop"))
	site.form = r.form(t.table("form"))
	r.checkNames(t)
	if len(site.places) == 0 {
		r.problem(t.at, "has no place: add one, for example [%s.place.bench]", t.at.path)
	}
	return site
}

// named are the tables of a house that alarms are named after.
var named = []string{"circuit", "place", "control", "drive", "selector", "opening"}

// checkNames tells what shares its name with something else of the house.
func (r *reader) checkNames(t *table) {
	type owner struct {
		what string
		line int
	}
	taken := map[string]owner{}
	for _, what := range named {
		for _, c := range t.children(what) {
			first, clash := taken[c.name]
			if !clash {
				taken[c.name] = owner{what, c.at.line}
				continue
			}
			r.problem(c.at, "%s of this house has the same name (line %d); alarms are named after both, so rename one",
				article(first.what), first.line)
		}
	}
}

// dayRule reads when it is day.
func (r *reader) dayRule(t *table, zone *time.Location) alarms.DayRule {
	rule := alarms.DayRule{Zone: zone, Settle: none(t.span("settle", 0, day))}
	from, to := t.clock("day-from"), t.clock("day-to")
	if from.Seen != to.Seen {
		r.problem(t.at, "day-from and day-to belong together: give both or neither")
	}
	if !from.Set || !to.Set {
		return rule
	}
	if from.V >= to.V {
		r.problem(to.at, "must be later than day-from (got %s, day-from is %s)", clock(to.V), clock(from.V))
		return rule
	}
	rule.Fixed, rule.Start, rule.End = true, from.V, to.V
	return rule
}

// knowsDay reports whether the house can tell day from night.
func (h *houseSite) knowsDay() bool {
	return h.house.Day.Fixed || (h.t.has("latitude") && h.t.has("longitude")) || h.t.has("day-from")
}

func (r *reader) place(t *table, house *houseSite) *placeSite {
	defer t.done()
	r.checkID(t, "place", "season")
	site := &placeSite{t: t, house: house, crop: t.text("crop")}
	p := &site.place
	p.ID, p.Name = alarms.PlaceID(t.name), t.text("name").or(t.name)
	p.Unwatched, p.Directions = t.priority("unwatched-priority"), t.directions()
	p.DisagreeFor = t.span("disagree-for", time.Minute, 7*day).V
	leaf := t.number("leaf-below-air", 0, 20, r.scale.stepUnit(alarms.Temperature))
	p.LeafBelowAir = alarms.Limit{Value: r.scale.stepInto(alarms.Temperature, leaf.V), Set: leaf.Set}
	site.at = r.spot(t.table("at"))
	site.exposures = r.exposures(t, site)
	for _, q := range alarms.Quantities {
		sub := t.table(string(q))
		if !sub.seen {
			continue
		}
		if b := r.band(sub, q); b != nil {
			site.bands = append(site.bands, b)
			if b.disagree.Set {
				if p.Disagree == nil {
					p.Disagree = map[alarms.Quantity]float64{}
				}
				p.Disagree[q] = b.disagree.V
			}
		}
	}
	return site
}

// reserved are the last words of alarm names.
var reserved = []string{"silent", "unwatched", "low", "high", "rising", "falling", "broker", "restart"}

// checkID tells an ID that alarms and links could not be named after.
func (r *reader) checkID(t *table, what string, more ...string) {
	if !wordsAndHyphens(t.name) {
		r.problem(t.at, "the name of %s must be lower-case words joined by hyphens, such as \"north-bench\" (got %q)", article(what), t.name)
		return
	}
	if alarms.Quantity(t.name).Known() {
		r.problem(t.at, "%s must not be named like a quantity, because alarms are named after both (got %q)", article(what), t.name)
	}
	for _, w := range append(reserved, more...) {
		if t.name == w {
			r.problem(t.at, "%s must not be named %q: the watch uses that word for its own alarms", article(what), w)
		}
	}
}

// article puts "a" or "an" before a word.
func article(what string) string {
	if strings.ContainsAny(what[:1], "aeio") {
		return "an " + what
	}
	return "a " + what
}

func wordsAndHyphens(s string) bool {
	for _, w := range strings.Split(s, "-") {
		if w == "" || strings.Trim(w, "abcdefghijklmnopqrstuvwxyz0123456789") != "" {
			return false
		}
	}
	return len(s) <= 64
}

func seasonNames() []string {
	out := make([]string, len(alarms.Seasons))
	for i, s := range alarms.Seasons {
		out[i] = string(s)
	}
	return out
}

// none turns a given zero into the plan's "none", which is negative.
func none(v value[time.Duration]) time.Duration {
	if v.Set && v.V == 0 {
		return -1
	}
	return v.V
}

func (t *table) priority(key string) alarms.Priority {
	var p alarms.Priority
	if v := t.oneOf(key, "low", "medium", "high"); v.Set {
		_ = p.UnmarshalText([]byte(v.V)) // oneOf has checked it
	}
	return p
}

// clock reads a time of day such as "06:30".
func (t *table) clock(key string) value[time.Duration] {
	return read(t, key, func(raw any) (time.Duration, string) {
		s, _ := raw.(string)
		at, ok := clockTime(s)
		if !ok {
			return 0, "must be a time of day such as \"06:30\" (got " + got(raw) + ")"
		}
		return at, ""
	})
}

// clockTime reads a time of day, "24:00" for the end of it.
func clockTime(s string) (after time.Duration, ok bool) {
	if s == "24:00" {
		return day, true
	}
	at, err := time.Parse("15:04", s)
	return time.Duration(at.Hour())*time.Hour + time.Duration(at.Minute())*time.Minute, err == nil
}

func clock(d time.Duration) string {
	if d == day {
		return "24:00"
	}
	return time.Time{}.Add(d).Format("15:04")
}
