package engine_test

import (
	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
)

func init() { engine.InWords = inWords }

// inWords words ts in the locale of e's plan.
func inWords(e *engine.Engine, ts []alarms.Transition) []alarms.Transition {
	say.Complete(e.Plan(), ts, say.Of(e.Plan()))
	return ts
}

// picture is that of e in the locale of its plan.
func picture(e *engine.Engine) alarms.Picture {
	return say.Picture(e.Plan(), e.Picture(), say.Of(e.Plan()))
}
