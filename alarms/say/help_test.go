package say_test

import (
	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

// step gives in to e, and words what that brings about in the plan's locale.
func step(e *engine.Engine, in alarms.Input) []alarms.Transition {
	ts := e.Step(in)
	say.Complete(e.Plan(), ts, say.Of(e.Plan()))
	return ts
}

// seen is the picture of e in the plan's locale.
func seen(e *engine.Engine) alarms.Picture { return seenIn(e, e.Plan().Words.Fahrenheit) }

func seenIn(e *engine.Engine, fahrenheit bool) alarms.Picture {
	m := say.Of(e.Plan())
	m.Fahrenheit = fahrenheit
	return say.Picture(e.Plan(), e.Picture(), m)
}
