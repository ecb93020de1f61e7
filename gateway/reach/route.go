package reach

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// Route returns every outbox row that t asks for, in the order of the rules:
//
//   - each followed channel gets every transition, at once and uncancellable;
//   - a person is told where t.Told() and a rule names them for the house and
//     for the priority; where several rules do, the earliest time counts for
//     each channel;
//   - a rule with After gives a row that waits and can be cancelled, so the
//     next person is told only when nobody acknowledged; a worse limit starts
//     the waiting again;
//   - what is told again because nobody acknowledged goes to those whose waiting
//     is over by then, and what somebody acknowledged without mending it to
//     everybody in line, at once; either takes the place of what these people
//     were not told yet of that alarm, and can be cancelled;
//   - medium and low priority in a person's quiet hours wait for their end,
//     cancellable; high priority does not wait;
//   - the return to normal is told to those who, by the same rules, had been
//     told of the alarm before it ended. There is no memory here: when it was
//     raised is taken from how long it lasted (Reason.Lasted), and how bad it
//     was from the return's own priority. Whoever would have been told only
//     after more waiting is not told. If somebody acknowledged, people in rules
//     with After hear nothing of the return: they were most likely never told,
//     and somebody took care;
//   - who is away is stood in for (see Rules.Leaves); of a leave itself those hear whom
//     it is about, and what hands an alarm over goes to the stand-in alone, at once.
func (r Rules) Route(t alarms.Transition) ([]Outgoing, error) {
	e := r.newEvent(t)
	var rows []Outgoing
	for _, c := range r.Follow {
		row, err := newRow(e, t, c, "", t.Noticed, false)
		if err != nil {
			return nil, err
		}
		rows = append(rows, row)
	}
	if !t.Told() {
		return rows, nil
	}
	for _, h := range r.hearings(t) {
		if !h.again(t) {
			continue
		}
		at, wait := h.when(t)
		if t.Move == alarms.Return {
			if !h.heardOf(t) {
				continue
			}
			h.after, wait = 0, false
			at, _ = h.when(t)
		}
		told := r.newEventIn(h.person.Tongue, t)
		told.Unanswered = int(h.after / time.Second)
		told.Acknowledge = r.link(t, h.person, at)
		repeats := t.Move == alarms.Realarm || t.HandsOver()
		row, err := newRow(told, t, h.channel, h.person.Name, at, wait || repeats)
		if err != nil {
			return nil, err
		}
		row.Replaces = repeats
		rows = append(rows, row)
	}
	return rows, nil
}

// Passing lists by ID what of ts no person needs to hear of, because it was over
// within the same second: an alarm that began and ended, with its end, and what
// was told again just before its end. So it is where a reading that says that it
// is over comes at the very moment at which a delay ends.
func Passing(ts []alarms.Transition) map[string]bool {
	passing, before := map[string]bool{}, map[alarms.AlarmID][]int{} // positions in ts
	for i, end := range ts {
		if end.Move != alarms.Return {
			before[end.Alarm] = append(before[end.Alarm], i)
			continue
		}
		brief, began := end.Reason.Lasted < time.Second, end.Due.Add(-end.Reason.Lasted)
		for _, k := range before[end.Alarm] {
			switch t := ts[k]; {
			case brief && t.Move == alarms.Raise && !t.Due.Before(began):
				passing[t.ID], passing[end.ID] = true, true
			case brief && passing[end.ID], t.Repeats() && end.Due.Sub(t.Due) < time.Second:
				passing[t.ID] = true
			}
		}
	}
	return passing
}

// link returns where p acknowledges what t left unacknowledged; "" where there
// is nothing to acknowledge or p may not.
func (r Rules) link(t alarms.Transition, p Person, told time.Time) string {
	if r.Link == nil || p.NoLink || t.Move == alarms.Note && !t.HandsOver() || t.To != alarms.Unacknowledged && t.To != alarms.ReturnedUnack {
		return ""
	}
	return r.Link(t.Alarm, t.ID, p.Name, told.Add(r.LinksFor))
}

// hearing is one person on one channel, told after some waiting.
type hearing struct {
	person  Person
	channel string
	after   time.Duration
	waited  bool // for after, already

	standsIn bool // for somebody who is away: no hours are quiet
	stoodIn  bool // when it was told, which may be over
	handed   bool // was told of it when that began
}

