package config

import (
	"telltale/alarms"
	"telltale/alarms/walk"
)

// selectorSite is a switch by hand with its positions.
type selectorSite struct {
	t        *table
	selector alarms.Selector
}

func readSelector(t *table) *selectorSite {
	defer t.done()
	return &selectorSite{t: t, selector: alarms.Selector{ID: alarms.SelectorID(t.name), Name: t.text("name").or(t.name),
		At: t.text("starts-at").V, Probe: alarms.ProbeID(t.text("probe").V),
		Positions: walk.Each(t.children("position"), readPosition)}}
}

func readPosition(t *table) alarms.Position {
	defer t.done()
	t.checkID("a position")
	drives := func(key string) []alarms.DriveID { return named[alarms.DriveID](t.texts(key).V) }
	return alarms.Position{Name: t.name, Follow: drives("follow"), On: drives("on"), Off: drives("off"), Covered: drives("covered"),
		Flow:      rounded(t.flow("flow-per-hour", 1, alarms.MostFlow*hour, muchAir).V / hour),
		Direction: wordOf(t, "direction", []alarms.Direction{alarms.Down, alarms.Up}).V, Closed: t.flag("closed").V,
		Seasons: t.seasons("seasons", t.texts("seasons")), Shut: named[alarms.PlaceID](t.texts("shut").V)}
}
