package say

import (
	"strings"

	"telltale/alarms"
)

// gone is what ended because the plan was changed.
type gone struct{ *telling }

// ended says what ended because the plan was changed.
func (n gone) ended() string {
	g, where := n.f.Gone, n.where(n.o)
	switch probe := n.probe(n.o.Probe); g.What {
	case alarms.OtherBeside:
		return n.say("%s: probe %s is believed again for now: the probes beside it have changed in the config, so it is held against them anew.", where, probe)
	case alarms.FaultAnew:
		return n.say("%s: probe %s, which %s, is judged anew: the config was changed.", where, probe, n.say(faultPast[n.r.Fault]))
	}
	return n.endOf(n.whatIsGone(g))
}

// whatIsGone says what of the old plan the new one does not have, to follow
// where it was.
func (n gone) whatIsGone(g *alarms.Gone) string {
	probe, drive, control := g.Names.Probe.Name, g.Names.Drive.Name, g.Names.Control.Name
	switch g.What {
	case alarms.GonePlace:
		return n.say("is no longer watched: it was taken out of the config (or given another name there)")
	case alarms.GoneMoved:
		h := n.house(g.House)
		return n.say("has lost probe %s: the config has it at %s, %s now; that was done", probe, h.Name, n.place(h, g.Place).Name)
	case alarms.GoneProbe:
		return n.say("has lost probe %s: it was taken out of the config", probe)
	case alarms.GoneReading:
		return n.say("does not have that reading of probe %s in the config any more; it was taken out", probe)
	case alarms.GoneFew:
		return n.say("has too few probes left on the %s to tell its silence from theirs: the config was changed", n.goneCircuit(g))
	case alarms.GoneCircuit:
		return n.say("has no %s in the config any more: it was taken out", n.goneCircuit(g))
	case alarms.GoneDrive:
		return n.say("has no %s in the config any more: it was taken out", drive)
	case alarms.OtherDrive:
		return n.say("has another %s in the config now: it was changed", drive)
	case alarms.OtherControl:
		return n.say("has another %s in the config now: it was changed or taken out", control)
	case alarms.GoneBands:
		return n.say("has nothing left to be watched for: the config was changed")
	}
	return n.say("is no longer watched for %s: the config was changed", n.watchedFor(n.o.Rule, n.o.Quantity))
}

func (n gone) goneCircuit(g *alarms.Gone) string {
	return n.circuit(&alarms.House{}, alarms.CircuitID(g.Names.Circuit.ID))
}

// watchedFor says what an alarm was about that has no probe or drive of its own.
func (n gone) watchedFor(r alarms.Rule, q alarms.Quantity) string {
	switch word := n.Word(q); r {
	case alarms.RuleLimit:
		return n.say("a limit of its %s", word)
	case alarms.RuleDay:
		return n.say("what a day, or a night, will make of its %s", word)
	case alarms.RuleAhead:
		return n.say("whether its %s nears a limit", word)
	case alarms.RuleDrift:
		return n.say("drift of what it is like")
	case alarms.RuleRate:
		return n.say("how fast its %s changes", word)
	case alarms.RuleExposure:
		return n.say("how long its %s is beyond a limit", word)
	case alarms.RuleFault:
		return n.say("whether its probes agree on %s", word)
	case alarms.RuleSilent:
		return n.say("the silence of all its probes at once")
	case alarms.RuleOpening:
		return n.say("what stands open there")
	case alarms.RuleLoop:
		return n.say("its ground loop")
	}
	return n.say("this")
}

// endOf puts together what was taken away and what was last told.
func (n gone) endOf(what string) string {
	where := n.where(n.o)
	out := n.say("%s %s while ", where, what)
	switch n.From {
	case alarms.Unacknowledged, alarms.Acknowledged:
		out += n.say("its alarm was on.")
	case alarms.ReturnedUnack:
		return n.say("%s %s before somebody had acknowledged that its alarm was over.", where, what)
	case alarms.Shelved:
		out += n.say("its alarm was put aside.")
	case alarms.OutOfService:
		out += n.say("its alarm was out of service.")
	default: // its sentence was told by the other
		return out + n.say("another alarm spoke for this one.")
	}
	last, _, _ := strings.Cut(n.told(n.f.Gone.Told), n.say(" Check first: "))
	last = strings.Replace(strings.TrimPrefix(last, where+": "), n.say("%s in %s", "", where)+": ", ": ", 1)
	if last == "" {
		return out
	}
	return out + n.say(" Last told: %s", last)
}
