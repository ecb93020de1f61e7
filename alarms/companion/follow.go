package companion

import (
	"slices"
	"time"

	"telltale/alarms"
)

// Followed is what the companion has taken over from the first. It is kept, so that
// nothing is taken over again that is over.
type Followed struct {
	// Acts are what somebody did at the first, by alarm, as far as that holds there
	// and was taken over.
	Acts map[alarms.AlarmID]string `json:"acts,omitempty"`
	// Unanswered are alarms that were over at the first before anybody acknowledged.
	Unanswered []alarms.AlarmID `json:"unanswered,omitempty"`
}

// Follow returns what is to be done here so that what people did at the first holds
// here too, and what has then been taken over. waits reports whether something of the
// same subject, done here, has not reached the first yet: then that is newer.
func (f Followed) Follow(own alarms.Picture, r *Report, waits func(subject string) bool) ([]alarms.Input, Followed) {
	next := Followed{Acts: map[alarms.AlarmID]string{}}
	var all []alarms.Input
	do := func(ins ...alarms.Input) {
		for _, in := range ins {
			if !waits(Subject(in)) {
				all = append(all, in)
			}
		}
	}
	mine := map[alarms.AlarmID]alarms.AlarmPicture{}
	for _, a := range own.Alarms {
		mine[a.ID] = a
	}
	theirs := map[alarms.AlarmID]bool{}
	for _, s := range r.Alarms {
		theirs[s.Alarm] = true
		if s.State == alarms.ReturnedUnack {
			next.Unanswered = append(next.Unanswered, s.Alarm)
		}
		if s.Act == "" {
			continue
		}
		in, taken := s.take(mine[s.Alarm], f.Acts[s.Alarm] == s.Act, r, own.At)
		do(in...)
		if taken {
			next.Acts[s.Alarm] = s.Act
		}
	}
	for _, a := range own.Alarms {
		if Own(a.ID) || outByProbe(own, a) {
			continue
		}
		s := r.standing(a.ID)
		switch aside := s != nil && s.State.Aside(); {
		case a.State == alarms.Shelved && !aside:
			do(alarms.Input{Kind: alarms.Unshelve, Alarm: a.ID, Note: alarms.NoteAtFirst})
		case a.State == alarms.OutOfService && !aside:
			do(alarms.Input{Kind: alarms.PutBack, Alarm: a.ID, Note: alarms.NoteAtFirst})
		case a.State == alarms.ReturnedUnack && !theirs[a.ID] && slices.Contains(f.Unanswered, a.ID):
			do(alarms.Input{Kind: alarms.Acknowledge, Alarm: a.ID})
		}
	}
	do(settingsOf(own, r)...)
	return all, next
}

// firstWatch is who set here what is set so at the first.
const firstWatch = "the first watch"

// take returns what takes over s, of an alarm that stands as mine here, and whether
// it has been taken over then. An alarm that has not come here yet waits for it.
func (s *Standing) take(mine alarms.AlarmPicture, before bool, r *Report, now time.Time) ([]alarms.Input, bool) {
	in := alarms.Input{Alarm: s.Alarm, By: s.By, Note: s.Note, Until: s.Until}
	switch {
	case before:
		return nil, true
	case s.State == alarms.Acknowledged:
		in.Kind, in.Note = alarms.Acknowledge, ""
		switch {
		case mine.State == alarms.Acknowledged && mine.By == s.By:
			return nil, true
		case mine.State != alarms.Unacknowledged && mine.State != alarms.Acknowledged, !s.since(now.Sub(mine.Since), r):
			return nil, false
		}
	case s.State == alarms.Shelved:
		in.Kind = alarms.Shelve
		if mine.State == alarms.Shelved && mine.Until.Equal(s.Until) || !s.Until.After(now) {
			return nil, true
		}
	default:
		in.Kind, in.Until = alarms.TakeOut, time.Time{}
		if mine.State == alarms.OutOfService {
			return nil, true
		}
	}
	return []alarms.Input{in}, true
}

// since reports whether somebody took s while it was on here, for so long, or the
// first has heard a reading in that time and still shows it as taken: a first that is
// deaf may show what was taken of another time.
func (s *Standing) since(on time.Duration, r *Report) bool {
	return seconds(s.Ago) < on || r.Judged != nil && seconds(*r.Judged) < on
}

