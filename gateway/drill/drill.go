package drill

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/alarms/walk"
)

// State is what is kept of a drill.
type State struct {
	Begun time.Time       `json:"begun,omitzero"` // wall; zero: none was begun yet
	By    string          `json:"by,omitempty"`
	Open  bool            `json:"open,omitempty"`
	Marks map[string]Mark `json:"marks,omitempty"` // of its steps, by their ID
	Last  *Done           `json:"last,omitempty"`  // the newest one that was ended
}

// Mark is how far a step is.
type Mark struct {
	Now  bool      `json:"now,omitempty"`  // somebody does it now
	From time.Time `json:"from,omitzero"`  // since when
	Low  *float64  `json:"low,omitempty"`  // Warm: the coldest since, °C
	Test string    `json:"test,omitempty"` // Internet, Ring: the test message that was sent
	At   time.Time `json:"at,omitzero"`    // wall: when it was ticked off; zero: it is not
	Took Seconds   `json:"took,omitempty"` // until it was felt
	Hand bool      `json:"hand,omitempty"` // ticked off by hand
	By   string    `json:"by,omitempty"`   // who did
	Late bool      `json:"late,omitempty"` // it was not felt in its time
}

// Seconds is a length of time in whole seconds.
type Seconds int64

// Done is a drill that was ended.
type Done struct {
	At   time.Time `json:"at"` // wall
	By   string    `json:"by,omitempty"`
	Felt int       `json:"felt"`
	Hand int       `json:"hand"` // ticked off by hand
	Left int       `json:"left"` // not done
}

// Sight is what can be felt at a moment.
type Sight struct {
	At      time.Time
	Wall    time.Time
	Picture alarms.Picture
	Failing []string          // channels that fail
	Tested  map[string][]Sent // what came of test messages, by their name
}

// Sent is what came of a test message to somebody over one channel.
type Sent struct {
	Channel      string
	Went, Failed bool
}

// Doing are the marks of the steps that somebody does now.
func (s *State) Doing(steps []Step) (all []Mark) {
	for _, one := range steps {
		if m := s.Marks[one.ID]; s.Open && m.Now {
			all = append(all, m)
		}
	}
	return all
}

func (s *State) mark(one Step, m Mark) {
	if s.Marks == nil {
		s.Marks = map[string]Mark{}
	}
	s.Marks[one.ID] = m
}

// Sends reports whether a step needs a test message to be felt by.
func (one Step) Sends() bool { return one.Kind == Internet || one.Kind == Ring }

// Begin begins a drill anew.
func (s *State) Begin(wall time.Time, by string) {
	s.Begun, s.By, s.Open, s.Marks = wall, by, true, nil
}

// End ends it.
func (s *State) End(steps []Step, wall time.Time, by string) {
	if !s.Open {
		return
	}
	d := Done{At: wall, By: by}
	for _, one := range steps {
		m := s.Marks[one.ID]
		switch {
		case m.At.IsZero():
			d.Left++
		case m.Hand:
			d.Hand++
		default:
			d.Felt++
		}
		if m.Now {
			m.Now = false
			s.mark(one, m)
		}
	}
	s.Open, s.Last = false, &d
}

// Cannot is why it could not be felt that somebody does a step now; "" where it can.
func (one Step) Cannot(see Sight, w Ways) tongue.Saying {
	if one.Within == 0 {
		return tongue.Put("That cannot be felt: tick it off by hand.")
	}
	switch one.Kind {
	case Warm:
		if v := valueOf(see.Picture, one); v == nil || !v.Live {
			return tongue.Put("Nothing is heard of that probe now, so it cannot be felt that it gets warm.")
		}
	case Unplug:
		if p := probeOf(see.Picture, one.Probe); p == nil || p.Silent || p.OutOf {
			return tongue.Put("That probe is not heard now, so it cannot be felt that it falls silent.")
		}
	case Power:
		if a := alarmOf(see.Picture, one.Alarm); a != nil && a.Active {
			return tongue.Put("That circuit is silent already, so it cannot be felt that its power goes.")
		}
	case Internet:
		for _, c := range see.Failing {
			if slices.Contains(w.Internet, c) {
				return tongue.Put("The channel %s fails already, so it cannot be felt that the internet is cut. Mend it first.", c)
			}
		}
	}
	return tongue.Saying{}
}

// Now is that somebody does a step now; test is the message that was sent for it, "" for
// none.
func (s *State) Now(one Step, at time.Time, test string) {
	s.mark(one, Mark{Now: true, From: at, Test: test})
}

// ByHand ticks a step off by hand, or takes that back.
func (s *State) ByHand(one Step, wall time.Time, by string) {
	if m := s.Marks[one.ID]; m.Hand {
		delete(s.Marks, one.ID)
		return
	}
	s.mark(one, Mark{At: wall, Hand: true, By: by})
}

// Feel ticks off what is felt, and reports whether anything is another than before.
func (s *State) Feel(steps []Step, see Sight, w Ways) (changed bool) {
	if !s.Open {
		return false
	}
	for _, one := range steps {
		m := s.Marks[one.ID]
		if !m.Now || see.At.Before(m.From) {
			continue
		}
		was := m
		gone := see.At.Sub(m.From)
		switch {
		case m.felt(one, see, w):
			m.Now, m.At, m.Took = false, see.Wall, Seconds((gone+time.Second/2)/time.Second)
		case gone > one.Within:
			m.Now, m.Late = false, true
		}
		if m != was {
			s.mark(one, m)
			changed = true
		}
	}
	return changed
}

// felt reports whether what a step asks for is felt, and follows what it must.
func (m *Mark) felt(one Step, see Sight, w Ways) bool {
	switch one.Kind {
	case Warm:
		v := valueOf(see.Picture, one)
		if v == nil || !v.Live {
			return false
		}
		if m.Low == nil || v.Value < *m.Low {
			low := v.Value
			m.Low = &low
		}
		return v.Value >= *m.Low+rise
	case Unplug:
		p := probeOf(see.Picture, one.Probe)
		return p != nil && p.Silent && !p.OutOf
	case Power:
		a := alarmOf(see.Picture, one.Alarm)
		return a != nil && a.Active
	case Internet:
		return slices.ContainsFunc(see.Tested[m.Test], func(t Sent) bool { return t.Failed && slices.Contains(w.Internet, t.Channel) })
	case Ring:
		return slices.ContainsFunc(see.Tested[m.Test], func(t Sent) bool { return t.Went && slices.Contains(w.Rings, t.Channel) })
	}
	return false
}

func probeOf(p alarms.Picture, id alarms.ProbeID) *alarms.ProbePicture {
	for i := range p.Houses {
		for j := range p.Houses[i].Places {
			if one := walk.Find(p.Houses[i].Places[j].Probes, func(pr *alarms.ProbePicture) bool { return pr.ID == id }); one != nil {
				return one
			}
		}
	}
	return nil
}

func valueOf(p alarms.Picture, one Step) *alarms.ProbeValue {
	pr := probeOf(p, one.Probe)
	if pr == nil {
		return nil
	}
	return walk.Find(pr.Values, func(v *alarms.ProbeValue) bool { return v.Quantity == one.Quantity && v.HasValue })
}

func alarmOf(p alarms.Picture, id alarms.AlarmID) *alarms.AlarmPicture {
	return walk.Find(p.Alarms, func(a *alarms.AlarmPicture) bool { return a.ID == id })
}
