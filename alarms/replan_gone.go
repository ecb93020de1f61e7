package alarms

import (
	"fmt"
	"strings"
)

// alarmOf is what an alarm tells of, by the names it had when it was saved: the
// plan may not name it any more when it must be said that it ended.
type alarmOf struct {
	Rule     Rule     `json:"rule,omitempty"`
	Quantity Quantity `json:"quantity,omitempty"`
	Side     Side     `json:"side,omitempty"`
	Priority Priority `json:"priority,omitempty"` // of the worst it was
	House    named    `json:"house,omitzero"`
	Place    named    `json:"place,omitzero"`
	Probe    namedOf  `json:"probe,omitzero"`
	Circuit  named    `json:"circuit,omitzero"`
	Drive    named    `json:"drive,omitzero"`
	Control  named    `json:"control,omitzero"`
}

// named is a part of a plan: its ID and what it is called in sentences.
type named struct {
	ID   string `json:"id"`
	Name string `json:"name"`
}

// namedOf is the same of a probe.
type namedOf struct {
	ID   ProbeID `json:"id"`
	Name string  `json:"name"`
}

func (a *alarm) of() alarmOf {
	o := alarmOf{Rule: a.rule, Quantity: a.quantity, Side: a.side, Priority: a.priority(max(a.Worst, a.Level, Outer))}
	if a.house != nil {
		o.House = named{string(a.house.plan.ID), a.house.plan.Name}
	}
	if a.place != nil {
		o.Place = named{string(a.place.plan.ID), a.place.plan.Name}
	}
	if a.probe != nil {
		o.Probe = namedOf{a.probe.plan.ID, a.probe.plan.Name}
	}
	if a.circuit != nil && a.probe == nil {
		o.Circuit = named{string(a.circuit.ID), circuitName(a.circuit)}
	}
	if a.works != nil && len(a.works.controls) > 0 {
		o.Control = named{string(a.works.controls[0].ID), a.works.controls[0].Name}
	}
	if a.found != nil && a.found.key.drive >= 0 {
		d := a.works.drives[a.found.key.drive]
		o.Drive = named{string(d.ID), d.Name}
	}
	return o
}

// completed fills in what an early snapshot did not keep, from the reason.
func (o alarmOf) completed(r *Reason) alarmOf {
	if o.Rule != "" || r == nil {
		return o
	}
	same := func(id string) named { return named{id, id} }
	o = alarmOf{Rule: r.Rule, Quantity: r.Quantity, Side: r.Side, Priority: High, House: same(string(r.House)),
		Place: same(string(r.Place)), Probe: namedOf{r.Probe, string(r.Probe)}, Drive: same(string(r.Drive))}
	if r.Probe == "" {
		o.Circuit = same(string(r.Circuit))
	}
	return o
}

// goneAlarm was not normal, and the plan does not name it any more.
type goneAlarm struct {
	savedAlarm
	id AlarmID
}

// endGone tells that what the plan does not name any more has ended.
func (e *Engine) endGone(f *former, due instant) {
	for _, a := range f.gone {
		id, o := a.id, a.Of.completed(a.Why)
		e.counts[id]++
		t := Transition{ID: transitionID(id, e.counts[id]), Alarm: id, Move: Return, From: a.State, To: Normal, Level: Within,
			Priority: o.Priority, Due: e.wall(due), Noticed: e.wall(e.now), Core: due.utc(), Reason: o.reason(a.savedAlarm, due)}
		what := e.whatIsGone(o)
		t.Sentence, t.Other = endOf(o.where(), what, a.Sentence, a.State), ""
		if a.Other != "" {
			t.Other = endOf(o.where(), what, a.Other, a.State)
		}
		e.out = append(e.out, &t)
	}
}

func (o alarmOf) reason(a savedAlarm, due instant) Reason {
	r := Reason{}
	if a.Why != nil {
		r = *a.Why
	}
	r.Rule, r.Quantity, r.Side = o.Rule, o.Quantity, o.Side
	r.House, r.Place, r.Probe, r.Check, r.Cause = HouseID(o.House.ID), PlaceID(o.Place.ID), o.Probe.ID, "", ""
	if a.Raised != 0 && a.State.Active() {
		r.Lasted = due.since(a.Raised)
	}
	r.Note = "the config was changed"
	return r
}

// where names house and place as they were called.
func (o alarmOf) where() string {
	switch {
	case o.Place.ID != "":
		return o.House.Name + ", " + o.Place.Name
	case o.House.ID != "":
		return o.House.Name
	}
	return "The watch"
}

