package scenario_test

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/engine"
	"telltale/alarms/say"
	"telltale/alarms/scenario"
)

// The promises that hold for every run, whatever happens:
//
//  1. Transitions of one step are sorted by Due, then Alarm, then number.
//  2. Due lies between the newest time before the step and the step's own:
//     every deadline fires in the first step that reaches it.
//  3. Noticed is the newest time seen, never before Due.
//  4. IDs are the alarm's and a count without gaps.
//  5. From is where the last transition of that alarm led.
//  6. Each move leads from and to states that ISA-18.2 and the vocabulary allow:
//     above all no raise twice without a return in between.
//  7. Levels fit the moves.
//  8. Each transition has a sentence and a reason that can be written down.
//  9. The picture shows exactly the alarms that the transitions left not
//     normal, in the state they left them in.
//  10. What is suppressed has a cause that speaks: neither it nor what speaks
//     for it is put aside, and it is on, or was.
type promises struct {
	engine *engine.Engine
	now    time.Time
	last   map[alarms.AlarmID]alarms.Transition
	all    []alarms.Transition
	steps  int
}

// keepsPromises runs the inputs and returns the first broken promise.
func keepsPromises(plan alarms.Plan, inputs []alarms.Input) error {
	p, err := newPromises(plan)
	if err != nil {
		return err
	}
	for i, in := range inputs {
		if err := p.step(in); err != nil {
			return fmt.Errorf("input %d (%s at %s): %w", i, in.Kind, in.At.UTC().Format(time.DateTime), err)
		}
	}
	return nil
}

func newPromises(plan alarms.Plan) (*promises, error) {
	e, err := engine.New(plan)
	return &promises{engine: e, last: map[alarms.AlarmID]alarms.Transition{}}, err
}

func (p *promises) step(in alarms.Input) error {
	before := p.now
	if in.At.After(p.now) {
		p.now = in.At
	}
	got := scenario.Feed(p.engine, in)
	p.all = append(p.all, got...)
	for i, t := range got {
		if i > 0 && byMoment(got[i-1], t) >= 0 {
			return fmt.Errorf("not sorted: %s before %s", show(got[i-1]), show(t))
		}
		if t.Core.Before(before) || t.Core.After(p.now) {
			return fmt.Errorf("due outside of %s to %s: %s", before, p.now, show(t))
		}
		if !t.Core.Add(t.Noticed.Sub(t.Due)).Equal(p.now) {
			return fmt.Errorf("noticed at another time than %s: %s", p.now, show(t))
		}
		if err := p.check(t); err != nil {
			return fmt.Errorf("%w: %s", err, show(t))
		}
		p.last[t.Alarm] = t
	}
	if p.steps++; len(got) == 0 && p.steps%50 != 0 {
		return nil // nothing can have changed in the list of alarms
	}
	return p.checkPicture(say.Picture(p.engine.Plan(), p.engine.Picture(), say.Of(p.engine.Plan())))
}

func (p *promises) check(t alarms.Transition) error {
	last, known := p.last[t.Alarm]
	n := 0
	if known {
		n = number(last)
	}
	switch {
	case t.ID != fmt.Sprintf("%s#%d", t.Alarm, n+1):
		return fmt.Errorf("the ID does not follow %d", n)
	case t.From != last.To: // Normal if there was none
		return fmt.Errorf("it starts from another state than %s", last.To)
	case !allowed(t):
		return fmt.Errorf("%s must not lead from %s to %s", t.Move, t.From, t.To)
	}
	if err := checkLevel(last, t); err != nil {
		return err
	}
	return checkWords(t)
}

// moves says where each move may start and lead to.
var moves = map[alarms.Move]struct{ from, to []alarms.State }{
	alarms.Raise:     {states(alarms.Normal, alarms.ReturnedUnack), states(alarms.Unacknowledged)},
	alarms.Worsen:    {states(alarms.Unacknowledged, alarms.Acknowledged), states(alarms.Unacknowledged)},
	alarms.Ease:      {states(alarms.Unacknowledged, alarms.Acknowledged), states(alarms.Unacknowledged, alarms.Acknowledged)},
	alarms.Return:    {states(alarms.Unacknowledged, alarms.Acknowledged), states(alarms.Normal, alarms.ReturnedUnack)},
	alarms.Ack:       {states(alarms.Unacknowledged, alarms.Acknowledged, alarms.ReturnedUnack), states(alarms.Acknowledged, alarms.Normal)},
	alarms.Realarm:   {states(alarms.Unacknowledged, alarms.Acknowledged), states(alarms.Unacknowledged)},
	alarms.Chatter:   {states(alarms.Unacknowledged), states(alarms.Unacknowledged)},
	alarms.ShelveOn:  {except(alarms.OutOfService), states(alarms.Shelved)},
	alarms.ShelveOff: {states(alarms.Shelved), except(alarms.Shelved, alarms.OutOfService)},
	alarms.Suppress:  {except(alarms.Shelved, alarms.SuppressedByDesign, alarms.OutOfService), states(alarms.SuppressedByDesign)},
	alarms.Release:   {states(alarms.SuppressedByDesign), except(alarms.Shelved, alarms.SuppressedByDesign, alarms.OutOfService)},
	alarms.Out:       {except(alarms.OutOfService), states(alarms.OutOfService)},
	alarms.Back:      {states(alarms.OutOfService), except(alarms.Shelved, alarms.OutOfService)},
	alarms.Note:      {except(), except()},
}

