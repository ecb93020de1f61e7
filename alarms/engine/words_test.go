package engine

import "telltale/alarms"

// InWords words ts in the locale of e's plan. It is set by the tests outside of
// the package, which alone can import package say: say imports this one.
var InWords func(e *Engine, ts []alarms.Transition) []alarms.Transition
