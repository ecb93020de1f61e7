package config

import (
	"time"
	_ "time/tzdata" // a small board may have no time zone files

	"telltale/alarms"
	"telltale/alarms/tongue"
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
	warns     bool // people, ahead of limits, where a place says nothing else
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

func readWords(root *table) alarms.Words {
	t := root.table("words")
	defer t.done()
	w := alarms.Words{Zone: time.UTC}
	unit := t.oneOf("temperature", "°C", "°F", "C", "F")
	root.r.degreesGiven = unit.Set
	switch unit.or("°C") {
	case "°F", "F":
		w.Fahrenheit = true
	}
	if zone := t.text("zone"); zone.Set {
		loc, err := time.LoadLocation(zone.V)
		if err != nil || zone.V == "Local" {
			root.problem(zone.at, "must be a zone name of the IANA time zone database such as \"UTC\" or \"CET\" (got %q)", zone.V)
		} else {
			w.Zone = loc
		}
	}
	w.Tongue = t.language("language", tongue.English)
	root.r.scale.fahrenheit = w.Fahrenheit
	return w
}

func readHouses(root *table, zone *time.Location) []*houseSite {
	var out []*houseSite
	for _, t := range root.children("house") {
		out = append(out, readHouse(t, zone))
	}
	if len(out) == 0 && !root.bare() {
		root.problem(root.spot("house"), "is missing: name at least one house, for example [house.long-house]")
	}
	return out
}

func readHouse(t *table, zone *time.Location) *houseSite {
	defer t.done()
	site := &houseSite{t: t, house: alarms.House{ID: alarms.HouseID(t.name), Name: t.text("name").or(t.name)}}
	h := &site.house
	lat, long := t.number("latitude", -90, 90, tongue.Text("degrees")), t.number("longitude", -180, 180, tongue.Text("degrees"))
	h.Latitude, h.Longitude = lat.V, long.V
	if lat.Seen != long.Seen {
		t.problem(t.at, "latitude and longitude belong together: give both or neither")
	}
	if long.Set {
		t.checkNoon(long, zone)
	}
	h.Day = readDayRule(t, zone)
	h.Season = wordOf(t, "season", alarms.Seasons).or(alarms.SeasonOpen)
	h.Priority, h.Directions = t.priority("silent-priority"), t.directions()
	site.warns = t.flag("warn-ahead").or(true)
	for _, c := range t.children("circuit") {
		site.circuits = append(site.circuits, readCircuit(c, h))
	}
	for _, p := range t.children("place") {
		site.places = append(site.places, readPlace(p, site))
	}
	site.readMechanics()
	site.loop = readLoop(t.table("loop"))
	site.form = readForm(t.table("form"))
	if len(site.places) == 0 {
		t.problem(t.at, "has no place: add one, for example [%s.place.bench]", t.at.path)
	}
	return site
}

// farFromNoon is how far the middle of the day may lie from 12:00 on the clocks of a zone:
// nowhere that people live is it more than three and a quarter hours.
const farFromNoon = 4 * time.Hour

// checkNoon warns of a longitude that does not go with the zone, such as one with the wrong
// sign: sunrise, sunset and all that goes by the sun would be hours off.
func (t *table) checkNoon(long value[float64], zone *time.Location) {
	if zone == nil {
		zone = time.UTC
	}
	_, offset := time.Date(2026, time.January, 1, 12, 0, 0, 0, zone).Zone()
	noon := 12*time.Hour + time.Duration(offset)*time.Second - time.Duration(long.V/15*float64(time.Hour))
	noon = ((noon % day) + day) % day
	if (noon - 12*time.Hour).Abs() > farFromNoon {
		t.warn(long.at, "the sun would stand highest at about %s by the clocks of %s; east of Greenwich is positive, west is negative: is the sign right, and the zone of [words]? (got %g)",
			clock(noon.Round(5*time.Minute)), zone, long.V)
	}
}

// readDayRule reads when it is day.
func readDayRule(t *table, zone *time.Location) alarms.DayRule {
	rule := alarms.DayRule{Zone: zone, Settle: none(t.span("settle", 0, day))}
	from, to := t.clock("day-from"), t.clock("day-to")
	if from.Seen != to.Seen {
		t.problem(t.at, "day-from and day-to belong together: give both or neither")
	}
	if !from.Set || !to.Set {
		return rule
	}
	if from.V >= to.V {
		t.problem(to.at, "must be later than day-from (got %s, day-from is %s)", clock(to.V), clock(from.V))
		return rule
	}
	rule.Fixed, rule.Start, rule.End = true, from.V, to.V
	return rule
}

// knowsDay reports whether the house can tell day from night.
func (h *houseSite) knowsDay() bool {
	return h.house.Day.Fixed || (h.t.has("latitude") && h.t.has("longitude")) || h.t.has("day-from")
}

func readPlace(t *table, house *houseSite) *placeSite {
	defer t.done()
	site := &placeSite{t: t, house: house, crop: t.text("crop")}
	p := &site.place
	p.ID, p.Name = alarms.PlaceID(t.name), t.text("name").or(t.name)
	p.Unwatched, p.Directions = t.priority("unwatched-priority"), t.directions()
	p.NoEarlyWarning = !t.flag("warn-ahead").or(house.warns)
	p.DisagreeFor = t.span("disagree-for", time.Minute, 7*day).V
	leaf := t.number("leaf-below-air", 0, 20, t.r.scale.stepUnit(alarms.Temperature))
	p.LeafBelowAir = alarms.Limit{Value: t.r.scale.stepInto(alarms.Temperature, leaf.V), Set: leaf.Set}
	site.at = readSpot(t.table("at"))
	site.exposures = readExposures(t, site)
	for _, q := range alarms.Quantities {
		sub := t.table(string(q))
		if !sub.seen {
			continue
		}
		b := readBand(sub, q)
		site.bands = append(site.bands, b)
		if b.disagree.Set {
			if p.Disagree == nil {
				p.Disagree = map[alarms.Quantity]float64{}
			}
			p.Disagree[q] = b.disagree.V
		}
	}
	return site
}

// checkID tells a name that is no word; the core tells those of a plan.
func (t *table) checkID(what tongue.Text) {
	if !alarms.IsName(t.name) {
		t.problem(t.at, "the name of %s must be lower-case words joined by hyphens, such as \"north-bench\" (got %q)", what, t.name)
	}
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
	return read(t, key, func(raw any) (time.Duration, error) {
		s, _ := raw.(string)
		at, ok := clockTime(s)
		if !ok {
			return 0, tongue.Put("must be a time of day such as \"06:30\" (got %s)", got(raw))
		}
		return at, nil
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
