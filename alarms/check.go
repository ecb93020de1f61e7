package alarms

import "slices"

// check returns what a grower should look at first, safe things first, for
// the alarm a with reason r.
func check(a *alarm, r Reason) string {
	switch a.rule {
	case RuleLimit, RuleExposure:
		return checkLimit(r)
	case RuleRate:
		return checkRate(r)
	case RuleSilent:
		return checkSilent(a)
	case RuleUnwatched:
		return checkDark(r)
	case RuleFault:
		return faultChecks[r.Fault]
	case RuleLoop:
		return checkLoop(a)
	case RuleSeason:
		return "the vents; then set the season on the page"
	case RuleControl:
		_, check := a.works.causes(&a.found.last)
		return check
	case RuleTrouble:
		return troubleChecks[a.id]
	case RuleLink:
		return "is the broker's machine on, and is the network between it and the watch up?"
	}
	return ""
}

func checkLimit(r Reason) string {
	high := r.Side == HighSide
	switch r.Quantity {
	case Temperature, Surface:
		switch {
		case high && r.Season == SeasonWinter:
			return "can a door or a covered vent be opened, and is a heater running that should not?"
		case high:
			return "is the exhaust fan running and the intake shutter open? Then shade, and open doors"
		case r.Season == SeasonWinter:
			return "are the vents still covered and the door shut, and is the loop fan running?"
		default:
			return "are the door, the vents and the intake shutter shut, and is any heater running?"
		}
	case Soil:
		if high {
			return "is a heating mat stuck on, or has the bed dried out?"
		}
		return "is the heating mat, if there is one, running?"
	case Humidity:
		if high {
			return "can the house be aired, and is something dripping or just watered?"
		}
		return "do the plants need water or shade?"
	case VPD:
		if high {
			return "do the plants need water, shade or damping down?"
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
				Humidity: "at a hygrometer there, and at the leaves,", Surface: "at the leaves there"}[q]
			break
		}
	}
	if what == "" {
		what = "there"
	}
	return "look " + what + " yourself until a probe is back"
}

func checkRate(r Reason) string {
	if r.Quantity != Temperature {
		return "has something been opened, shut or watered?"
	}
	if r.Side == HighSide {
		return "is the exhaust fan running and the intake shutter open?"
	}
	return "is a door, a vent or the intake shutter open that should be shut, or has a heater stopped?"
}

func checkSilent(a *alarm) string {
	switch {
	case a.probe != nil:
		return "its battery or supply, then its distance from the house"
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
	FaultSignal:   "the probe's aerial and its distance from the house",
}
