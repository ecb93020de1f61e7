package engine

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// alarm is an alarm, where it hangs, and the rule behind it.
type alarm struct {
	lifecycle.Alarm
	e       *Engine
	house   *house
	place   *place
	probe   *probe
	circuit *alarms.Circuit
	of      lifecycle.Rule
}

// newAlarm makes a one of e's.
func (e *Engine) newAlarm(a *alarm) *alarm {
	e.join(a)
	e.order = append(e.order, a)
	return a
}

// lateAlarm is newAlarm for what is made when first needed. Its order must be reserved
// beforehand.
func (e *Engine) lateAlarm(a *alarm) *alarm {
	e.join(a)
	a.GoOn()
	i, _ := slices.BinarySearchFunc(e.order, a.ID, func(b *alarm, id alarms.AlarmID) int { return strings.Compare(string(b.ID), string(id)) })
	e.order = slices.Insert(e.order, i, a)
	return a
}

func (e *Engine) join(a *alarm) {
	a.e, a.About = e, a
	if a.of == nil {
		a.of = lifecycle.Plain{}
	}
	a.Join(&e.panel)
	e.alarms[a.ID] = a
}

// name is the ID of a, "" for none.
func (a *alarm) name() alarms.AlarmID {
	if a == nil {
		return ""
	}
	return a.ID
}

// subject is what a is about.
func (a *alarm) subject() alarms.Subject {
	s := alarms.Subject{Alarm: a.ID, Rule: a.Kind, Quantity: a.Quantity, Side: a.Side, Level: a.Level}
	if a.house != nil {
		s.House = a.house.plan.ID
	}
	if a.place != nil {
		s.Place = a.place.plan.ID
	}
	if a.probe != nil {
		s.Probe = a.probe.plan.ID
	}
	if a.circuit != nil {
		s.Circuit = a.circuit.ID
	}
	a.of.Title(&a.Alarm, &s)
	return s
}

// Fill completes r with the names of where a is, and how it is there.
func (a *alarm) Fill(r *alarms.Reason, due timing.Instant) {
	if a.house != nil {
		r.House = a.house.plan.ID
		r.Daypart, r.Season = a.house.daypartOf(due), a.house.Season
	}
	if a.place != nil {
		r.Place = a.place.plan.ID
	}
	if a.probe != nil {
		r.Probe = a.probe.plan.ID
	}
	if a.circuit != nil {
		r.Circuit = a.circuit.ID
	}
}

// Names are what a is about, as it is called now.
func (a *alarm) Names() alarms.Names {
	o := alarms.Names{Rule: a.Kind, Quantity: a.Quantity, Side: a.Side, Priority: a.Priority(max(a.Worst, a.Level, alarms.Outer))}
	if a.house != nil {
		o.House = alarms.Named{ID: string(a.house.plan.ID), Name: a.house.plan.Name}
	}
	if a.place != nil {
		o.Place = alarms.Named{ID: string(a.place.plan.ID), Name: a.place.plan.Name}
	}
	if a.probe != nil {
		o.Probe = alarms.NamedProbe{ID: a.probe.plan.ID, Name: a.probe.plan.Name}
	}
	if a.circuit != nil && a.probe == nil {
		o.Circuit = alarms.Named{ID: string(a.circuit.ID), Name: a.circuit.Name}
	}
	a.of.Names(&a.Alarm, &o)
	return o
}

// Directions are the plan's for what a is about, the most specific there are.
func (a *alarm) Directions() string {
	most := a.of.Directions(&a.Alarm)
	if a.place != nil {
		most = append(most, a.place.plan.Directions)
	}
	if a.circuit != nil {
		most = append(most, a.circuit.Directions)
	}
	if a.house != nil {
		most = append(most, a.house.plan.Directions)
	}
	return cmp.Or(most...)
}

// Interval is that of the slowest probe that a swing of a is seen by.
func (a *alarm) Interval() (every time.Duration) {
	for _, pr := range a.place.probes {
		for _, st := range pr.streams {
			if st.leaf {
				every = max(every, st.interval())
			}
		}
	}
	return every
}

// Rests reports whether what a tells of does not go on just now, though it is not over.
func (a *alarm) Rests(now timing.Instant) bool { return a.of.Rests(&a.Alarm, now) }

// InHand is the time in hand, if what a tells of goes on.
func (a *alarm) InHand(now timing.Instant) lifecycle.Hand { return a.of.InHand(&a.Alarm, now) }

// Moved lets what a speaks for be looked at again where it was put aside, or is so no longer.
func (a *alarm) Moved(t *alarms.Transition, due timing.Instant) {
	a.limitMoved(due)
	switch {
	case t.From.Aside() != t.To.Aside():
		a.of.Aside(&a.Alarm, due)
	case t.Move == alarms.Ack && t.To == alarms.Acknowledged && a.ID == alarms.TroubleStore: // that no work of the watch can end
		a.e.trouble[a.ID].Since = 0
		a.Apply(alarms.Within, "", due)
	}
}

// Background gathers what the sentence of t, of a, needs beside its reason.
func (a *alarm) Background(t *alarms.Transition) *alarms.Background {
	e := a.e
	f := &alarms.Background{Of: a.subject(), Condition: a.Condition}
	switch t.Move {
	case alarms.Raise, alarms.Worsen, alarms.Realarm, alarms.Release, alarms.ShelveOff, alarms.Back:
		if a.Condition != alarms.Within { // else there is nothing to look at
			f.First = &alarms.First{Link: a.insteadOfLink()}
			a.of.First(&a.Alarm, &t.Reason, f.First)
		}
	}
	switch t.Move {
	case alarms.Note:
		f.Slow, f.Refused, f.Extended = e.slow, e.refused, e.panel.Clock.At(e.panel.Extended)
	case alarms.Ack, alarms.Out:
		return f
	case alarms.Chatter:
		f.Quiet = a.QuietFor()
		return f
	case alarms.ShelveOn:
		if p := a.present(); p.Live && a.Kind == alarms.RuleLimit {
			f.Live = p.Value
		}
		return f
	case alarms.Suppress:
		if c := e.alarms[t.Reason.Cause]; c != nil {
			s := c.subject()
			f.Cause = &s
		}
	}
	if a.Over(t) && e.replanning && t.Move != alarms.Note {
		f.Gone = e.goneOf(a, t)
		return f
	}
	a.of.Facts(&a.Alarm, t, f)
	if t.Level == alarms.Last && a.house != nil {
		f.LastLoss = a.lastLoss()
	}
	f.Unreached = t.To != alarms.SuppressedByDesign && a.insteadOfLink()
	return f
}

// present is what holds now of what a tells of.
func (a *alarm) present() alarms.Present {
	p := present{a.of.Present(&a.Alarm)}
	if a.Condition != alarms.Within || a.State.Active() || a.State == alarms.ReturnedUnack { // else it is of some time before
		p.remember(a)
	}
	return p.Present
}

// insteadOfLink reports whether a tells that nothing is heard while the link is
// lost, whose own alarm was put aside.
func (a *alarm) insteadOfLink() bool {
	return (a.Kind == alarms.RuleSilent || a.Kind == alarms.RuleUnwatched) && a.e.link.Told && !a.e.link.speaks()
}
