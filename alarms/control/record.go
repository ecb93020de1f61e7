package control

import (
	"time"

	"telltale/alarms/timing"
)

// calledLeast is how long a drive must have been called on a day, in total,
// that NeverRan can be said.
const calledLeast = 30 * time.Minute

// Tally counts what a drive did.
type Tally struct {
	Starts    int            `json:"starts,omitempty"`    // seen
	Ran       time.Duration  `json:"ran,omitempty"`       // seen running
	CalledFor time.Duration  `json:"calledFor,omitempty"` // for certain, while it could be seen
	Right     int            `json:"right,omitempty"`     // complete switchings as they should be
	First     timing.Instant `json:"first,omitempty"`     // start of the first of them
	FirstTemp float64        `json:"firstTemp,omitempty"` // °C at it
}

// record is what a drive has done, today and in all.
type record struct {
	Counted     timing.Instant `json:"counted,omitempty"` // up to which time is accounted
	Today       Tally          `json:"today,omitzero"`
	Yesterday   Tally          `json:"yesterday,omitzero"`
	Total       Tally          `json:"total,omitzero"`
	FailedToday bool           `json:"failedToday,omitempty"`
	RanToday    bool           `json:"ranToday,omitempty"`
	Proof       timing.Instant `json:"proof,omitempty"`     // of the last right switching
	HandProof   timing.Instant `json:"handProof,omitempty"` // of the last test by hand
}

// account adds up the time since it was last done.
func (r *record) account(now timing.Instant, runs, called bool) {
	passed := now.Since(r.Counted)
	if r.Counted == 0 {
		passed = 0
	}
	r.Counted = now
	if runs {
		r.Today.Ran += passed
		r.Total.Ran += passed
	}
	if called {
		r.Today.CalledFor += passed
		r.Total.CalledFor += passed
	}
}

// prove counts a run.
func (r *record) prove(now timing.Instant, line *Switching) {
	switch {
	case line.Right:
		if r.Today.Right == 0 {
			r.Today.First, r.Today.FirstTemp = line.Ran, line.RanTemp
		}
		r.Today.Right++
		r.Total.Right++
		r.Proof = now
	case line.By == ByTest, line.By == ByHand:
		r.HandProof = now
	case line.By == ByWish:
		r.Proof = now
	}
}
