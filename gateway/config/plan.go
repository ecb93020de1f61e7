package config

import (
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// moved is where a part of the plan stands in the file that is not named there as it
// is in the plan.
type moved struct {
	inner string        // path
	says  tongue.Saying // what gives it, where that is not the file
}

// checkPlan reports what the core finds wrong with p, each where it stands in the file;
// not what rests on something that was told already.
func (r *reader) checkPlan(p alarms.Plan) {
	told := map[string]bool{} // of what is no table, which has many things wrong with it
	for _, one := range r.found.Errors() {
		told[one.Path] = true
	}
	for table := range r.lines.tables {
		delete(told, shown(table))
	}
	for _, one := range p.Check() {
		at, itself := r.stand(one.At)
		order := one.Or != nil
		if order {
			if other, too := r.stand(one.Or.At); too && (!itself || other.line > at.line) {
				at, one = other, *one.Or
			}
		}
		rests := func(on alarms.Path) bool { of, _ := r.stand(on); return told[of.path] }
		says := one.Say(r.arg)
		said := func(p Problem) bool { return p.Path == at.path && strings.HasPrefix(p.Says.Error(), says.Error()) } // with a hint
		if told[at.path] || slices.ContainsFunc(one.Rests, rests) || slices.ContainsFunc(r.found, said) {
			continue
		}
		r.wrong(at, says)
		told[at.path] = told[at.path] || order // of which one is enough
	}
}

// checkNear warns of limits so near what a thermostat is set to that no warning could come
// in time, each stage once.
func (r *reader) checkNear(p alarms.Plan) {
	told := map[string]bool{} // or wrong, so that nothing follows from it
	for _, one := range r.found {
		told[one.Path] = true
	}
	for i := range p.Houses {
		h := &p.Houses[i]
		for k := range h.Places {
			for _, season := range alarms.Seasons {
				for _, part := range []alarms.Daypart{alarms.Day, alarms.Night} {
					for _, n := range h.Near(&h.Places[k], season, part) {
						at, given := r.stand(alarms.Path{"house", string(h.ID), "control", string(n.Control), "stage", n.Stage, "set-point"})
						if given && !told[at.path] && !h.Places[k].NoEarlyWarning {
							told[at.path] = true
							r.tellNear(at, &h.Places[k], &n)
						}
					}
				}
			}
		}
	}
}

func (r *reader) tellNear(at place, p *alarms.Place, n *alarms.Near) {
	var text tongue.Text = "with its tolerance it may switch on only at %s, and the high limit of %s is %s: the house reaches that while all works as it should, and no warning could come in time; set the dial lower, or the limit higher"
	if n.Side == alarms.LowSide {
		text = "with its tolerance it may switch on only at %s, and the low limit of %s is %s: the house reaches that while all works as it should, and no warning could come in time; set the dial higher, or the limit lower"
	}
	r.warn(at, text, r.sayUnit(alarms.Temperature, n.Latest), p.ID, r.sayUnit(alarms.Temperature, n.Limit))
}

// where is the path by which the file has a part of the plan.
func (r *reader) where(p alarms.Path) moved {
	for n := len(p); n > 0; n-- {
		if m, ok := r.moved[inner(p[:n]...)]; ok {
			m.inner = inner(append([]string{m.inner}, p[n:]...)...)
			return m
		}
	}
	return moved{inner: inner(p...)}
}

// stand is where a part of the plan stands in the file, and whether it does itself:
// what is missing is told where it would be.
func (r *reader) stand(p alarms.Path) (at place, itself bool) {
	m := r.where(p)
	at.path = shown(m.inner)
	for of, more := m.inner, true; more; {
		if s, ok := r.lines.spots[of]; ok {
			at.line = s.line
			return at, of == m.inner && m.says.Empty()
		}
		i := strings.LastIndex(of, pathSep)
		if more = i >= 0; more {
			of = of[:i]
		}
	}
	return at, false
}

// arg is an argument of a problem as the file would write it.
func (r *reader) arg(a any) any {
	switch a := a.(type) {
	case alarms.Amount:
		if a.Step {
			return figure(r.scale.stepFrom(a.Quantity, a.Value)) + spaced(r.scale.stepUnit(a.Quantity))
		}
		return r.sayUnit(a.Quantity, a.Value)
	case alarms.Choice:
		if hint := Meant(a.Got[strings.LastIndexByte(a.Got, '/')+1:], a.Known); !hint.Empty() {
			return hint
		}
		return tongue.Put("; it has %s", listed(a.Known))
	case alarms.Path:
		m := r.where(a)
		switch s, ok := r.lines.spots[m.inner]; {
		case !m.says.Empty():
			return m.says
		case ok:
			return tongue.Put("line %d", s.line)
		}
		return "[" + shown(m.inner) + "]"
	case time.Duration:
		return span(a)
	case float64:
		return figure(a)
	}
	return a
}

// say writes a value of q in the file's unit, without the unit.
func (r *reader) say(q alarms.Quantity, v float64) string { return figure(r.scale.from(q, v)) }

// sayUnit writes a value of q with its unit.
func (r *reader) sayUnit(q alarms.Quantity, v float64) string {
	return r.say(q, v) + spaced(r.scale.unit(q))
}
