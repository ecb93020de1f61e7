package say

import (
	"telltale/alarms"
	"telltale/alarms/tongue"
)

// drifts are what is said of the drift of each figure of a house.
var drifts = map[string]struct{ title, back, check tongue.Text }{
	alarms.FigureWarming: {"warms less in the sun than it did", "warms in the sun as it did before",
		"dirt, snow, leaves or shading paint on the glass? Blinds or screens stuck shut? A vent or door left open? Sweep from the ground, never from a ladder beside glass, and step on no glass"},
	alarms.FigureLoss: {"loses more warmth than it did", "loses no more warmth than it did before",
		"film torn or come loose, a pane slipped, a vent, door or shutter that does not shut? A screen that is not drawn at night?"},
	alarms.FigureExchange: {"is cooled less by its fan than it was", "is cooled by its fan as it was before",
		"filter, mesh or intake clogged? Does the shutter open all the way, is the belt slack? Switch the fan off at its isolator before you reach in"},
	alarms.FigureHeating: {"is warmed less by its heater than it was", "is warmed by its heater as it was before",
		"fuel, filter and outlet, or one of several elements that stays cold; its inside is for those who know it"},
}

// Drift says in a few words how a figure of a house has drifted.
func (m Locale) Drift(figure string) string {
	if d, ok := drifts[figure]; ok {
		return m.say(d.title)
	}
	return m.say("is not like what it was")
}

// drifted says of a figure of a house that it has become another one.
type drifted struct{ *telling }

// fact says how a figure of a house has become another one, or how that ended.
func (n drifted) fact(ended bool) string {
	r, where := n.r.Drift, n.where(n.o)
	switch {
	case r == nil:
		return n.title(n.o) + "."
	case ended && r.Ended == alarms.DriftTaken:
		return n.say("%s %s; that is taken as usual from now on: %s.", where, n.Drift(r.Figure), n.found(r.Figure, r.Is))
	case ended && r.Ended == alarms.DriftOther:
		return n.say("Whether %s still %s is not known: season, settings or probes are others now, and what is usual is learned anew.", where, n.Drift(r.Figure))
	case ended:
		return n.say("%s %s: %s.", where, n.say(drifts[r.Figure].back), n.found(r.Figure, r.Is))
	}
	drift, is, was := n.Drift(r.Figure), n.found(r.Figure, r.Is), n.figured(r.Figure, r.Was)
	if n.Move == alarms.Note {
		return n.say("%s %s: %s, and by %s in the weeks before.", where, drift, is, was)
	}
	return n.say("%s %s: %s, and by %s in the weeks before %s.", where, drift, is, was, n.date(n.r.Since.In(n.dayZone())))
}

// note is a line of the log: it began, and nobody is told yet, or that is over.
func (n drifted) note() string {
	if r := n.r.Drift; r != nil && r.Ended == "" {
		return n.say("%s%s It is told if it lasts.", n.fact(false), n.checkFirst(n.say(drifts[r.Figure].check)))
	}
	return n.fact(true)
}

// figured is a figure that a house was found to have, with what it is an amount of.
func (m Locale) figured(name string, v float64) string {
	switch name {
	case alarms.FigureExchange:
		return m.say("%s air changes an hour", m.number(v, 0))
	case alarms.FigureLoss:
		v *= 10
	}
	return m.Distance(alarms.Temperature, v)
}

// found is a figure with what it is of.
func (m Locale) found(name string, v float64) string {
	s := m.figured(name, v)
	switch name {
	case alarms.FigureExchange:
		return m.say("its fan cools it as if by %s", s)
	case alarms.FigureLoss:
		return m.say("in the dark, %s warmer than outside, it cools by %s an hour at first", m.Distance(alarms.Temperature, 10), s)
	case alarms.FigureHeating:
		return m.say("its heater warms it by %s an hour at first", s)
	}
	return m.say("in full sun, with nothing running, it warms by %s an hour at first", s)
}
