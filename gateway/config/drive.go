package config

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// driveSite is a drive with its tables.
type driveSite struct {
	t           *table
	drive       alarms.Drive
	kind        value[string]
	start, stop value[time.Duration]
	tolerance   value[time.Duration] // of its timer
	with, never value[[]string]
	barred      value[[]string]
	hours       value[[]alarms.Hours]
	circuit     value[string]
	evidence    []*evidenceSite
	runs        []runSite
	at          spotSite
}

// runSite is what one season wants of a drive.
type runSite struct {
	at  place
	run alarms.Run
}

// evidenceSite is one reading that shows whether a drive runs.
type evidenceSite struct {
	t                          *table
	probe, quantity            value[string]
	above, usualLow, usualHigh value[float64] // in the core's unit
	inverted                   value[bool]
	evidence                   alarms.Evidence
}

func (r *reader) drive(t *table) *driveSite {
	defer t.done()
	r.checkID(t, "drive", "season")
	const longest = 2 * time.Hour
	site := &driveSite{t: t, kind: need(t, t.oneOf("kind", driveKindNames()...), "say what it is, for example \"exhaust-fan\"")}
	site.start, site.stop = t.span("start-within", time.Second, longest), t.span("stop-within", time.Second, longest)
	site.with, site.never = t.texts("with"), t.texts("never-with")
	site.barred = t.seasons("barred", t.textsOrNone("barred"))
	site.circuit = t.text("circuit")
	site.tolerance = t.span("timer-tolerance", 0, 2*time.Hour)
	site.drive = alarms.Drive{
		ID: alarms.DriveID(t.name), Name: t.text("name").V, Kind: alarms.DriveKind(site.kind.V),
		Start: site.start.V, Stop: site.stop.V,
		Effect: t.spanOr("effect-within", "never", time.Minute, 12*time.Hour).V,
		With:   driveIDs(site.with), Never: driveIDs(site.never), Barred: seasonsOf(site.barred),
		TimerTolerance: none(site.tolerance),
		MaxStarts:      t.count("max-starts-per-hour", 1, 240).V, Priority: t.priority("priority"),
		Circuit:    alarms.CircuitID(site.circuit.V),
		Directions: t.directions(),
	}
	site.hours = t.hours("hours")
	r.runs(t.table("runs"), site)
	site.byHours()
	site.at = r.spot(t.table("at"))
	for _, e := range t.elements("evidence") {
		site.evidence = append(site.evidence, r.evidence(e))
	}
	return site
}

// byHours lets the drive run at its hours in every season that says nothing else.
func (site *driveSite) byHours() {
	for _, s := range alarms.Seasons {
		said := slices.ContainsFunc(site.runs, func(r runSite) bool { return r.run.Season == s })
		if !site.hours.Set || said || slices.Contains(site.drive.Barred, s) {
			continue
		}
		run := alarms.Run{Season: s, On: true, Hours: site.hours.V}
		site.runs = append(site.runs, runSite{site.hours.at, run})
		site.drive.Runs = append(site.drive.Runs, run)
	}
}

// runs reads what each season wants of the drive: "on", "off", turns or hours.
func (r *reader) runs(t *table, site *driveSite) {
	defer t.done()
	for _, s := range alarms.Seasons {
		run := alarms.Run{Season: s, On: true}
		key := string(s)
		switch _, isTable := t.keys[key].(map[string]any); {
		case !t.has(key):
			t.ask(key)
			continue
		case isTable:
			run.OnFor, run.OffFor, run.Hours = t.timer(key)
		default:
			word := read(t, key, func(raw any) (string, string) {
				if raw == any("on") || raw == any("off") {
					return raw.(string), ""
				}
				return "", "must be \"on\", \"off\", a cycle timer's { on-for = \"15m\", off-for = \"45m\" } or a timer's { hours = [\"05:30-09:00\"] } (got " + got(raw) + ")"
			})
			run.On = word.V == "on"
		}
		site.runs = append(site.runs, runSite{t.spot(key), run})
		site.drive.Runs = append(site.drive.Runs, run)
	}
}

// timer reads how long a cycle timer lets run and rest, or at which hours a timer
// lets run.
func (t *table) timer(key string) (on, off time.Duration, hours []alarms.Hours) {
	sub := t.table(key)
	defer sub.done()
	if sub.has("hours") {
		return 0, 0, sub.hours("hours").V
	}
	const shortest = 10 * time.Second
	onFor := need(sub, sub.span("on-for", shortest, day), "say how long the cycle timer lets it run")
	offFor := need(sub, sub.span("off-for", shortest, day), "say how long the cycle timer lets it rest")
	return onFor.V, offFor.V, nil
}

