package say

import (
	"cmp"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// checkFirst says what to check first, to follow a sentence; "" for nothing.
func (s *speaker) checkFirst(what string) string {
	switch {
	case what == "":
		return ""
	case strings.HasSuffix(what, "?"), strings.HasSuffix(what, "."):
		return s.say(" Check first: ") + what
	}
	return s.say(" Check first: ") + what + "."
}

// check is what a grower should look at first, safe things first; "" for nothing.
func (n *telling) check() string {
	f, r, c := n.f.First, n.r, checks{n}
	if f == nil {
		return ""
	}
	if f.Link {
		return n.say(linkCheck)
	}
	switch n.o.Rule {
	case alarms.RuleLimit, alarms.RuleAhead, alarms.RuleDay, alarms.RuleExposure:
		return c.openingFirst(c.limit())
	case alarms.RuleDrift:
		if r.Drift != nil {
			return n.say(drifts[r.Drift.Figure].check)
		}
	case alarms.RuleRate:
		return c.openingFirst(c.rate())
	case alarms.RuleSilent:
		return c.silent()
	case alarms.RuleUnwatched:
		return c.dark(r)
	case alarms.RuleFault:
		return n.say(faultChecks[r.Fault])
	case alarms.RuleLoop:
		return n.say(loopChecks[n.o.Loop])
	case alarms.RuleOpening:
		return n.say("shut it")
	case alarms.RuleSeason:
		return n.dueCheck(alarms.Season(r.Verdict), f.Covers)
	case alarms.RuleControl:
		if n.o.Verdict != nil {
			_, check := n.likeliest(n.o.Verdict.Observed)
			return check
		}
	case alarms.RuleTrouble:
		return n.say(troubleChecks[n.o.Alarm])
	case alarms.RuleLink:
		return n.say(linkCheck)
	}
	return ""
}

const linkCheck tongue.Text = "is the broker's machine on, and the network up?"

// checks asks for what a transition tells of.
type checks struct{ *telling }

// openingFirst puts a door, a window or a lid that is known to be open, or shut,
// before what else to check.
func (n checks) openingFirst(then string) string {
	f := n.f.First
	if f.Opening == "" {
		return then
	}
	name := n.withThe(n.opening(n.h, f.Opening).Name)
	if f.Since.IsZero() {
		return n.say("%s is shut: open it. %s", name, capital(then))
	}
	return n.say("%s has been open since %s: shut it. %s", name, n.Clock(f.Since, n.Noticed), capital(then))
}

// has names the drives of the house that are of a kind: by its name the only one,
// by one word all of several; "" where there is none.
func (n checks) has(k alarms.DriveKind) string {
	name := ""
	for i := range n.h.Drives {
		switch d := &n.h.Drives[i]; {
		case d.Kind != k:
		case name != "":
			return n.say(several[k])
		default:
			name = d.Name
		}
	}
	return name
}

// several are the drives of a kind where a house has more than one.
var several = map[alarms.DriveKind]tongue.Text{
	alarms.ExhaustFan: "exhaust fans", alarms.IntakeShutter: "intake shutters", alarms.LoopFan: "loop fans", alarms.Heater: "heaters",
}

// state asks whether the drives of a kind are in a state, "" where there are none.
func (n checks) state(k alarms.DriveKind, state string) string {
	if name := n.has(k); name != "" {
		return name + " " + state
	}
	return ""
}

// ask makes one question of all that is not empty, else asks the fallback.
func ask(fallback string, all ...string) string {
	if all = slices.DeleteFunc(all, func(s string) bool { return s == "" }); len(all) == 0 {
		return fallback
	}
	return strings.Join(all, ", ") + "?"
}

// tooHot and tooCold ask for what the house has, the likeliest first; not for doors
// of which it is known how they stand: what stands wrong was said before.
func (n checks) tooHot() string {
	f := n.f.First
	if f.Covers.In(n.r.Season) {
		s := ask(orSaid(f, n.say("can a door or a covered vent be opened?"), n.say("can a covered vent be opened?")), n.state(alarms.Heater, n.say("off")))
		if n.has(alarms.Heater) == "" {
			return s
		}
		return s + n.say(" Then open a door or a covered vent")
	}
	return n.say("%s Then shade, and open doors", ask(orSaid(f, n.say("doors and vents open?"), n.say("vents open?")), n.state(alarms.ExhaustFan, n.say("on")), n.state(alarms.IntakeShutter, n.say("open")),
		n.state(alarms.Heater, n.say("off"))))
}

func (n checks) tooCold() string {
	f := n.f.First
	if n.r.Season == alarms.SeasonWinter {
		shut := orSaid(f, n.say("door shut, vents covered"), n.say("vents covered"))
		if f.Covers.Known && f.Covers.On {
			shut = orSaid(f, n.say("door shut"), "")
		}
		return n.say("%s Then cover what is tender", ask(n.say("where does the cold come in?"), n.state(alarms.Heater, n.say("on")), n.state(alarms.LoopFan, n.say("on")), shut))
	}
	shut := orSaid(f, n.say("door and vents shut"), n.say("vents shut"))
	if shutter := n.has(alarms.IntakeShutter); shutter != "" {
		shut = n.say("%s%s shut", orSaid(f, n.say("door, vents and "), n.say("vents and ")), shutter)
	}
	return n.say("%s Then cover what is tender", ask("", n.state(alarms.Heater, n.say("on")), shut))
}

func (n checks) limit() string {
	high, w := n.r.Side == alarms.HighSide, wordsOf(n.r.Quantity)
	switch warm := n.r.Quantity == alarms.Temperature || n.r.Quantity == alarms.Surface; {
	case warm && high:
		return n.tooHot()
	case warm:
		return n.tooCold()
	case high:
		return n.say(cmp.Or(w.above, "look at it yourself"))
	}
	return n.say(cmp.Or(w.below, "look at it yourself"))
}

func (n checks) rate() string {
	switch {
	case n.r.Quantity != alarms.Temperature:
		return n.say(cmp.Or(wordsOf(n.r.Quantity).moves, "has something been opened, shut or watered?"))
	case n.r.Side == alarms.HighSide:
		return n.tooHot()
	case n.f.First.NeedsAir:
		return n.say("has a fan started, or was a door or a vent opened? It is still warm: leave them so")
	}
	return n.tooCold()
}

// dark sends a person to look at what no probe shows.
func (n checks) dark(r *alarms.Reason) string {
	for i := range wordings { // the gravest first
		if w := &wordings[i]; w.look != "" && slices.Contains(r.Quantities, w.quantity) {
			return n.say(w.look)
		}
	}
	return n.say("look there yourself")
}

func (n checks) silent() string {
	switch {
	case n.o.Probe != "":
		return n.say("its battery or supply, then its distance")
	case n.o.Circuit != "":
		return n.say("is the power on there? A breaker or ground-fault device that trips again is work for a licensed electrician")
	}
	return n.say("is the power on in the house, and does its radio or network reach it?")
}

var faultChecks = map[alarms.Fault]tongue.Text{
	alarms.FaultRange:    "the cable and plug of the probe for a break, a short or water",
	alarms.FaultValue:    "the cable, plug and supply of the probe",
	alarms.FaultStuck:    "breathe on the probe or warm it in the hand: does the reading move? If not, restart it",
	alarms.FaultSpikes:   "the plug of the probe for a loose contact, and the cable for damage",
	alarms.FaultPinned:   "is the probe wet? Let it dry in the shade; compare it with another",
	alarms.FaultGarbled:  "what the probe sends, and how its payload is described in the config",
	alarms.FaultOutlier:  "put the probe beside one of the others for half an hour and compare",
	alarms.FaultDisagree: "put both side by side for half an hour; melting ice in a little water gives a true 0 °C",
	alarms.FaultClock:    "the probe's clock or time zone; until then the time of arrival is used",
	alarms.FaultBattery:  "put in a new battery",
	alarms.FaultWitness:  "is the power on there? If it is, the plug and cable of this probe; if not, the circuit of what is heard, which the config has wrong",
	alarms.FaultSignal:   "the probe's aerial and its distance from the house",
}

var loopChecks = map[alarms.LoopWhat]tongue.Text{
	alarms.NoFlow:    "the damper of that pipe, the loop fan, and whether the pipe is blocked or has come apart",
	alarms.WetPipe:   "the drain or sump of that pipe; water that stands in it stops the air and rots",
	alarms.Declining: "the loop fan and its filter, then the pipe; if both are sound the ground there may be used up, so let it rest",
}

var troubleChecks = map[alarms.AlarmID]tongue.Text{
	alarms.TroubleDisk:    "is the disk full, worn out or pulled? Make room; until then alarms are told but not kept",
	alarms.TroubleLosses:  "does a probe send far too often, or is the machine overloaded?",
	alarms.TroubleStarts:  "does the machine lose its power or run out of memory? The service's log says how each run ended",
	alarms.TroubleTelling: "the internet connection, the mail server and its password; of a modem the plug, the SIM with its credit, and the antenna",
	alarms.TroubleStore:   "set again on the page what is named here, and look whether the disk is worn out; what is put aside lies in the store's directory or beside it",
	alarms.TroubleCopies:  "is the disk of the copies plugged in, mounted and not full? telltale backup tells at once what is wrong",
	alarms.TroubleLetters: "did it arrive? Who was told says what came of it, and a mail may lie among the unwanted; the link in it, or YES by text message, ends this",

	alarms.TroubleFirst:     "has the first watch's board power and network, and what does its page say? Until it is back there is one watch only",
	alarms.TroubleCompanion: "has the companion's board power and network, and what does its page say? Until it is back there is one watch only",
}

// orSaid is one of two ways to ask, by whether it is known how doors stand.
func orSaid(f *alarms.First, asked, known string) string {
	if f.Doors {
		return known
	}
	return asked
}