// hearings lists who hears of t, each person and channel once, with the
// shortest waiting of all rules that apply.
func (r Rules) hearings(t alarms.Transition) []hearing {
	if t.Reason.Rule == alarms.RuleLeave && t.Reason.Leave != nil {
		return r.concerned(t)
	}
	var all []hearing
	for _, rule := range r.Tell {
		if !rule.covers(t) {
			continue
		}
		for _, name := range rule.People {
			if p, ok := r.person(name); ok {
				all = rule.add(all, hearing{person: p, after: max(rule.After, r.spared(name, t))})
			}
			for _, h := range r.inPlaceOf(name, t) {
				h.after = rule.After
				all = rule.add(all, h)
			}
		}
	}
	if t.HandsOver() {
		all = slices.DeleteFunc(all, func(h hearing) bool { return !h.standsIn || h.person.Name != t.Reason.Leave.StandIn })
	}
	return all
}

func (rule Rule) covers(t alarms.Transition) bool {
	return t.Priority >= rule.From && (len(rule.Houses) == 0 || slices.Contains(rule.Houses, t.Reason.House))
}

// add adds one to all on each channel that the rule leaves; whoever stands in has all of
// theirs where it leaves none.
func (rule Rule) add(all []hearing, one hearing) []hearing {
	left := func(c string) bool { return len(rule.Channels) == 0 || slices.Contains(rule.Channels, c) }
	every := one.stoodIn && !slices.ContainsFunc(one.person.Channels, left)
	for _, c := range one.person.Channels {
		if !every && !left(c) {
			continue
		}
		one.channel = c
		i := slices.IndexFunc(all, func(h hearing) bool { return h.person.Name == one.person.Name && h.channel == c })
		if i < 0 {
			all = append(all, one)
			continue
		}
		h := &all[i]
		h.after = min(h.after, one.after)
		h.standsIn, h.stoodIn, h.handed = h.standsIn || one.standsIn, h.stoodIn || one.stoodIn, h.handed || one.handed
	}
	return all
}

// when returns when h is told of something noticed now, and whether that is
// later than at once.
func (h hearing) when(t alarms.Transition) (at time.Time, waits bool) {
	return h.whenFrom(t.Noticed, t.Priority)
}

// again reports whether h hears of t, and takes from h the waiting that is over
// when an alarm is told again. Whoever still waits is told of what began the
// wait.
func (h *hearing) again(t alarms.Transition) bool {
	switch {
	case t.Reason.Lapsed, t.HandsOver():
		h.after = 0
	case t.Move == alarms.Realarm && t.Due.Sub(t.Reason.Asked) < h.after:
		return false
	case t.Move == alarms.Realarm:
		h.waited = true
	}
	return true
}

func (h hearing) whenFrom(noticed time.Time, p alarms.Priority) (at time.Time, waits bool) {
	at = noticed
	if !h.waited {
		at = at.Add(h.after)
	}
	if p < alarms.High && !h.standsIn {
		at = h.person.Quiet.End(at)
	}
	return at, at.After(noticed)
}

// heardOf reports whether h had been told of the alarm that t ends.
func (h hearing) heardOf(t alarms.Transition) bool {
	if h.handed {
		return true
	}
	if h.after > 0 && t.From == alarms.Acknowledged {
		return false
	}
	if t.Reason.Lasted <= 0 {
		return h.after == 0 // how long it held is not known
	}
	h.standsIn = h.standsIn || h.stoodIn
	told, _ := h.whenFrom(t.Noticed.Add(-t.Reason.Lasted), t.Priority)
	return !told.After(t.Noticed)
}

// Elsewhere makes the rows by which what row tells goes over the other channels
// of its person. Each has the ID of the row that a rule would make which tells
// the person at once; when it is due is left open. A test message goes nowhere
// else.
func (r Rules) Elsewhere(row Outgoing) []Outgoing {
	var rows []Outgoing
	for _, p := range r.People {
		for _, c := range p.Channels {
			if p.Name != row.Person || c == row.Channel || row.Transition == "" {
				continue
			}
			other := row
			other.ID, other.Channel, other.Replaces = rowID(row.Transition, c, p.Name, 0), c, false
			rows = append(rows, other)
		}
	}
	return rows
}

func newRow(e Event, t alarms.Transition, channel, person string, at time.Time, cancellable bool) (Outgoing, error) {
	body, err := json.Marshal(e)
	if err != nil {
		return Outgoing{}, fmt.Errorf("transition %s cannot be written as JSON: %w", t.ID, err)
	}
	return Outgoing{
		ID: rowID(t.ID, channel, person, e.Unanswered), Transition: t.ID, Alarm: t.Alarm,
		Channel: channel, Person: person, NotBefore: at, Cancellable: cancellable, Body: body,
	}, nil
}

// rowID joins what makes a row unique. Names cannot hold the bar, see Problems.
func rowID(transition, channel, person string, unanswered int) string {
	parts := []string{transition, channel}
	if person != "" {
		parts = append(parts, person)
	}
	if unanswered > 0 {
		parts = append(parts, fmt.Sprintf("after-%ds", unanswered))
	}
	return strings.Join(parts, "|")
}
