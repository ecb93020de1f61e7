package control

var (
	standsStill = []FindingKind{DidNotStart, StoppedEarly, StoodStill, NeverRan}
	runsOn      = []FindingKind{DidNotStop, RanUncalled}
	fans        = []DriveKind{ExhaustFan, LoopFan, CirculatingFan}
	shutters    = []DriveKind{IntakeShutter}
	heaters     = []DriveKind{Heater}
	loopFans    = []DriveKind{LoopFan}
)

const electrician = "what is behind a cover at mains is for a licensed electrician"

// causes says what shows together, what it most likely is, and what to check
// first. The first row that matches counts, so the telling ones stand first.
// Common practice, no source.
var causes = []causeRow{
	// What should run stands.
	{standsStill, nil, ProbesSilent,
		"the circuit of the house has probably lost power: a breaker or a ground-fault device has tripped",
		"look whether other things on that circuit run, then at the breaker or ground-fault device; set it once, and if it trips again leave it off and call a licensed electrician"},
	{standsStill, nil, DrawsNothing | ContactMade,
		"the thermostat calls and no current flows: a plug, a fuse or the motor's own overload switch",
		"see whether the plug sits and the switch at the drive is on, let a hot motor cool; " + electrician},
	{standsStill, nil, DrawsNothing | ContactOpen,
		"the thermostat has not switched: its dial, its bulb or its contact",
		"see whether the dial stands where it should and the bulb hangs free and clean; " + electrician},
	{standsStill, shutters, 0,
		"the shutter's motor or linkage, or its switch",
		"with the fan switched off, see whether something holds the blades, and whether its own switch stands right; " + electrician},
	{[]FindingKind{StoppedEarly}, fans, DrawsNothing,
		"no current flows: the plug, the breaker, the motor's own overload switch, or a dial that has drifted",
		"see whether the plug sits, the switch is on and the breaker is set, then hold a good thermometer beside the dial; " + electrician},
	{standsStill, nil, DrawsNothing,
		"no current flows: the plug, the breaker or the thermostat's contact",
		"see whether the plug sits, the switch is on and the breaker is set; " + electrician},
	{[]FindingKind{StoppedEarly}, nil, 0,
		"the motor's overload switch, or a loose connection",
		"feel from outside whether the motor is hot, and let it cool; " + electrician},
	{[]FindingKind{StoodStill}, nil, 0,
		"its switch, its timer or its plug",
		"see whether switch and timer stand where the season wants them and the plug sits; " + electrician},
	{standsStill, nil, 0,
		"the dial, a selector switch, the plug or the breaker",
		"see where the dial and the selector switch stand, then whether the plug sits and the breaker is set; " + electrician},

	// What should stand runs.
	{runsOn, nil, 0,
		"somebody runs it by hand, or the thermostat's contact sticks or its dial was turned",
		"ask who is at the switch, then see where dial and selector switch stand; a contact that sticks is for a licensed electrician"},
	{[]FindingKind{RanBarred}, nil, 0,
		"its switch was left on for the winter",
		"switch it off at its own switch before anything else: behind covered vents a fan strains; then see whether the season is set right"},
	{[]FindingKind{OpenUnneeded}, nil, Frost,
		"the linkage hangs, or its switch was left on",
		"switch the shutter off at its switch and see whether it closes; with all switched off, see whether ice or dirt holds the blades, and cover it for the night"},
	{[]FindingKind{OpenUnneeded}, nil, 0,
		"the linkage hangs, or its switch was left on",
		"switch the shutter off at its switch and see whether it closes; with all switched off, see what holds the blades"},

	// What runs does not do its work.
	{[]FindingKind{RanAlone}, nil, 0,
		"the shutter did not open, so the fan pulls against it and strains",
		"open a door so that the fan has air, then with fan and shutter switched off see whether something holds the blades or the linkage; the shutter's motor at mains is for a licensed electrician"},
	{[]FindingKind{RanTogether}, nil, 0,
		"two set points lie too close together, or one of the two was switched on by hand",
		"see that heating is set to end well below where ventilation begins"},
	{nil, loopFans, OneOutletLikeHouse,
		"a damper or a crushed or flooded pipe at that depth",
		"see whether the damper of that depth is open, then feel whether air comes out of it"},
	{nil, loopFans, AllOutletsLikeHouse,
		"the loop fan moves no air: the fan itself, or a joint that draws air from the house",
		"feel whether air comes out of the outlets, then look for a loose joint at the fan"},
	{[]FindingKind{NoEffect}, nil, CompanionStill,
		"the shutter did not open",
		"open a door so that the fan has air, then with all switched off see what holds the blades"},
	{[]FindingKind{NoEffect, DrawsMore, DrawsLess}, nil, DrawsTooMuch,
		"the motor is held or labours: a locked rotor, a dry bearing, or a blocked outlet",
		"switch it off at once, for it can overheat; unplugged, see whether something holds the blades; the rest is for a licensed electrician"},
	{[]FindingKind{NoEffect, DrawsMore, DrawsLess}, fans, DrawsTooLittle,
		"the load is missing: a slipping or broken belt, a loose blade, or no air to move",
		"see whether air moves and the vents are clear; with the fan unplugged, see whether the belt is tight and the blades sit firm"},
	{[]FindingKind{NoEffect}, heaters, DrawsUsually,
		"the heat is lost: a door or vent stands open, or the night is too cold for this heater",
		"see whether doors, vents and shutter are closed"},
	{[]FindingKind{NoEffect}, heaters, 0,
		"no heat comes: fuel, flame or element, or a door or vent stands open",
		"see whether doors, vents and shutter are closed, then whether there is fuel and the heater is warm; gas and mains are for licensed people"},
	{[]FindingKind{NoEffect}, nil, DrawsUsually,
		"the motor runs and moves little air: a shut shutter, a slipping belt, or a covered vent",
		"see whether the vents are clear and the shutter is open; with the fan unplugged, see whether the belt is tight"},
	{[]FindingKind{NoEffect}, nil, 0,
		"little air moves: a shut shutter, a covered vent, a slipping belt, or a fan too small for this sun",
		"see whether the shutter is open, the vents are clear and the fan turns at its speed"},

	// What it draws.
	{[]FindingKind{DrawsMore}, nil, 0,
		"the motor is held or labours: a locked rotor, a dry bearing, or a blocked outlet",
		"switch it off at once, for it can overheat; unplugged, see whether something holds the blades; the rest is for a licensed electrician"},
	{[]FindingKind{DrawsLess}, heaters, 0,
		"a part of the heater does not heat",
		"see whether all of it gets warm; " + electrician},
	{[]FindingKind{DrawsLess}, nil, 0,
		"the load is missing: a slipping or broken belt, a loose blade, or no air to move",
		"see whether air moves and the vents are clear; with the fan unplugged, see whether the belt is tight and the blades sit firm"},

	// How it switches.
	{[]FindingKind{ShortCycling}, nil, 0,
		"the differential is too small, or the bulb hangs in the air stream of what it switches",
		"see where the bulb hangs and whether sun falls on it, then whether the differential was turned down"},
	{[]FindingKind{TurnsWrong}, nil, 0,
		"the cycle timer is set otherwise, or sticks",
		"see how the timer is set and whether it turns"},
	{[]FindingKind{DriftedOn, DriftedOff}, nil, 0,
		"the dial was turned, the bulb is dirty or in the sun, or the thermostat ages",
		"see where the dial stands, whether the bulb is clean and shaded, and whether the probe still hangs next to it"},

	// What shows it.
	{[]FindingKind{Contradiction}, nil, ContactMade | DrawsNothing,
		"the contact says on and no current flows: the drive has no power, or the current probe sits on another wire",
		"see whether it really runs, then whether the plug sits; a current probe in a panel is for a licensed electrician"},
	{[]FindingKind{Contradiction}, nil, ContactOpen,
		"current flows and the contact says off: the contact's wire, or somebody runs it by another switch",
		"see whether it really runs, then whether a hand switch is on and the contact's wire sits; " + electrician},
	{[]FindingKind{Contradiction}, nil, 0,
		"one of the two is wrong or loose",
		"see whether it really runs, then look at the probe that says otherwise"},
}
