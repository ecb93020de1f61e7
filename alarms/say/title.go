package say

import (
	"cmp"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// title names what an alarm is about in a few words.
func (s *speaker) title(o *alarms.Subject) string {
	w := s.where(o)
	switch o.Rule {
	case alarms.RuleLimit:
		return w + ": " + s.Amiss(o.Quantity, o.Side, o.Level)
	case alarms.RuleAhead:
		return w + ": " + s.Soon(o.Quantity, o.Side, o.Level)
	case alarms.RuleDay:
		return w + ": " + s.ToCome(o.Quantity, o.Side)
	case alarms.RuleDrift:
		return w + " " + s.Drift(o.Figure)
	case alarms.RuleRate:
		return w + ": " + s.AmissFast(o.Quantity, o.Side)
	case alarms.RuleExposure:
		if x := s.exposure(s.place(s.house(o.House), o.Place), o.Exposure); x != nil {
			return w + ": " + s.Tongue.Known(x.Says)
		}
		return w + ": " + string(o.Exposure)
	case alarms.RuleSilent:
		return w + ": " + s.silentTitle(o)
	case alarms.RuleUnwatched:
		return s.say("%s: unwatched", w)
	case alarms.RuleFault:
		if o.Probe == "" {
			return s.say("%s: probes disagree on %s", w, s.Word(o.Quantity))
		}
		return s.say("%s: probe %s %s", w, s.probe(o.Probe), s.say(faultTitles[o.Fault]))
	case alarms.RuleLink:
		return s.say("The broker cannot be reached")
	case alarms.RuleTrouble:
		return s.say(troubleTitles[o.Alarm])
	case alarms.RuleLoop:
		if o.Loop == "" {
			return s.say("%s: ground loop", w)
		}
		return w + ": " + s.Loop(o.Loop)
	case alarms.RuleLeave:
		return s.say("Who is at hand")
	case alarms.RuleSeason:
		return s.say("%s: another season is due", w)
	case alarms.RuleOpening:
		return s.say("%s: %s left open", w, s.opening(s.house(o.House), o.Opening).Name)
	case alarms.RuleSwitching:
		return s.say("%s: somebody is trying the %s", w, s.drive(s.house(o.House), o.Drive).Name)
	case alarms.RuleControl:
		if o.Verdict != nil {
			return s.controls(o.House).title(o.Verdict)
		}
	}
	return string(o.Alarm)
}

// faultTitles follow "probe bench-1".
var faultTitles = map[alarms.Fault]tongue.Text{
	alarms.FaultRange: "out of its range", alarms.FaultValue: "gives a value of failure", alarms.FaultStuck: "stuck",
	alarms.FaultSpikes: "jumps about", alarms.FaultPinned: "wet, or at 100 %", alarms.FaultGarbled: "cannot be read",
	alarms.FaultOutlier: "differs from its neighbours", alarms.FaultClock: "has a wrong clock", alarms.FaultBattery: "has a low battery",
	alarms.FaultSignal: "has a weak signal", alarms.FaultWitness: "doubted as the witness of its circuit",
}

func (s *speaker) silentTitle(o *alarms.Subject) string {
	switch {
	case o.Quantity != "":
		return s.say("%s of probe %s silent", s.Word(o.Quantity), s.probe(o.Probe))
	case o.Probe != "":
		return s.say("probe %s silent", s.probe(o.Probe))
	case o.Circuit != "":
		return s.say("%s silent", s.circuit(s.house(o.House), o.Circuit))
	}
	return s.say("all probes silent")
}

var troubleTitles = map[alarms.AlarmID]tongue.Text{
	alarms.TroubleDisk:    "The watch cannot save",
	alarms.TroubleLosses:  "The watch has lost messages",
	alarms.TroubleTelling: "The watch cannot reach people",
	alarms.TroubleStarts:  "The watch breaks off and starts again",
	alarms.TroubleStore:   "The watch has lost something that it had saved",
	alarms.TroubleCopies:  "The watch has no recent copy of what it keeps",
	alarms.TroubleLetters: "A letter of the week was not confirmed",

	alarms.TroubleFirst:     "The first watch does not do its work, so its companion tells in its place",
	alarms.TroubleCompanion: "The companion of this watch is not heard",
}

func (n *telling) trouble(ended bool) string {
	title := n.say(troubleTitles[n.o.Alarm])
	if ended && n.o.Alarm == alarms.TroubleStore {
		return n.say("%s: somebody has taken note of it.", title)
	}
	if ended && n.o.Alarm == alarms.TroubleFirst {
		return n.say("The first watch does its work again, and tells. Its companion is quiet again.")
	}
	if ended {
		return n.say("%s: over%s.", title, n.after())
	}
	s := n.say("%s, since %s", title, n.Clock(n.r.Since, n.Due))
	if why := cmp.Or(n.f.Trouble, n.r.Note); why != "" {
		s += ": " + n.Kept(why, n.Due)
	}
	return s + "."
}
