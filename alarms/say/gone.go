package say

import (
	"fmt"
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
		return fmt.Sprintf("%s: probe %s is believed again for now: the probes beside it have changed in the config, so it is held against them anew.", where, probe)
	case alarms.FaultAnew:
		return fmt.Sprintf("%s: probe %s, which %s, is judged anew: the config was changed.", where, probe, faultPast[n.r.Fault])
	}
	return n.endOf(n.whatIsGone(g))
}

// whatIsGone says what of the old plan the new one does not have, to follow
// where it was.
func (n gone) whatIsGone(g *alarms.Gone) string {
	probe, drive, control := g.Names.Probe.Name, g.Names.Drive.Name, g.Names.Control.Name
	switch g.What {
	case alarms.GonePlace:
		return "is no longer watched: it was taken out of the config (or given another name there)"
	case alarms.GoneMoved:
		h := n.house(g.House)
		return fmt.Sprintf("has lost probe %s: the config has it at %s, %s now; that was done", probe, h.Name, n.place(h, g.Place).Name)
	case alarms.GoneProbe:
		return fmt.Sprintf("has lost probe %s: it was taken out of the config", probe)
	case alarms.GoneReading:
		return fmt.Sprintf("does not have that reading of probe %s in the config any more; it was taken out", probe)
	case alarms.GoneFew:
		return fmt.Sprintf("has too few probes left on the %s to tell its silence from theirs: the config was changed", n.goneCircuit(g))
	case alarms.GoneCircuit:
		return fmt.Sprintf("has no %s in the config any more: it was taken out", n.goneCircuit(g))
	case alarms.GoneDrive:
		return fmt.Sprintf("has no %s in the config any more: it was taken out", drive)
	case alarms.OtherDrive:
		return fmt.Sprintf("has another %s in the config now: it was changed", drive)
	case alarms.OtherControl:
		return fmt.Sprintf("has another %s in the config now: it was changed or taken out", control)
	case alarms.GoneBands:
		return "has nothing left to be watched for: the config was changed"
	}
	return "is no longer watched for " + n.watchedFor(n.o.Rule, n.o.Quantity) + ": the config was changed"
}

func (n gone) goneCircuit(g *alarms.Gone) string {
	return n.circuit(&alarms.House{}, alarms.CircuitID(g.Names.Circuit.ID))
}

// watchedFor says what an alarm was about that has no probe or drive of its own.
func (n gone) watchedFor(r alarms.Rule, q alarms.Quantity) string {
	switch word := n.Word(q); r {
	case alarms.RuleLimit:
		return "a limit of its " + word
	case alarms.RuleDay:
		return "what a day, or a night, will make of its " + word
	case alarms.RuleAhead:
		return "whether its " + word + " nears a limit"
	case alarms.RuleDrift:
		return "drift of what it is like"
	case alarms.RuleRate:
		return "how fast its " + word + " changes"
	case alarms.RuleExposure:
		return "how long its " + word + " is beyond a limit"
	case alarms.RuleFault:
		return "whether its probes agree on " + word
	case alarms.RuleSilent:
		return "the silence of all its probes at once"
	case alarms.RuleOpening:
		return "what stands open there"
	case alarms.RuleLoop:
		return "its ground loop"
	}
	return "this"
}

// endOf puts together what was taken away and what was last told.
func (n gone) endOf(what string) string {
	where := n.where(n.o)
	out := where + " " + what + " while "
	switch n.From {
	case alarms.Unacknowledged, alarms.Acknowledged:
		out += "its alarm was on."
	case alarms.ReturnedUnack:
		return where + " " + what + " before somebody had acknowledged that its alarm was over."
	case alarms.Shelved:
		out += "its alarm was put aside."
	case alarms.OutOfService:
		out += "its alarm was out of service."
	default: // its sentence was told by the other
		return out + "another alarm spoke for this one."
	}
	last, _, _ := strings.Cut(n.told(n.f.Gone.Told), " Check first: ")
	last = strings.Replace(strings.TrimPrefix(last, where+": "), " in "+where+": ", ": ", 1)
	if last == "" {
		return out
	}
	return out + " Last told: " + last
}
