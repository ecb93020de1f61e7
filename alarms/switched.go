package alarms

import (
	"time"

	"telltale/alarms/control"
)

// Switched is one line of the log of switchings: one run of a drive, or one
// call that was missed. A time that was not seen is zero.
type Switched struct {
	Called      time.Time     `json:"called,omitzero"` // when the dial was passed
	CalledTemp  *float64      `json:"called_temp,omitempty"`
	Ran         time.Time     `json:"ran,omitzero"`
	RanAfter    time.Duration `json:"ran_after_ns,omitzero"`
	RanTemp     *float64      `json:"ran_temp,omitempty"`
	Stopped     time.Time     `json:"stopped,omitzero"`
	StoppedTemp *float64      `json:"stopped_temp,omitempty"`
	Missed      bool          `json:"missed,omitempty"`   // called, and did not run
	Inferred    bool          `json:"inferred,omitempty"` // from temperatures alone
	Right       bool          `json:"right,omitempty"`    // as it should be: a proof
}

func (m *mechanism) switchedOf(s *control.Switching) *Switched {
	if s == nil {
		return nil
	}
	out := &Switched{
		Called: m.at(s.Called), Ran: m.at(s.Ran), RanAfter: s.RanAfter, Stopped: m.at(s.Stopped),
		Missed: s.Missed, Inferred: s.Inferred, Right: s.Right,
	}
	if s.Called != 0 {
		out.CalledTemp = &s.CalledTemp
	}
	if s.RanTempKnown {
		out.RanTemp = &s.RanTemp
	}
	if s.StopKnown {
		out.StoppedTemp = &s.StoppedTemp
	}
	return out
}