func states(s ...alarms.State) []alarms.State { return s }

func except(not ...alarms.State) []alarms.State {
	var all []alarms.State
	for s := alarms.Normal; s <= alarms.OutOfService; s++ {
		if !slices.Contains(not, s) {
			all = append(all, s)
		}
	}
	return all
}

func allowed(t alarms.Transition) bool {
	m, ok := moves[t.Move]
	if !ok || !slices.Contains(m.from, t.From) || !slices.Contains(m.to, t.To) {
		return false
	}
	switch t.Move {
	case alarms.Ease, alarms.Note:
		return t.From == t.To
	case alarms.Ack:
		return t.From.Active() == (t.To == alarms.Acknowledged)
	case alarms.Return: // taken before, or a warning: normal; not taken: it waits to be seen
		if t.Alarm != t.Alarm.Story() {
			return t.To == alarms.Normal
		}
		return (t.From == alarms.Unacknowledged) == (t.To == alarms.ReturnedUnack)
	}
	return true
}

func checkLevel(last, t alarms.Transition) error {
	switch t.Move {
	case alarms.Raise:
		if t.Level == alarms.Within {
			return fmt.Errorf("raised without a level")
		}
	case alarms.Return:
		if t.Level != alarms.Within {
			return fmt.Errorf("returned, yet not within")
		}
	case alarms.Worsen:
		if t.Level < last.Level {
			return fmt.Errorf("worse, yet at a lesser level than %s", last.Level)
		}
	case alarms.Ease:
		if t.Level >= last.Level || t.Level == alarms.Within {
			return fmt.Errorf("eased from %s", last.Level)
		}
	}
	if t.To.Active() && t.Level == alarms.Within {
		return fmt.Errorf("active without a level")
	}
	return nil
}

func checkWords(t alarms.Transition) error {
	if t.Reason.Rule == "" {
		return fmt.Errorf("no rule in the reason")
	}
	s := t.Sentence
	if s == "" || strings.TrimSpace(s) != s || strings.Contains(s, "  ") || strings.IndexByte(".?", s[len(s)-1]) < 0 {
		return fmt.Errorf("the sentence is no sentence")
	}
	for _, bad := range []string{"%!", "NaN", "Inf", "0001-01-01", "<nil>", " ,", " .", "..", "-0 ", "−0 "} {
		if strings.Contains(s, bad) {
			return fmt.Errorf("the sentence holds %q", bad)
		}
	}
	_, err := json.Marshal(t)
	return err
}

func (p *promises) checkPicture(pic alarms.Picture) error {
	if !pic.At.Equal(p.engine.Wall(p.now)) {
		return fmt.Errorf("the picture is of %s, now is %s", pic.At, p.now)
	}
	shown := map[alarms.AlarmID]bool{}
	for _, a := range pic.Alarms {
		t := p.last[a.ID]
		if shown[a.ID] || a.State == alarms.Normal || a.State != t.To || a.Transition != t.ID || a.Priority != t.Priority {
			return fmt.Errorf("the picture shows %+v, the newest transition is %s", a, show(t))
		}
		if a.Sentence == "" || a.Since.After(pic.At) {
			return fmt.Errorf("the picture shows %+v", a)
		}
		shown[a.ID] = true
		if err := p.spokenFor(a.ID, pic); err != nil {
			return err
		}
	}
	for id, t := range p.last {
		if t.To != alarms.Normal && !shown[id] {
			return fmt.Errorf("the picture does not show %s", show(t))
		}
	}
	_, err := json.Marshal(pic)
	return err
}

// spokenFor finds what is wrong with what speaks for an alarm of the picture.
func (p *promises) spokenFor(id alarms.AlarmID, pic alarms.Picture) error {
	all := map[alarms.AlarmID]alarms.AlarmPicture{}
	for _, a := range pic.Alarms {
		all[a.ID] = a
	}
	a := all[id]
	for range len(pic.Alarms) {
		if a.State != alarms.SuppressedByDesign {
			break
		}
		cause, on := all[a.Cause]
		switch last, known := p.last[a.Cause]; {
		case cause.Rule == alarms.RuleSwitching && cause.State == alarms.Shelved:
			return nil // somebody says that the drive is being tried
		case cause.State == alarms.Shelved, cause.State == alarms.OutOfService:
			return fmt.Errorf("%s is suppressed by %s, which is %s and says nothing", a.ID, a.Cause, cause.State)
		case !on && (!known || last.Move == alarms.Back || last.Move == alarms.ShelveOff):
			return fmt.Errorf("%s is suppressed by %s, which was never told", a.ID, a.Cause)
		}
		a = cause
	}
	return nil
}
