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

// looks and stops say of a check whether it asks to stop what the house may need.
const looks, stops = false, true

// WithoutPower are the verdicts on a drive that are no wonder when its circuit
// has no power.
var WithoutPower = append([]FindingKind{NoEffect, Contradiction, DrawsLess, TurnsWrong}, standsStill...)

// causes says what shows together, what it most likely is, and what to check
// first. The first row that matches counts, so the telling ones stand first.
// Common practice, no source.
var causes = []causeRow{
	// What should run stands.
	{standsStill, nil, FeedLost,
		"the circuit that it hangs on has lost power: a breaker or a ground-fault device has tripped",
		"look whether other things on that circuit run, then at the breaker or ground-fault device; set it once, and if it trips again leave it off and call a licensed electrician", stops},
	{standsStill, nil, Timed,
		"its timer, the plug, a fuse or the breaker",
		"see what time its timer shows, then whether the plug sits, the switch is on and the breaker is set; " + electrician, looks},
	{standsStill, nil, DrawsNothing | ContactMade,
		"it is switched on and no current flows: a plug, a fuse or the motor's own overload switch",
		"see whether the plug sits and the switch at the drive is on, let a hot motor cool; " + electrician, looks},
	{standsStill, nil, DrawsNothing | ContactOpen,
		"it is not switched on: the dial, what feels the air, or the contact",
		"see whether the dial stands where it should and the bulb hangs free and clean; " + electrician, looks},
	{standsStill, shutters, 0,
		"the shutter's motor or linkage, or its switch",
		"with the fan switched off, see whether something holds the blades, and whether its own switch stands right; " + electrician, stops},
	{[]FindingKind{StoppedEarly}, fans, DrawsNothing,
		"no current flows: the plug, the breaker, the motor's own overload switch, or a dial that has drifted",
		"see whether the plug sits, the switch is on and the breaker is set, then hold a good thermometer beside the dial; " + electrician, looks},
	{standsStill, nil, DrawsNothing,
		"no current flows: the plug, the breaker or the contact that switches it",
		"see whether the plug sits, the switch is on and the breaker is set; " + electrician, looks},
	{[]FindingKind{StoppedEarly}, nil, 0,
		"the motor's overload switch, or a loose connection",
		"feel from outside whether the motor is hot, and let it cool; " + electrician, looks},
	{[]FindingKind{StoodStill}, nil, 0,
		"its switch, its timer or its plug",
		"see whether switch and timer stand where the season wants them and the plug sits; " + electrician, looks},
	{standsStill, nil, 0,
		"the dial, a selector switch, the plug or the breaker",
		"see where the dial and the selector switch stand, then whether the plug sits and the breaker is set; " + electrician, looks},

	// What should stand runs.
	{runsOn, nil, Timed,
		"its timer shows another time or sticks, or somebody switched it on by hand",
		"see what time its timer shows, and whether a switch on it stands on \"always\"; " + electrician, looks},
	{runsOn, nil, 0,
		"somebody runs it by hand, or the contact that switches it sticks, or its dial was turned",
		"ask who is at the switch, then see where dial and selector switch stand; a contact that sticks is for a licensed electrician", looks},
	{[]FindingKind{SeasonUnfit}, []DriveKind{LoopFan, Heater, CirculatingFan}, 0,
		"the season on the page does not fit, or its switch was left on",
		"see what season it is in the house, and set the season on the page; leave it on meanwhile", looks},
	{[]FindingKind{SeasonUnfit}, nil, Covered,
		"the thermostat asks for air, and the cover is still on",
		"open a door, then take the cover off, and leave it running", looks},
	{[]FindingKind{RanBarred}, nil, Covered,
		"its switch was left on behind the cover, where it strains",
		"switch it off at its own switch, or take the cover off", stops},
	{[]FindingKind{SeasonUnfit}, nil, 0,
		"the covers are off and the season on the page was forgotten, or they are on and the switch was left on",
		"leave it running and look at the vents; if the covers are off, set the season on the page; if they are on, open a door and uncover the vents before you switch it off", looks},
	{[]FindingKind{RanBarred}, shutters, 0,
		"its switch was left on for the winter",
		"see whether the vents are covered and the season is set right; if they are, switch the shutter off at its own switch", stops},
	{[]FindingKind{RanBarred}, []DriveKind{ExhaustFan}, 0,
		"its switch was left on for the winter",
		"see whether the vents are covered; if they are, switch it off at its own switch: behind covered vents a fan strains; if they are not, set the season on the page", stops},
	{[]FindingKind{RanBarred}, nil, 0,
		"its switch or its timer was left on",
		"see whether the season on the page is right, and set it if not; if it is, switch it off at its own switch", stops},
	{[]FindingKind{OpenUnneeded}, nil, Frost,
		"the linkage hangs, or its switch was left on",
		"switch the shutter off at its switch and see whether it closes; with fan and shutter switched off, see whether ice or dirt holds the blades, and cover it for the night", stops},
	{[]FindingKind{OpenUnneeded}, nil, 0,
		"the linkage hangs, or its switch was left on",
		"switch the shutter off at its switch and see whether it closes; with fan and shutter switched off, see what holds the blades", stops},

	// What runs does not do its work.
	{[]FindingKind{RanAlone}, []DriveKind{IntakeShutter, LoopFan, Heater, CirculatingFan}, 0,
		"what must run with it did not start or open",
		"see whether the plug of the other sits and its switch is on, and whether something holds it; " + electrician, looks},
	{[]FindingKind{RanAlone}, nil, Frost,
		"the shutter did not open, so the fan pulls against it and strains",
		"switch the fan off at its own switch if the thermostat does not ask for it; with fan and shutter switched off, see whether something holds the blades or the linkage; the shutter's motor at mains is for a licensed electrician", stops},
	{[]FindingKind{RanAlone}, nil, 0,
		"the shutter did not open, so the fan pulls against it and strains",
		"open a door so that the fan has air, then with fan and shutter switched off see whether something holds the blades or the linkage; the shutter's motor at mains is for a licensed electrician", looks},
	{[]FindingKind{RanTogether}, nil, 0,
		"two set points lie too close together, or one of the two was switched on by hand",
		"see that heating is set to end well below where ventilation begins", looks},
	{nil, loopFans, OneOutletLikeHouse,
		"a damper or a crushed or flooded pipe at that depth",
		"see whether the damper of that depth is open, then feel whether air comes out of it", looks},
	{nil, loopFans, AllOutletsLikeHouse,
		"the loop fan moves no air: the fan itself, or a joint that draws air from the house",
		"feel whether air comes out of the outlets, then look for a loose joint at the fan", looks},
	{[]FindingKind{NoEffect}, []DriveKind{ExhaustFan}, CompanionStill,
		"the shutter did not open",
		"open a door so that the fan has air, then with fan and shutter switched off see what holds the blades", looks},
	{[]FindingKind{NoEffect, DrawsMore, DrawsLess}, heaters, DrawsTooMuch | DrawsFar,
		"its blower is held, or a part of it is short-circuited",
		"switch it off at its own switch, for it can overheat; the rest is for licensed people", stops},
	{[]FindingKind{NoEffect, DrawsMore, DrawsLess}, nil, DrawsTooMuch | DrawsFar,
		"the motor is held: a locked rotor, a dry bearing, or a blocked outlet",
		"switch it off at its own switch, for it can overheat; unplugged, see whether something holds the blades; the rest is for a licensed electrician", stops},
	{[]FindingKind{NoEffect}, []DriveKind{Misting}, 0,
		"no water comes: a shut tap, an empty tank, a blocked filter or nozzle; or vents stand open",
		"see whether mist comes from every nozzle, then look at the tap, the tank and the filter", looks},
	{[]FindingKind{DrawsLess}, []DriveKind{Misting}, 0,
		"its pump runs dry, or a hose has come off",
		"see whether there is water before the pump and whether mist comes from every nozzle", looks},
	{[]FindingKind{NoEffect}, nil, DrawsTooMuch,
		"the motor labours: a dry bearing, dirt on the blades, or a shut or covered vent",
		"see whether the vents are clear and the shutter is open, then listen whether it grinds or hums; the rest is for a licensed electrician", looks},
	{[]FindingKind{NoEffect, DrawsMore, DrawsLess}, fans, DrawsTooLittle,
		"the load is missing: a slipping or broken belt, a loose blade, or no air to move",
		"see whether air moves and the vents are clear; with the fan unplugged, see whether the belt is tight and the blades sit firm", stops},
	{[]FindingKind{NoEffect}, heaters, DrawsUsually,
		"the heat is lost: a door or vent stands open, or the night is too cold for this heater",
		"see whether doors, vents and shutter are closed", looks},
	{[]FindingKind{NoEffect}, heaters, 0,
		"no heat comes: fuel, flame or element, or a door or vent stands open",
		"see whether doors, vents and shutter are closed, then whether there is fuel and the heater is warm; gas and mains are for licensed people", looks},
	{[]FindingKind{NoEffect}, nil, DrawsUsually,
		"the motor runs and moves little air: a shut shutter, a slipping belt, or a covered vent",
		"see whether the vents are clear and the shutter is open; with the fan unplugged, see whether the belt is tight", stops},
	{[]FindingKind{NoEffect}, nil, 0,
		"little air moves: a shut shutter, a covered vent, a slipping belt, or a fan too small for this sun",
		"see whether the shutter is open, the vents are clear and the fan turns at its speed", looks},

	// What it draws.
	{[]FindingKind{DrawsMore}, heaters, 0,
		"its blower labours, or the mains voltage is high",
		"listen whether its blower grinds, and see whether its air can get in and out; the rest is for licensed people", looks},
	{[]FindingKind{DrawsMore}, nil, 0,
		"the motor labours a little: a dry bearing, dirt on the blades, or a part-closed way for the air; or the bound is set too low",
		"leave it running; listen whether it grinds or hums, and see whether shutter and vents are clear; if it gets hot or draws still more, call a licensed electrician", looks},
	{[]FindingKind{DrawsLess}, heaters, 0,
		"a part of the heater does not heat",
		"see whether all of it gets warm; " + electrician, looks},
	{[]FindingKind{DrawsLess}, nil, 0,
		"the load is missing: a slipping or broken belt, a loose blade, or no air to move",
		"see whether air moves and the vents are clear; with the fan unplugged, see whether the belt is tight and the blades sit firm", stops},

	// How it switches.
	{[]FindingKind{ShortCycling}, nil, 0,
		"the differential is too small, or the bulb hangs in the air stream of what it switches",
		"see where the bulb hangs and whether sun falls on it, then whether the differential was turned down", looks},
	{[]FindingKind{TurnsWrong}, nil, 0,
		"the cycle timer is set otherwise, or sticks",
		"see how the timer is set and whether it turns", looks},
	{[]FindingKind{TimerOff}, nil, 0,
		"its clock was not set when summer time began or ended, or it stood without power",
		"set its clock to the time that it is now, then see where its hours are set", looks},
	{[]FindingKind{DriftedOn, DriftedOff}, nil, 0,
		"the dial was turned, the bulb is dirty or in the sun, or the thermostat ages",
		"see where the dial stands, whether the bulb is clean and shaded, and whether the probe still hangs next to it", looks},

	// What shows it.
	{[]FindingKind{Contradiction}, nil, ContactMade | DrawsNothing,
		"the contact says on and no current flows: the drive has no power, or the current probe sits on another wire",
		"see whether it really runs, then whether the plug sits; a current probe in a panel is for a licensed electrician", looks},
	{[]FindingKind{Contradiction}, nil, ContactOpen,
		"current flows and the contact says off: the contact's wire, or somebody runs it by another switch",
		"see whether it really runs, then whether a hand switch is on and the contact's wire sits; " + electrician, looks},
	{[]FindingKind{Contradiction}, nil, 0,
		"one of the two is wrong or loose",
		"see whether it really runs, then look at the probe that says otherwise", looks},
}