// settingsOf returns what sets here what is set otherwise at the first.
func settingsOf(own alarms.Picture, r *Report) []alarms.Input {
	var all []alarms.Input
	here := Of(own, own.At, func(alarms.AlarmID) Told { return Told{} })
	for _, s := range r.Seasons {
		if i := slices.IndexFunc(here.Seasons, func(h SeasonSet) bool { return h.House == s.House }); i >= 0 && here.Seasons[i] != s {
			all = append(all, alarms.Input{Kind: alarms.SetSeason, House: s.House, Season: s.Season, By: firstWatch})
		}
	}
	for _, s := range r.Selectors {
		if at, known := selectorAt(own, s); known && at != s.At {
			all = append(all, alarms.Input{Kind: alarms.SetSelector, House: s.House, Selector: s.Selector, Position: s.At, By: firstWatch})
		}
	}
	all = append(all, probesOf(&here, r)...)
	return append(all, leavesOf(own, r)...)
}

// probesOf returns what takes probes in and out of service, and calibrates them.
func probesOf(here, r *Report) []alarms.Input {
	var all []alarms.Input
	out := func(in []ProbeOut, id alarms.ProbeID) bool {
		return slices.ContainsFunc(in, func(p ProbeOut) bool { return p.Probe == id })
	}
	for _, p := range r.Out {
		if !out(here.Out, p.Probe) {
			all = append(all, alarms.Input{Kind: alarms.TakeOut, Probe: p.Probe, By: p.By, Note: p.Note})
		}
	}
	for _, p := range here.Out {
		if !out(r.Out, p.Probe) {
			all = append(all, alarms.Input{Kind: alarms.PutBack, Probe: p.Probe, By: firstWatch})
		}
	}
	offset := func(in []CalibrationFound, c CalibrationFound) float64 {
		for _, one := range in {
			if one.Probe == c.Probe && one.Quantity == c.Quantity {
				return one.Offset
			}
		}
		return 0
	}
	for _, c := range r.Calibrations {
		if offset(here.Calibrations, c) != c.Offset {
			all = append(all, alarms.Input{Kind: alarms.Calibrate, Probe: c.Probe, Quantity: c.Quantity, Value: c.Offset, By: c.By, Note: c.Note})
		}
	}
	for _, c := range here.Calibrations {
		if c.Offset != 0 && !slices.ContainsFunc(r.Calibrations, func(o CalibrationFound) bool { return o.Probe == c.Probe && o.Quantity == c.Quantity }) {
			all = append(all, alarms.Input{Kind: alarms.Calibrate, Probe: c.Probe, Quantity: c.Quantity, By: firstWatch})
		}
	}
	return all
}

// leavesOf returns what makes the leaves that run here those that run at the first.
func leavesOf(own alarms.Picture, r *Report) []alarms.Input {
	var all []alarms.Input
	find := func(in []alarms.Leave, person string, at time.Time) (alarms.Leave, bool) {
		for _, l := range in {
			if l.Person == person && l.Runs(at) {
				return l, true
			}
		}
		return alarms.Leave{}, false
	}
	for _, l := range r.Leaves {
		if !l.Runs(r.At) {
			continue
		}
		if here, runs := find(own.Leaves, l.Person, own.At); !runs || here.StandIn != l.StandIn || here.Spared != l.Spared || !here.Until.Equal(l.Until) {
			if l.Until.After(own.At) {
				all = append(all, alarms.Input{Kind: alarms.GoAway, Person: l.Person, StandIn: l.StandIn, Spared: l.Spared, Until: l.Until, By: l.Person})
			}
		}
	}
	for _, l := range own.Leaves {
		if _, runs := find(r.Leaves, l.Person, r.At); l.Runs(own.At) && !runs {
			all = append(all, alarms.Input{Kind: alarms.ComeBack, Person: l.Person, By: l.Person})
		}
	}
	return all
}

func selectorAt(p alarms.Picture, s SelectorSet) (at string, known bool) {
	for _, h := range p.Houses {
		for _, one := range h.Selectors {
			if h.ID == s.House && one.ID == s.Selector {
				return one.At, true
			}
		}
	}
	return "", false
}

// outByProbe reports whether a is out of service because its probe is.
func outByProbe(p alarms.Picture, a alarms.AlarmPicture) bool {
	if a.State != alarms.OutOfService || a.Rule != alarms.RuleSilent || a.Of.Probe == "" {
		return false
	}
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			for _, pr := range pl.Probes {
				if pr.ID == a.Of.Probe {
					return pr.OutOf
				}
			}
		}
	}
	return false
}
