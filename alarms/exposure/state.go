package exposure

import "time"

// Condition is what holds for a while.
type Condition uint8

// Conditions.
const (
	Unknown Condition = iota
	Aside             // not the time at which the rule counts
	Within
	Beyond
)

// State is all that a Meter remembers. Times are nanoseconds since the Unix
// epoch.
type State struct {
	At      int64     `json:"at,omitempty"` // counted up to here; 0: not begun
	Now     Condition `json:"now,omitempty"`
	Weight  int64     `json:"weight,omitempty"`  // of a nanosecond, while beyond
	Until   int64     `json:"until,omitempty"`   // end of what is known; 0: none
	Sum     int64     `json:"sum,omitempty"`     // in the window, spell or period
	Blind   int64     `json:"blind,omitempty"`   // ns unknown in the same
	Buckets []Bucket  `json:"buckets,omitempty"` // of a window, oldest first
	Clear   int64     `json:"clear,omitempty"`   // ns within, unbroken
	Dark    int64     `json:"dark,omitempty"`    // ns unknown, unbroken
	End     int64     `json:"end,omitempty"`     // of the present period
	Run     int       `json:"run,omitempty"`     // periods reached before the present one
	Reached bool      `json:"reached,omitempty"`
}

// Bucket is one step of a window.
type Bucket struct {
	N     int64 `json:"n"` // its number since the epoch
	Sum   int64 `json:"sum,omitempty"`
	Blind int64 `json:"blind,omitempty"`
}

// Ahead returns a copy of m that has counted up to at, for looking only.
func (m *Meter) Ahead(at int64) *Meter {
	c := *m
	c.Buckets = append([]Bucket(nil), m.Buckets...)
	c.Advance(at)
	return &c
}

// Exposed is the time beyond the limit that counts now, Limit's unit being time.
func (m *Meter) Exposed() time.Duration {
	if m.rule.DegreeHours > 0 {
		return 0
	}
	return time.Duration(m.Sum)
}

// Dose is the degree-hours that count now, of a rule in degree-hours.
func (m *Meter) Dose() float64 {
	if m.rule.DegreeHours == 0 {
		return 0
	}
	return float64(m.Sum) / doseUnits
}

// Unseen is for how long nothing was known in the window, spell or period.
func (m *Meter) Unseen() time.Duration { return time.Duration(m.Blind) }

// Save returns a copy of the state.
func (m *Meter) Save() State {
	s := m.State
	s.Buckets = append([]Bucket(nil), s.Buckets...)
	return s
}

// Load takes a state that Save returned.
func (m *Meter) Load(s State) {
	m.State = s
	m.Buckets = append([]Bucket(nil), s.Buckets...)
}
