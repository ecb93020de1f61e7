package report

import (
	"slices"
	"time"

	"telltale/alarms"
)

// Report is what is known of one house over a span.
type Report struct {
	House    alarms.HouseID
	Name     string
	Places   []PlaceName
	Span          // what was asked for
	Counted  Span // the part of it that is over
	Made     time.Time
	Seasons  []alarms.SeasonFrom // that held, each from when it did within the span
	Measures []Measure           // by place, then quantity, as in the plan
	Blind    []Blindness
	Exposed  []Exposed
	Drives   []Drive
	Loop     *Loop // nil: nothing is known of one
	Load     Load
	Told     []Told
	Lost     []Lost
	Acts     []alarms.Transition // of people, oldest first
	Cut      bool                // the log was longer than what was read of it
}

// PlaceName is how a place is called.
type PlaceName struct {
	ID   alarms.PlaceID
	Name string
}

// Exposed is an exposure that was reached.
type Exposed struct {
	At       time.Time
	Place    alarms.PlaceID
	Quantity alarms.Quantity
	Limit    *float64 // beyond which it counts
	alarms.ExposureReason
}

// Told is what one person was to be told over one channel, and what came of it.
type Told struct {
	Person, Channel string
	HandedOver      int // to the next party
	Delivered       int // which says that it arrived
	Undelivered     int // which says that it did not
	Failed          int // so far; it is tried again
	GivenUp         int
	Waiting         int // for its time
	NotNeeded       int // any more
	Rehearsed       int // of which nothing was sent
}

// Of is how many tellings there were.
func (t Told) Of() int {
	return t.HandedOver + t.Delivered + t.Undelivered + t.Failed + t.GivenUp + t.Waiting + t.NotNeeded + t.Rehearsed
}

// Lost is one telling that was given up.
type Lost struct {
	At              time.Time
	Person, Channel string
	Of              alarms.Transition // zero for a test message
	Why             string            // as the channel said
}

// Log is what the log and the outbox hold.
type Log struct {
	// Lines are the transitions of the house and of the watch itself, without
	// the log of switchings, oldest first, from Lead before the span.
	Lines []alarms.Transition
	// Switchings are the log of switchings from the span's beginning on.
	Switchings []alarms.Transition
	Runs       []Run // that touch the span
	Seasons    []alarms.SeasonFrom
	Told       []Told
	Lost       []Lost
	Cut        bool
	Until      time.Time // Lines and Switchings end here, after the span where that is over
}

// Lead is how long before a span its log must begin, so that what stood at its
// beginning is known.
const Lead = 7 * 24 * time.Hour

// Of reports on a house; Measures are added by the caller.
func Of(h *alarms.House, s Span, made time.Time, log Log) Report {
	r := Report{House: h.ID, Name: h.Name, Span: s, Counted: s, Made: made, Told: log.Told, Lost: log.Lost, Cut: log.Cut}
	if made.Before(s.To) {
		r.Counted.To = made
	}
	if r.Counted.To.Before(s.From) {
		r.Counted.To = s.From
	}
	c := r.Counted
	r.Seasons = seasonsOf(log.Seasons, h.Season, c)
	for i := range h.Places {
		r.Places = append(r.Places, PlaceName{h.Places[i].ID, h.Places[i].Name})
	}
	r.Blind = blindness(log.Lines, c, log.Until)
	came := asking(log.Lines, c)
	r.Drives = drivesOf(h, log, came, c)
	r.Loop = loopOf(log.Lines, c)
	r.Load = loadOf(log.Lines, came, c, log.Until)
	for _, t := range came {
		if x := t.Reason.Exposure; x != nil && t.Reason.Rule == alarms.RuleExposure {
			r.Exposed = append(r.Exposed, Exposed{t.Due, t.Reason.Place, t.Reason.Quantity, t.Reason.Limit, *x})
		}
	}
	for _, t := range log.Lines {
		if c.has(t.Due) && t.Reason.By != "" {
			r.Acts = append(r.Acts, t)
		}
	}
	return r
}

// seasonsOf are the seasons that held in s.
func seasonsOf(all []alarms.SeasonFrom, first alarms.Season, s Span) []alarms.SeasonFrom {
	now := alarms.SeasonFrom{From: s.From, Season: first}
	var out []alarms.SeasonFrom
	for i, c := range all {
		switch {
		case i == 0 || !c.From.After(s.From):
			now.Season = c.Season
		case c.From.Before(s.To):
			out = append(out, c)
		}
	}
	return append([]alarms.SeasonFrom{now}, out...)
}

// SeasonAt returns the season that t lies in, from the changes of a house,
// which are oldest first and of which the first holds before its own time too.
// The last season ends at end.
func SeasonAt(all []alarms.SeasonFrom, began, end, t time.Time) (Span, alarms.Season) {
	s, name := Span{began, end}, alarms.Season("")
	for i, c := range all {
		if i == 0 {
			name = c.Season
			continue
		}
		if c.From.After(t) {
			s.To = c.From
			break
		}
		s.From, name = c.From, c.Season
	}
	return s, name
}

// People are those who were told, each once, in order.
func (r *Report) People() (out []string) {
	for _, t := range r.Told {
		if !slices.Contains(out, t.Person) {
			out = append(out, t.Person)
		}
	}
	return out
}
