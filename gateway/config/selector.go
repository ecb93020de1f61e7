package config

import (
	"telltale/alarms"
)

// selectorSite is a switch by hand with its positions.
type selectorSite struct {
	t         *table
	selector  alarms.Selector
	probe     value[string]
	starts    value[string]
	positions []*positionSite
}

// positionSite is one position of a selector.
type positionSite struct {
	t               *table
	position        alarms.Position
	follow, on, off value[[]string]
	covered         value[[]string]
	shut            value[[]string]
	flow            value[float64] // m³/h
	direction       value[string]
	closed          value[bool]
	seasons         value[[]string]
}

func (r *reader) selector(t *table) *selectorSite {
	defer t.done()
	r.checkID(t, "selector", "season")
	site := &selectorSite{t: t, probe: t.text("probe"), starts: t.text("starts-at")}
	site.selector = alarms.Selector{ID: alarms.SelectorID(t.name), Name: t.text("name").or(t.name),
		At: site.starts.V, Probe: alarms.ProbeID(site.probe.V)}
	for _, p := range t.children("position") {
		site.positions = append(site.positions, r.position(p))
	}
	if len(site.positions) < 2 {
		r.problem(t.at, "needs two positions or more, for example [%s.position.summer] (it has %d)", t.at.path, len(site.positions))
	}
	return site
}

func (r *reader) position(t *table) *positionSite {
	defer t.done()
	if !wordsAndHyphens(t.name) {
		r.problem(t.at, "the name of a position must be lower-case words joined by hyphens, such as \"summer\" (got %q)", t.name)
	}
	site := &positionSite{t: t, follow: t.texts("follow"), on: t.texts("on"), off: t.texts("off"), covered: t.texts("covered"), shut: t.texts("shut"),
		flow: r.flow(t, "flow-per-hour", 1, 20000, muchAir), direction: t.oneOf("direction", string(alarms.Down), string(alarms.Up)), closed: t.flag("closed")}
	site.seasons = t.seasons("seasons", t.texts("seasons"))
	site.position = alarms.Position{Name: t.name, Follow: driveIDs(site.follow), On: driveIDs(site.on), Off: driveIDs(site.off), Covered: driveIDs(site.covered), Flow: rounded(site.flow.V / hour), Direction: alarms.Direction(site.direction.V),
		Closed: site.closed.V, Seasons: seasonsOf(site.seasons)}
	for _, outlet := range site.shut.V {
		site.position.Shut = append(site.position.Shut, alarms.PlaceID(outlet))
	}
	return site
}

// setsLoop is where p says something of the ground loop, if it does.
func (p *positionSite) setsLoop() (at place, ok bool) {
	switch {
	case p.shut.Seen:
		return p.shut.at, true
	case p.flow.Seen:
		return p.flow.at, true
	}
	return p.direction.at, p.direction.Seen
}

// drives are all drives that a position says something of.
func (p *positionSite) drives() []alarms.DriveID {
	return append(append(driveIDs(p.follow), driveIDs(p.on)...), driveIDs(p.off)...)
}
