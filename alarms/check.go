package alarms

import (
	"slices"
	"strings"

	"telltale/alarms/control"
)

// check returns what a grower should look at first, safe things first, for
// the alarm a with reason r.
func check(a *alarm, r Reason) string {
	switch a.rule {
	case RuleLimit, RuleExposure:
		first := a.openingFirst(r)
		return first + sentenceAfter(first, a.house.checkLimit(r, a.house.knowsDoors(a.place)))
	case RuleRate:
		first := a.openingFirst(r)
		return first + sentenceAfter(first, a.house.checkRate(r, a.house.knowsDoors(a.place)))
	case RuleSilent:
		return checkSilent(a)
	case RuleUnwatched:
		return checkDark(r)
	case RuleFault:
		return faultChecks[r.Fault]
	case RuleLoop:
		return checkLoop(a)
	case RuleOpening:
		return "shut it"
	case RuleSeason:
		return a.house.dueCheck(Season(r.Verdict))
	case RuleControl:
		_, check := a.works.causes(&a.found.last)
		return check
	case RuleTrouble:
		return troubleChecks[a.id]
	case RuleLink:
		return "is the broker's machine on, and the network up?"
	}
	return ""
}

// sentenceAfter begins s with a capital letter where it follows something.
func sentenceAfter(first, s string) string {
	if first == "" || s == "" {
		return s
	}
	return capital(s)
}

// openingFirst puts a door, a window or a lid that is known to be open, or shut,
// before what else to check of a temperature.
func (a *alarm) openingFirst(r Reason) string {
	if r.Quantity != Temperature && r.Quantity != Surface || r.Side == LowSide && a.house.needs()&control.NeedsAir != 0 {
		return ""
	}
	return a.house.openingSays(a.place, r.Side)
}

// has names the drives of h that are of a kind: by its name the only one,
// by one word all of several; "" where there is none.
func (h *house) has(k DriveKind) string {
	name := ""
	for i := range h.plan.Drives {
		switch d := &h.plan.Drives[i]; {
		case d.Kind != k:
		case name != "":
			return strings.ReplaceAll(string(k), "-", " ") + "s"
		default:
			name = d.Name
		}
	}
	return name
}

// state asks whether the drives of h of a kind are in a state, "" where there are none.
func (h *house) state(k DriveKind, state string) string {
	if name := h.has(k); name != "" {
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

// tooHot and tooCold ask for what h has, the likeliest first; not for doors of which
// it is known how they stand: what stands wrong was said before.
func (h *house) tooHot(s Season, said bool) string {
	if h.covered(s) {
		return ask(orSaid(said, "can a covered vent be opened?", "can a door or a covered vent be opened?"), h.state(Heater, "off")) + then(h.has(Heater), "Then open a door or a covered vent")
	}
	return ask(orSaid(said, "vents open?", "doors and vents open?"), h.state(ExhaustFan, "on"), h.state(IntakeShutter, "open"), h.state(Heater, "off")) +
		" Then shade, and open doors"
}

func then(had, what string) string {
	if had == "" {
		return ""
	}
	return " " + what
}

// orSaid is one of two ways to ask, by whether it is known how doors stand.
func orSaid(said bool, known, asked string) string {
	if said {
		return known
	}
	return asked
}

func (h *house) tooCold(s Season, said bool) string {
	if s == SeasonWinter {
		shut := orSaid(said, "vents covered", "door shut, vents covered")
		if known, on := h.covers(); known && on {
			shut = orSaid(said, "", "door shut")
		}
		return ask("where does the cold come in?", h.state(Heater, "on"), h.state(LoopFan, "on"), shut) + " Then cover what is tender"
	}
	shut := orSaid(said, "vents shut", "door and vents shut")
	if shutter := h.has(IntakeShutter); shutter != "" {
		shut = orSaid(said, "vents and ", "door, vents and ") + shutter + " shut"
	}
	return ask("", h.state(Heater, "on"), shut) + " Then cover what is tender"
}

func (h *house) checkLimit(r Reason, said bool) string {
	high := r.Side == HighSide
	switch r.Quantity {
	case Temperature, Surface:
		if high {
			return h.tooHot(r.Season, said)
		}
		return h.tooCold(r.Season, said)
	case Soil:
		if high {
			return "is a heating mat stuck on, or has the bed dried out?"
		}
		return "is the heating mat, if there is one, running?"
	case Humidity:
		if high {
			return "can the house be aired? Is something dripping, or just watered?"
		}
		return "do the plants need water or shade?"
	case VPD:
		if high {
			return "do the plants need water, shade, damping down?"
		}
		return "can the house be aired or warmed a little? Leaves that stay wet invite mould"
	case DewMargin:
		return "are leaves or the cover wet? Air the house gently, or warm it a little"
	}
	return "look at it yourself"
}

// checkDark sends a person to look at what no probe shows.
func checkDark(r Reason) string {
	what := ""
	for _, q := range []Quantity{Temperature, Soil, Humidity, Surface} { // the gravest first
		if slices.Contains(r.Quantities, q) {
			what = map[Quantity]string{Temperature: "at a thermometer there", Soil: "at a thermometer in the soil there",
				Humidity: "at a hygrometer and the leaves", Surface: "at the leaves there"}[q]
			break
		}
	}
	if what == "" {
		what = "there"
	}
	return "look " + what + " yourself"
}

func (h *house) checkRate(r Reason, said bool) string {
	if r.Quantity != Temperature {
		return "has something been opened, shut or watered?"
	}
	if r.Side == HighSide {
		return h.tooHot(r.Season, said)
	}
	if h.needs()&control.NeedsAir != 0 {
		return "has a fan started, or was a door or a vent opened? It is still warm: leave them so"
	}
	return h.tooCold(r.Season, said)
}

func checkSilent(a *alarm) string {
	switch {
	case a.probe != nil:
		return "its battery or supply, then its distance"
	case a.circuit != nil:
		return "is the power on there? A breaker or ground-fault device that trips again is work for a licensed electrician"
	}
	return "is the power on in the house, and does its radio or network reach it?"
}

var faultChecks = map[Fault]string{
	FaultRange:    "the cable and plug of the probe for a break, a short or water",
	FaultValue:    "the cable, plug and supply of the probe",
	FaultStuck:    "breathe on the probe or warm it in the hand: does the reading move? If not, restart it",
	FaultSpikes:   "the plug of the probe for a loose contact, and the cable for damage",
	FaultPinned:   "is the probe wet? Let it dry in the shade; compare it with another",
	FaultGarbled:  "what the probe sends, and how its payload is described in the config",
	FaultOutlier:  "put the probe beside one of the others for half an hour and compare",
	FaultDisagree: "put both side by side for half an hour; melting ice in a little water gives a true 0 °C",
	FaultClock:    "the probe's clock or time zone; until then the time of arrival is used",
	FaultBattery:  "put in a new battery",
	FaultWitness:  "is the power on there? If it is, the plug and cable of this probe; if not, the circuit of what is heard, which the config has wrong",
	FaultSignal:   "the probe's aerial and its distance from the house",
}
