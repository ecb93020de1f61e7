package say

import (
	"telltale/alarms"
)

// act says what was done to an alarm, and about what.
func (n *telling) act() string {
	r, title := n.r, n.title(n.o)
	if n.o.Rule == alarms.RuleSwitching {
		return n.trial()
	}
	switch n.Move {
	case alarms.Ack:
		if n.To == alarms.Normal {
			return n.say("%s has taken this, which is over: %s.", n.orSomebody(r.By), title)
		}
		if r.Until.IsZero() {
			return n.say("%s has taken this: %s.", n.orSomebody(r.By), title)
		}
		return n.say("%s has taken this and is on the way until %s%s: %s.", n.orSomebody(r.By), n.Clock(r.Until, n.Due), n.ByThen(limitOf(r.InHand)), title)
	case alarms.Realarm:
		return n.again()
	case alarms.Chatter:
		return n.say("This is held until it has been quiet for %s, because it comes and goes: %s.", n.Span(n.f.Quiet), title)
	case alarms.ShelveOn:
		return n.say("%s has put this aside until %s%s: %s", n.orSomebody(r.By), n.Clock(r.Until, n.Due), because(n.noted()), n.briefly())
	case alarms.Out:
		return n.say("%s has taken this out of service%s: %s.", n.orSomebody(r.By), because(n.noted()), title)
	case alarms.ShelveOff:
		return n.say("No longer put aside%s. %s", because(n.noted()), n.still())
	case alarms.Back:
		return n.say("Back in service. %s", n.still())
	case alarms.Suppress:
		if n.r.Ahead != nil && n.r.Ahead.Ended == alarms.AheadAside || n.r.Day != nil && n.r.Day.Ended == alarms.AheadAside {
			return n.say("Not told while %s is put aside: %s", n.cause(), n.bare())
		}
		return n.say("Not told by itself, because %s says it: %s", n.cause(), n.bare()+n.further())
	case alarms.Release:
		if n.To == alarms.Normal && (n.o.Rule == alarms.RuleAhead || n.o.Rule == alarms.RuleDay) {
			return n.say("%s: the warning is over.", n.where(n.o))
		}
		if n.To == alarms.Normal {
			return n.say("Over: %s.", title)
		}
		return n.still()
	}
	return title + "."
}

// cause names what says what is suppressed.
func (n *telling) cause() string {
	if n.f.Cause == nil {
		return string(n.r.Cause)
	}
	return `"` + n.title(n.f.Cause) + `"`
}

// again tells it again: nobody took it, or whoever did changed nothing.
func (n *telling) again() string {
	r := n.r
	switch {
	case n.From == alarms.Unacknowledged:
		return n.say("%s Nobody has taken this since %s.", n.still(), n.Clock(r.Asked, n.Due))
	case r.Was != nil:
		return n.say("%s %s took this at %s, at %s, and it is no better.", n.still(), n.orSomebody(r.By), n.Clock(r.Asked, n.Due),
			n.said(n.o.Quantity, *r.Was))
	}
	if h := r.InHand; h != nil {
		s := n.say("%s %s took this at %s, and the time in hand is over", n.still(), n.orSomebody(r.By), n.Clock(r.Asked, n.Due))
		if h.Eased {
			return s + n.say(" as it was known then; by now there is more.")
		}
		return s + n.say(": it may be %s by now.", n.Value(alarms.Temperature, h.Limit))
	}
	return n.say("%s %s took this at %s, and it is still so.", n.still(), n.orSomebody(r.By), n.Clock(r.Asked, n.Due))
}

func limitOf(h *alarms.HandReason) *float64 {
	if h == nil {
		return nil
	}
	return &h.Limit
}

// ByThen says, behind when an acknowledgement ends, that the time in hand set that, by the
// limit in °C that may be reached by then; nothing where that is nil.
func (m Locale) ByThen(limit *float64) string {
	if limit == nil {
		return ""
	}
	return m.say(", when it may be %s already", m.Value(alarms.Temperature, *limit))
}

// still says what holds now: the fact, or that all is well.
func (n *telling) still() string {
	if n.f.Condition == alarms.Within {
		return n.say("%q was over by %s.", n.title(n.o), n.Clock(n.Due, n.Due))
	}
	return n.fact()
}

// briefly says what it is about, with its value at that moment where one is known.
func (n *telling) briefly() string {
	if n.f.Live != nil {
		return n.say("%s, %s at %s.", n.title(n.o), n.said(n.o.Quantity, *n.f.Live), n.Clock(n.Due, n.Due))
	}
	return n.title(n.o) + "."
}

// trial says that somebody began, or ended, to try something.
func (n *telling) trial() string {
	what := n.say("the %s of %s", n.drive(n.h, n.o.Drive).Name, n.h.Name)
	if n.Move == alarms.ShelveOn {
		return n.say("%s is trying %s until %s%s: what it does is logged, and not told before then.", n.orSomebody(n.r.By), what,
			n.Clock(n.r.Until, n.Due), because(n.noted()))
	}
	return n.say("Nobody is trying %s any more: it is judged as before.", what)
}

// whileTried says, behind that of a limit or a rate, who tries what in that house.
func (n *telling) whileTried() string {
	if n.over() {
		return ""
	}
	s := ""
	for _, t := range n.f.Trials {
		s += " " + n.tries(n.h, t, "", n.Noticed)
	}
	return s
}
