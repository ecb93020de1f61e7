package ahead

import (
	"telltale/alarms"
	"telltale/alarms/outlook"
	"telltale/alarms/timing"
)

// Saved is the outlook of a place in a snapshot.
type Saved struct {
	Course []byte             `json:"course"`
	Heard  timing.Instant     `json:"heard"`
	Looked timing.Instant     `json:"looked"`
	Blind  timing.Instant     `json:"blind,omitempty"`
	Limits [4]*float64        `json:"limits"`           // low, low-low, high, high-high
	Warned map[string]*warned `json:"warned,omitempty"` // by side and level; without those that are idle
	Record record             `json:"record,omitempty"`
	Days   []byte             `json:"days,omitempty"`
	Coming map[string]*told   `json:"coming,omitempty"` // by side
}

// idle reports whether of w, followed at the last look, nothing is to be kept but its limit.
func (w *warned) idle(looked timing.Instant) bool {
	return w.Warning == outlook.Warning{At: looked.UTC(), Within: outlook.Again} && !w.stands() && len(w.Said) == 0
}

// Save returns what Load goes on from; nil where nothing was heard yet.
func (p *Place) Save() *Saved {
	if p.course == nil {
		return nil
	}
	s := &Saved{Course: p.course.Save(), Days: p.days.Save(), Heard: p.heard, Looked: p.looked, Blind: p.blind.Due, Record: p.record, Warned: map[string]*warned{}}
	for i := range p.coming {
		if c := p.coming[i]; c.told != (told{}) {
			if s.Coming == nil {
				s.Coming = map[string]*told{}
			}
			s.Coming[c.side.of.String()] = &c.told
		}
	}
	for i := range p.sides {
		for l := range p.sides[i].levels {
			w := p.sides[i].levels[l]
			if w.Limit.Set {
				s.Limits[2*i+l] = &w.Limit.Value
			}
			if !w.idle(p.looked) {
				s.Warned[p.sides[i].key(l)] = &w
			}
		}
	}
	return s
}

func (s *side) key(l int) string { return s.of.String() + " " + level(l).String() }

// Recall makes those alarms, else made when first needed, that saved has.
func (p *Place) Recall(saved func(alarms.AlarmID) bool) {
	for i := range p.sides {
		if s := &p.sides[i]; s.alarm == nil && saved(p.host.LimitAlarm(s.of).ID.Ahead()) {
			s.make()
		}
		if c := &p.coming[i]; c.alarm == nil && saved(p.host.LimitAlarm(p.sides[i].of).ID.Day()) {
			c.make()
		}
	}
}

// Load lets p go on from s, which may be nil. A course that cannot be read begins anew.
func (p *Place) Load(s *Saved) {
	if s == nil {
		return
	}
	course := p.begin()
	if err := course.Load(s.Course); err != nil {
		course = p.begin()
	}
	p.course, p.heard, p.looked, p.record = course, s.Heard, s.Looked, s.Record
	if p.days = p.beginDays(); s.Days != nil && p.days.Load(s.Days) != nil {
		p.days = p.beginDays()
	}
	p.panel.Timers.Set(p.blind, s.Blind)
	for i := range p.sides {
		if t, c := s.Coming[p.sides[i].of.String()], &p.coming[i]; t != nil {
			c.told = *t
			if c.alarm == nil {
				c.Over = 0
			}
			p.panel.Timers.Set(c.over, c.Over)
		}
		for l := range p.sides[i].levels {
			w := warned{Warning: outlook.Warning{At: s.Looked.UTC(), Within: outlook.Again}}
			if saved := s.Warned[p.sides[i].key(l)]; saved != nil {
				w = *saved
			}
			if limit := s.Limits[2*i+l]; limit != nil {
				w.Limit = alarms.At(*limit)
			}
			p.sides[i].levels[l] = w
		}
	}
}
