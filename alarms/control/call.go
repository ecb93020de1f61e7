package control

import "telltale/alarms/timing"

// Call says whether the dial calls.
type Call uint8

// Calls.
const (
	Between   Call = iota // inside the differential or the tolerance, or not known: no verdict
	Called                // for certain
	NotCalled             // for certain
)

var callNames = [...]string{"between", "called", "not called"}

func (c Call) String() string {
	if int(c) < len(callNames) {
		return callNames[c]
	}
	return "unknown"
}

// either is what two calls make together.
func either(a, b Call, both bool) Call {
	switch {
	case !both:
		return b
	case a == Called || b == Called:
		return Called
	case a == Between || b == Between:
		return Between
	}
	return NotCalled
}

// call is when and how warm the dial was passed.
type call struct {
	Stage   int            `json:"stage"`
	Called  timing.Instant `json:"called,omitempty"`
	CalledT float64        `json:"calledT,omitempty"`
}
