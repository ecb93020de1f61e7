package companion

import (
	"fmt"
	"time"

	"telltale/alarms"
)

// Form is the version of Report. It grows when a field changes its meaning or goes.
const Form = 1

// mostAlarms bounds a report. What is left out is not confirmed, so the companion tells it.
const mostAlarms = 2000

// Report is what a watch says of itself for another that accompanies it.
type Report struct {
	Form    int       `json:"form"`
	At      time.Time `json:"at"`     // by its wall clock, to be shown
	Garden  string    `json:"garden"` // ID of its store
	Program string    `json:"program,omitempty"`
	Plan    string    `json:"plan"` // version of what it judges by and whom it tells
	// Judged is how long ago its newest reading came, s; nil: none has.
	Judged *float64 `json:"judged_s_ago,omitempty"`
	Untold string   `json:"untold,omitempty"` // why people cannot be reached; "": they can
	Echo   string   `json:"echo,omitempty"`   // the newest word of the companion that it has heard

	Alarms       []Standing         `json:"alarms"` // all that are not normal, the worst first
	Seasons      []SeasonSet        `json:"seasons,omitempty"`
	Selectors    []SelectorSet      `json:"selectors,omitempty"`
	Out          []ProbeOut         `json:"out_of_service,omitempty"`
	Calibrations []CalibrationFound `json:"calibrations,omitempty"`
	Leaves       []alarms.Leave     `json:"leaves,omitempty"`
}

// Standing is how one alarm stands.
type Standing struct {
	Alarm alarms.AlarmID `json:"alarm"`
	State alarms.State   `json:"state"`
	Level alarms.Level   `json:"level"`
	// Act names what somebody did that put it into its state: the same as long as it
	// is the same act.
	Act   string    `json:"act,omitempty"`
	Ago   float64   `json:"act_s_ago,omitempty"` // how long ago that was, s
	By    string    `json:"by,omitempty"`
	Note  string    `json:"note,omitempty"`
	Until time.Time `json:"until,omitzero"`
	// ToldLevel is the worst level at which somebody was told since it was raised,
	// within for nobody, and ToldAgo how long ago somebody was told last, s.
	ToldLevel alarms.Level `json:"told_level"`
	ToldAgo   float64      `json:"told_s_ago,omitempty"`
}

// SeasonSet is the season of a house.
type SeasonSet struct {
	House  alarms.HouseID `json:"house"`
	Season alarms.Season  `json:"season"`
}

// SelectorSet is where a person turned a switch to.
type SelectorSet struct {
	House    alarms.HouseID    `json:"house"`
	Selector alarms.SelectorID `json:"selector"`
	At       string            `json:"at"`
}

// ProbeOut is a probe that somebody took out of service.
type ProbeOut struct {
	Probe alarms.ProbeID `json:"probe"`
	By    string         `json:"by,omitempty"`
	Note  string         `json:"note,omitempty"`
}

// CalibrationFound is what somebody found a probe to be off by.
type CalibrationFound struct {
	Probe    alarms.ProbeID  `json:"probe"`
	Quantity alarms.Quantity `json:"quantity"`
	Offset   float64         `json:"offset"`
	By       string          `json:"by,omitempty"`
	Note     string          `json:"note,omitempty"`
}

// Told is that somebody was told of an alarm.
type Told struct {
	Level alarms.Level
	At    time.Time // of the core
}

// Of makes the report of a watch with picture p, at a time of its core; told says what
// somebody was told of an alarm since it was raised.
func Of(p alarms.Picture, now time.Time, told func(alarms.AlarmID) Told) Report {
	r := Report{Form: Form, At: p.At.UTC(), Alarms: []Standing{}, Leaves: p.Leaves}
	if !p.Newest.IsZero() {
		ago := max(0, p.At.Sub(p.Newest).Seconds())
		r.Judged = &ago
	}
	for _, a := range p.Alarms {
		if Own(a.ID) || len(r.Alarms) == mostAlarms {
			continue
		}
		s := Standing{Alarm: a.ID, State: a.State, Level: a.Level, By: a.By, Note: a.Note, Until: a.Until.UTC()}
		if inHand(a.State) && !outByProbe(p, a) {
			s.Act = fmt.Sprintf("%s|%s|%s", a.State, a.Since.UTC().Format(time.RFC3339Nano), a.By)
			s.Ago = max(0, p.At.Sub(a.Since).Seconds())
		}
		if t := told(a.ID); t.Level > alarms.Within {
			s.ToldLevel, s.ToldAgo = t.Level, max(0, now.Sub(t.At).Seconds())
		}
		r.Alarms = append(r.Alarms, s)
	}
	r.settings(p)
	return r
}

// standing is how an alarm stands by r, nil for one that r does not have.
func (r *Report) standing(a alarms.AlarmID) *Standing {
	for i := range r.Alarms {
		if r.Alarms[i].Alarm == a {
			return &r.Alarms[i]
		}
	}
	return nil
}

// settings notes what people have set.
func (r *Report) settings(p alarms.Picture) {
	for _, h := range p.Houses {
		r.Seasons = append(r.Seasons, SeasonSet{h.ID, h.Season})
		for _, s := range h.Selectors {
			if s.Told == alarms.ToldByPerson {
				r.Selectors = append(r.Selectors, SelectorSet{h.ID, s.ID, s.At})
			}
		}
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				if pr.OutOf {
					r.Out = append(r.Out, ProbeOut{pr.ID, pr.OutBy, pr.OutNote})
				}
				for _, c := range pr.Calibrations {
					r.Calibrations = append(r.Calibrations, CalibrationFound{pr.ID, c.Quantity, c.Offset, c.By, c.Note})
				}
			}
		}
	}
}

// inHand reports whether somebody has put an alarm into state s.
func inHand(s alarms.State) bool { return s == alarms.Acknowledged || s.Aside() }

// Deaf reports whether readings reach the companion that do not reach the first: own is
// how long ago its own newest one came.
func (r *Report) Deaf(own time.Duration, any bool) bool {
	switch {
	case !any:
		return false
	case r.Judged == nil:
		return true
	}
	return seconds(*r.Judged)-own > deafAfter
}