// hours reads the hours of a timer: ["05:30-09:00", "22:00-02:00"].
func (t *table) hours(key string) value[[]alarms.Hours] {
	texts := t.texts(key)
	out := value[[]alarms.Hours]{at: texts.at, Seen: texts.Seen, Set: texts.Set}
	for i, s := range texts.V {
		from, to, _ := strings.Cut(s, "-")
		h, at := alarms.Hours{}, t.item(key, i)
		var begins, ends bool
		h.From, begins = clockTime(from)
		h.To, ends = clockTime(to)
		switch {
		case !begins || !ends || h.From == day || h.To == 0:
			t.r.problem(at, "must be from and to by the clock, such as \"05:30-09:00\", with \"00:00\" to begin a day and \"24:00\" to end it (got %q)", s)
			continue
		case h.From == h.To:
			t.r.problem(at, "must begin and end at two times of the day (got %q)", s)
			continue
		}
		for _, before := range out.V {
			if h.Meets(before) {
				t.r.problem(at, "overlaps or touches other hours: a pause belongs between them (got %q and %q)", clock(before.From)+"-"+clock(before.To), s)
			}
		}
		out.V = append(out.V, h)
	}
	return out
}

func (r *reader) evidence(t *table) *evidenceSite {
	defer t.done()
	e := &evidenceSite{t: t, probe: need(t, t.text("probe"), "name the probe that shows whether it runs"),
		inverted: t.flag("inverted")}
	e.quantity = need(t, t.oneOf("quantity", quantityNames(alarms.Showing)...), "say which quantity of the probe shows it")
	q := alarms.Quantity(e.quantity.V)
	e.evidence = alarms.Evidence{Probe: alarms.ProbeID(e.probe.V), Quantity: q, Inverted: e.inverted.V}
	figures := []struct {
		key string
		v   *value[float64]
	}{{"above", &e.above}, {"usual-low", &e.usualLow}, {"usual-high", &e.usualHigh}}
	for _, f := range figures {
		switch {
		case !e.quantity.Set:
			t.ask(f.key)
		case q == alarms.Contact:
			if t.ask(f.key); t.has(f.key) {
				r.problem(t.spot(f.key), "is not for a contact: closed means that the drive runs, or open with inverted = true")
			}
		case q == alarms.Temperature && f.key != "above":
			if t.ask(f.key); t.has(f.key) {
				r.problem(t.spot(f.key), "is for current and power; no temperature is usual while a drive runs")
			}
		case (q == alarms.Speed || q == alarms.Opening) && f.key != "above":
			if t.ask(f.key); t.has(f.key) {
				r.problem(t.spot(f.key), "is for current and power; a speed or a position shows that a drive runs, not what it draws")
			}
		default:
			lo, hi := quantityFacts[q].lo, quantityFacts[q].hi
			*f.v = t.number(f.key, r.scale.from(q, lo), r.scale.from(q, hi), r.scale.unit(q))
			if f.v.Set {
				f.v.V = r.scale.into(q, f.v.V)
			}
		}
	}
	e.evidence.Above, e.evidence.UsualLow, e.evidence.UsualHigh = limit(e.above), limit(e.usualLow), limit(e.usualHigh)
	r.checkFigures(e, q)
	return e
}

// checkFigures tells evidence without a threshold, or with one that does not
// part running from standing still.
func (r *reader) checkFigures(e *evidenceSite, q alarms.Quantity) {
	if !e.quantity.Set || q == alarms.Contact {
		return
	}
	need(e.t, e.above, "give the "+string(q)+" from which the drive counts as running")
	above, low, high := e.above, e.usualLow, e.usualHigh
	rests := q != alarms.Temperature
	switch {
	case above.Set && above.V <= 0 && rests:
		r.problem(above.at, "must be above 0, or the drive would count as running while it rests (got %s)", r.sayUnit(q, above.V))
	case low.Set && high.Set && high.V <= low.V:
		r.problem(high.at, "must be above usual-low (got %s, usual-low is %s)", r.say(q, high.V), r.say(q, low.V))
	case above.Set && low.Set && !e.inverted.V && low.V < above.V:
		r.problem(low.at, "is what is usual while the drive runs, so it must not be below %q (got %s, above is %s)", "above",
			r.say(q, low.V), r.say(q, above.V))
	case above.Set && high.Set && e.inverted.V && high.V > above.V:
		r.problem(high.at, "is what is usual while the drive runs, so with inverted it must not be higher than %q (got %s, above is %s)", "above",
			r.say(q, high.V), r.say(q, above.V))
	}
}

func driveKindNames() []string {
	out := make([]string, len(alarms.DriveKinds))
	for i, k := range alarms.DriveKinds {
		out[i] = string(k)
	}
	return out
}

func quantityNames(list []alarms.Quantity) []string {
	out := make([]string, len(list))
	for i, q := range list {
		out[i] = string(q)
	}
	return out
}