// whatIsGone says what of the old plan the new one does not have, to follow
// where it was.
func (e *Engine) whatIsGone(o alarmOf) string {
	h := e.house(HouseID(o.House.ID))
	switch {
	case h == nil, o.Place.ID != "" && h.place(PlaceID(o.Place.ID)) == nil:
		return "is no longer watched: it was taken out of the config (or given another name there)"
	case o.Probe.ID != "":
		if p := e.probes[o.Probe.ID]; p != nil && p.place.key() != o.House.ID+"/"+o.Place.ID {
			return fmt.Sprintf("has lost probe %s: the config has it at %s, %s now; that was done", o.Probe.Name, p.place.house.plan.Name, p.place.plan.Name)
		} else if p == nil {
			return fmt.Sprintf("has lost probe %s: it was taken out of the config", o.Probe.Name)
		}
		return fmt.Sprintf("does not have that reading of probe %s in the config any more; it was taken out", o.Probe.Name)
	case o.Circuit.ID != "":
		if c := h.circuit(CircuitID(o.Circuit.ID)); c != nil {
			return fmt.Sprintf("has too few probes left on the %s to tell its silence from theirs: the config was changed", o.Circuit.Name)
		}
		return fmt.Sprintf("has no %s in the config any more: it was taken out", o.Circuit.Name)
	case o.Drive.ID != "":
		if h.plan.drive(DriveID(o.Drive.ID)) == nil {
			return fmt.Sprintf("has no %s in the config any more: it was taken out", o.Drive.Name)
		}
		return fmt.Sprintf("has another %s in the config now: it was changed", o.Drive.Name)
	case o.Control.ID != "":
		return fmt.Sprintf("has another %s in the config now: it was changed or taken out", o.Control.Name)
	}
	return "is no longer watched for " + o.rested() + ": the config was changed"
}

// rested says what an alarm was about that has no probe or drive of its own.
func (o alarmOf) rested() string {
	word := o.Quantity.Word()
	switch o.Rule {
	case RuleLimit:
		return "a limit of its " + word
	case RuleRate:
		return "how fast its " + word + " changes"
	case RuleExposure:
		return "how long its " + word + " is beyond a limit"
	case RuleFault:
		return "whether its probes agree on " + word
	case RuleSilent:
		return "the silence of all its probes at once"
	case RuleOpening:
		return "what stands open there"
	case RuleLoop:
		return "its ground loop"
	}
	return "this"
}

// endOf puts together what was taken away and what was last told.
func endOf(where, what, last string, s State) string {
	out := where + " " + what + " while "
	switch s {
	case Unacknowledged, Acknowledged:
		out += "its alarm was on."
	case ReturnedUnack:
		return where + " " + what + " before somebody had acknowledged that its alarm was over."
	case Shelved:
		out += "its alarm was put aside."
	case OutOfService:
		out += "its alarm was out of service."
	default: // its sentence was told by the other
		return out + "another alarm spoke for this one."
	}
	last, _, _ = strings.Cut(last, " Check first: ")
	last = strings.Replace(strings.TrimPrefix(last, where+": "), " in "+where+": ", ": ", 1)
	if last == "" {
		return out
	}
	return out + " Last told: " + last
}

// judgedAnew says that an alarm ended because the config was changed.
func (e *Engine) judgedAnew(a *alarm, t Transition) string {
	o := a.of()
	switch {
	case a.rule == RuleUnwatched:
		for _, pt := range a.place.points {
			if pt.banded && len(pt.streams) == 0 {
				return endOf(o.where(), "has no probe left in the config that could watch it: the last was taken out", e.lastTold(a), t.From)
			}
		}
		return endOf(o.where(), "has nothing left to be watched for: the config was changed", e.lastTold(a), t.From)
	case a.rule == RuleFault && a.probe != nil && t.Reason.Fault == FaultOutlier:
		return fmt.Sprintf("%s: probe %s is believed again for now: the probes beside it have changed in the config, so it is held against them anew.",
			a.where(), a.name())
	case a.rule == RuleFault && a.probe != nil:
		return fmt.Sprintf("%s: probe %s, which %s, is judged anew: the config was changed.", a.where(), a.name(), faultPast[t.Reason.Fault])
	case (a.rule == RuleLimit || a.rule == RuleRate) && !a.place.point(a.quantity).measured():
		return endOf(o.where(), "has no probe left in the config that measures its "+a.quantity.Word()+": it was taken out", e.lastTold(a), t.From)
	case a.rule == RuleControl:
		return endOf(o.where(), e.whatIsGone(o), e.lastTold(a), t.From)
	}
	return endOf(o.where(), "is no longer watched for "+o.rested()+": the config was changed", e.lastTold(a), t.From)
}

// lastTold is the sentence of a in the present unit of temperature.
func (e *Engine) lastTold(a *alarm) string {
	e.unitAsked = e.unitAsked || a.Other != ""
	if e.others && a.Other != "" {
		return a.Other
	}
	return a.Sentence
}
