package config

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// driveSite is a drive with its tables.
type driveSite struct {
	t           *table
	drive       alarms.Drive
	kind        value[alarms.DriveKind]
	start, stop value[time.Duration]
	barred      value[[]string]
	hours       value[[]alarms.Hours]
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
	t        *table
	probe    value[string]
	evidence alarms.Evidence
}

func readDrive(t *table) *driveSite {
	defer t.done()
	const longest = alarms.MostAnswer
	site := &driveSite{t: t, kind: need(t, wordOf(t, "kind", alarms.DriveKinds), "say what it is, for example \"exhaust-fan\"")}
	site.start, site.stop = t.span("start-within", time.Second, longest), t.span("stop-within", time.Second, longest)
	site.barred = t.textsOrNone("barred")
	barred := t.seasons("barred", site.barred)
	site.drive = alarms.Drive{
		ID: alarms.DriveID(t.name), Name: t.text("name").V, Kind: site.kind.V,
		Start: site.start.V, Stop: site.stop.V,
		Effect: t.spanOr("effect-within", "never", time.Minute, 12*time.Hour).V,
		With:   named[alarms.DriveID](t.texts("with").V), Never: named[alarms.DriveID](t.texts("never-with").V), Barred: barred,
		TimerTolerance: none(t.span("timer-tolerance", 0, longest)),
		MaxStarts:      t.count("max-starts-per-hour", 1, 240).V, Priority: t.priority("priority"),
		Circuit:    alarms.CircuitID(t.text("circuit").V),
		Directions: t.directions(),
	}
	site.hours = t.hours("hours")
	readRuns(t.table("runs"), site)
	site.byHours()
	site.at = readSpot(t.table("at"))
	site.evidence = walk.Each(t.elements("evidence"), readEvidence)
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
		site.t.r.moved[inner(inner(site.t.inner, "runs"), string(s))] = moved{inner: inner(site.t.inner, "hours")}
		site.t.r.moved[inner(inner(inner(site.t.inner, "runs"), string(s)), "hours")] = moved{inner: inner(site.t.inner, "hours")}
		site.runs = append(site.runs, runSite{site.hours.at, run})
		site.drive.Runs = append(site.drive.Runs, run)
	}
}

// readRuns reads what each season wants of the drive: "on", "off", turns or hours.
func readRuns(t *table, site *driveSite) {
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
			word := read(t, key, func(raw any) (string, error) {
				if raw == any("on") || raw == any("off") {
					return raw.(string), nil
				}
				return "", tongue.Put("must be \"on\", \"off\", a cycle timer's { on-for = \"15m\", off-for = \"45m\" } or a timer's { hours = [\"05:30-09:00\"] } (got %s)", got(raw))
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
		if !begins || !ends || h.From == day || h.To == 0 {
			t.problem(at, "must be from and to by the clock, such as \"05:30-09:00\", with \"00:00\" to begin a day and \"24:00\" to end it (got %q)", s)
		}
		out.V = append(out.V, h)
	}
	return out
}

func readEvidence(t *table) *evidenceSite {
	defer t.done()
	e := &evidenceSite{t: t, probe: need(t, t.text("probe"), "name the probe that shows whether it runs")}
	quantity := need(t, wordOf(t, "quantity", alarms.Showing), "say which quantity of the probe shows it")
	q := quantity.V
	e.evidence = alarms.Evidence{Probe: alarms.ProbeID(e.probe.V), Quantity: q, Inverted: t.flag("inverted").V}
	for _, f := range []struct {
		key  string
		into *alarms.Limit
	}{{"above", &e.evidence.Above}, {"usual-low", &e.evidence.UsualLow}, {"usual-high", &e.evidence.UsualHigh}} {
		if !quantity.Set {
			t.ask(f.key)
			continue
		}
		*f.into = limit(t.amount(f.key, q, q.Facts().Lowest, q.Facts().Highest))
	}
	return e
}

// checkDrive warns of what could not be told of a drive.
func (h *houseSite) checkDrive(d *driveSite) {
	d.checkTimer()
	h.checkSeen(d)
	if d.drive.Kind == alarms.ExhaustFan && !d.barred.Seen {
		d.t.warn(d.t.at, "does not say whether it may run in winter: write barred = [\"winter\"] if its vents are covered then, barred = [] if not")
	}
	if len(d.evidence) == 0 || d.evidence[0].evidence.Quantity == alarms.Contact { // which reports when it moves
		return
	}
	e := d.evidence[0]
	for _, p := range h.places {
		for _, one := range p.probes {
			if _, ok := one.stream(e.evidence.Quantity); ok && one.t.name == e.probe.V {
				d.checkPace(e, one)
			}
		}
	}
}

// checkTimer warns of hours that are over before it could be told that the drive did
// not start.
func (d *driveSite) checkTimer() {
	full := d.drive.InForce()
	within, at := full.Start+max(full.TimerTolerance, 0), place{}
	for _, run := range d.runs {
		for _, h := range run.run.Hours {
			if long := (h.To - h.From + day) % day; long <= within && long > 0 && at != run.at {
				at = run.at
				d.t.warn(run.at, "has hours of %s (%s), too short to tell that the drive did not start: give it a timer-tolerance and start-within that are shorter together (they are %s)",
					span(long), h, span(within))
			}
		}
	}
}

// checkSeen warns of a drive of which nothing could be said.
func (h *houseSite) checkSeen(d *driveSite) {
	if d.t.has("evidence") || !d.kind.Set {
		return
	}
	staged := slices.ContainsFunc(h.controls, func(c *controlSite) bool {
		return slices.ContainsFunc(c.stages, func(s *stageSite) bool { return slices.Contains(s.stage.Drives, d.drive.ID) })
	})
	switch {
	case d.drive.Kind != alarms.ExhaustFan:
		d.t.warn(d.t.at, "has no evidence, so nobody can tell whether it runs: name a probe that shows it, evidence = [{ probe = \"...\", quantity = \"...\" }]")
	case !staged:
		d.t.warn(d.t.at, "has no evidence, and no thermostat from whose temperature it could be told whether it runs")
	}
}

// checkPace warns of a probe that reports too seldom for the times allowed.
func (d *driveSite) checkPace(e *evidenceSite, probe *probeSite) {
	full, every := d.drive.InForce(), probe.probe.Every
	for _, one := range []struct {
		key    string
		v      value[time.Duration]
		within time.Duration
	}{{"start-within", d.start, full.Start}, {"stop-within", d.stop, full.Stop}} {
		switch {
		case one.within >= 2*every:
		case one.v.Set:
			d.t.warn(one.v.at, "should be two intervals of probe %s or more, or the drive may be told as late when it was not (got %s, the interval is %s)",
				probe.probe.ID, span(one.within), span(every))
		default:
			d.t.warn(e.t.at, "%s should be two intervals of probe %s or more, or the drive may be told as late when it was not (got %s by default, the interval is %s)",
				one.key, probe.probe.ID, span(one.within), span(every))
		}
	}
}
