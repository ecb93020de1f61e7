package control

import "time"

func oneFan() Spec {
	s := dial()
	s.Drives = []DriveSpec{{Kind: ExhaustFan, Evidence: []EvidenceSpec{{What: Contact}}}}
	s.Stages[0].Drives = []int{fan}
	return s
}

func loop() Spec {
	return Spec{Drives: []DriveSpec{{Kind: LoopFan, Evidence: []EvidenceSpec{{What: Contact}}, MaxStarts: 4}}}
}

// heated is a house whose heater must not run together with the exhaust fan,
// and whose two stages of cooling open the shutter first, and then run the fan.
func heated() Spec {
	return Spec{
		Stages: []StageSpec{
			{Mode: Heating, On: 8, Off: 10, Tolerance: 1, Drives: []int{2}},
			{Mode: Cooling, On: 24, Off: 22, Tolerance: 0.5, Lag: time.Minute, Drives: []int{shutter}},
			{Mode: Cooling, On: 29, Off: 26, Tolerance: 0.5, Lag: time.Minute, Drives: []int{fan}},
		},
		Drives: []DriveSpec{
			{Kind: ExhaustFan, Evidence: []EvidenceSpec{{What: Contact}}, With: []int{shutter}, Without: []int{2}},
			{Kind: IntakeShutter, Evidence: []EvidenceSpec{{What: EndSwitch}}},
			{Kind: Heater, Evidence: []EvidenceSpec{{What: Duct, Above: 30}}},
		},
	}
}

// seldom is a heater whose meter is read every 15 min.
func seldom() Spec {
	s := oneFan()
	s.Stages[0] = StageSpec{Mode: Heating, On: 7, Off: 9, Tolerance: 1, Drives: []int{0}}
	s.Drives = []DriveSpec{{Kind: Heater, Evidence: []EvidenceSpec{{What: Power, Every: 15 * time.Minute}}}}
	return s
}

// Graces of oneFan: lag 3 min, start 2 min, stop 2 min. Certain above 30.5 and
// below 24.7 °C.
var stories = []story{
	{"a heater that comes and goes between two readings", seldom(), `
		03:00 air 10.5
		03:11 drive 0 evidence 0 is 2000
		03:15 air 10.5
		03:26 drive 0 evidence 0 is 2000
		03:30 air 10.5
		03:41 drive 0 evidence 0 is 2000
		03:45 air 10.5
		04:11 drive 0 evidence 0 is 0
		    log 0 by nobody: stopped 10.5 04:11`},
	{"a heater that does not stop, read as seldom", seldom(), `
		03:00 air 10.5
		03:11 drive 0 evidence 0 is 2000
		03:15 air 13
		03:26 drive 0 evidence 0 is 2000
		03:30 air 15
		    03:30 did not stop 0 begins
		03:41 drive 0 evidence 0 is 2000
		03:45 air 16`},
	{"a switching as it should be", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		14:02:10 air 29.6
		14:02:50 drive 0 evidence 0 is 1
		14:30:30 air 26.9
		14:31 drive 0 evidence 0 is 0
		    log 0 by thermostat: called at 29.6 14:02:10 ran after 40s stopped 26.9 14:31, right`},
	{"no probe outside, a covered vent", oneFan(), `
		12:00 drive 0 evidence 0 is 0
		12:00 air 29
		12:01 air 29.2
		12:02 drive 0 evidence 0 is 1
		12:10 air 29.8
		12:12 air 30
		12:14 air 30.3
		12:16 air 30.4
		12:18 air 30.2
		    12:17 no effect 0 begins
		12:30 air 28.4
		    12:30 no effect 0 ends
		12:40 air 31
		12:44 air 31.5
		12:46 air 31.5
		12:54 air 31.5
		13:30 look`},
	{"no probe outside, a hot hour", oneFan(), `
		12:00 drive 0 evidence 0 is 0
		12:00 air 29
		12:01 air 29.2
		12:02 drive 0 evidence 0 is 1
		12:10 air 29.8
		12:14 air 30
		12:18 air 30.2`},
	{"as hot outside", oneFan(), `
		12:00 drive 0 evidence 0 is 0
		12:00 outside 25
		12:00 air 29
		12:01 air 29.2
		12:02 drive 0 evidence 0 is 1
		12:10 outside 25.3
		12:10 air 31
		12:14 air 31.2
		12:18 air 31
		12:20 drive 0 evidence 0 is 0
		    log 0 by thermostat: ran at 12:02 stopped 31.0 12:20`},
	{"the fan does not start, and the day cools", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		12:00 air 30
		12:01 air 31
		12:05:59 look
		12:20 air 30.6
		    12:06 did not start 0 begins
		13:00 air 28
		16:00 air 24
		    16:00 did not start 0 ends
		    log 0 by thermostat: called at 30.0 12:00, missed`},
	{"the fan starts late", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		12:00 air 31
		12:04 air 30.6
		12:06 look
		    12:05 did not start 0 begins
		12:07 drive 0 evidence 0 is 1
		    12:07 did not start 0 ends
		12:20 air 26
		12:20 drive 0 evidence 0 is 0
		    log 0 by thermostat: called at 31.0 12:00 ran after 7m0s stopped 26.0 12:20`},
	{"a call lasts until it is surely over", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		12:00 air 31
		12:02 air 28
		12:04 air 27.8
		12:06 look
		    12:05 did not start 0 begins
		13:00 air 27.6
		14:00 air 24.7
		14:01 air 24.6
		    14:01 did not start 0 ends
		    log 0 by thermostat: called at 31.0 12:00, missed`},
	{"inside the tolerance nothing is said", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		12:00 air 30.4
		14:00 air 30.5
		18:00 air 27
		20:00 look`},
	{"what is not seen is not told", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		12:00 air 31
		12:04 drive 0 evidence 0 is nan
		12:30 drive 0 evidence 0 is 0
		12:34 air nan
		13:00 air 29
		13:30 look
		14:00 air 31
		14:04 blind
		14:10 air 31
		14:11 drive 0 evidence 0 is 0
		14:15:59 look
		14:16 look
		    14:16 did not start 0 begins
		14:20 blind
		14:30 air 20
		    14:30 did not start 0 ends
		    log 0 by thermostat: called at 31.0 14:11, missed`},
	{"it stops though it is called", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		12:00 air 31
		12:01 drive 0 evidence 0 is 1
		12:10 air 30.9
		12:11 drive 0 evidence 0 is 0
		    log 0 by thermostat: called at 31.0 12:00 ran after 1m0s stopped 30.9 12:11
		12:15 air 30.9
		12:17 look
		    12:16 stopped early 0 begins
		12:18 drive 0 evidence 0 is 1
		    12:18 stopped early 0 ends`},
	{"it does not stop", oneFan(), `
		08:00 air 27
		08:00 drive 0 evidence 0 is 1
		09:00 air 24
		09:05 look
		    09:05 did not stop 0 begins
		09:06 air 29
		09:10 air 30.6
		    09:10 did not stop 0 ends
		09:20 air 24
		09:24 drive 0 evidence 0 is 0
		    log 0 by nobody: stopped 24.0 09:24`},
	{"somebody tries the fan", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		09:00 drive 0 evidence 0 is 1
		09:04 drive 0 evidence 0 is 0
		    log 0 by hand: ran at 09:00 stopped 20.0 09:04
		10:00 drive 0 evidence 0 is 1
		10:05 air 20
		10:20 drive 0 evidence 0 is 0
		    10:10 ran uncalled 0 begins
		    10:20 ran uncalled 0 ends
		    log 0 by mistake: ran at 10:00 stopped 20.0 10:20
		11:00 test 0 until 11:30
		11:01 drive 0 evidence 0 is 1
		11:29 drive 0 evidence 0 is 0
		    log 0 by test: ran at 11:01 stopped 20.0 11:29
		12:00 drive 0 evidence 0 is 1
		12:05 test 0 until 12:20
		12:15 air 20
		12:25 look
		    12:22 ran uncalled 0 begins`},
	{"switched off by a selector", oneFan(), `
		08:00 air 31
		08:00 drive 0 evidence 0 is 1
		09:00 wants rest
		09:03 look
		    09:02 did not stop 0 begins
		09:04 drive 0 evidence 0 is 0
		    09:04 did not stop 0 ends
		    log 0 by nobody: stopped 31.0 09:04
		12:00 look
		12:10 wants follow
		12:15 look
		    12:15 did not start 0 begins
		12:16 wants free
		    12:16 did not start 0 ends`},
	{"the vents are covered", oneFan(), `
		08:00 wants barred
		08:00 air 12
		08:00 drive 0 evidence 0 is 0
		09:00 drive 0 evidence 0 is 1
		09:02 look
		    09:02 ran barred 0 begins
		09:03 drive 0 evidence 0 is nan
		    log 0 by mistake: ran at 09:00
		09:04 drive 0 evidence 0 is 0
		    09:04 ran barred 0 ends`},
	{"the vents are covered, says the page, and the fan cools", oneFan(), `
		00:00 day
		08:00 wants barred
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		12:00 air 31
		12:01 drive 0 evidence 0 is 1
		12:04 air 29
		    12:03 season unfit 0 begins
		12:10 air 26
		12:11 drive 0 evidence 0 is 0
		    log 0 by nobody: ran at 12:01 stopped 26.0 12:11
		1+00:00 day
		1+12:00 air 31
		1+12:01 drive 0 evidence 0 is 1
		1+12:08 air 26
		1+12:10 air 24
		1+12:14 air 24
		    1+12:13 ran barred 0 begins
		1+12:15 drive 0 evidence 0 is 0
		    1+12:15 ran barred 0 ends
		    log 0 by nobody: ran at 1+12:01 stopped 24.0 1+12:15
		2+00:00 day
		3+00:00 day
		    3+00:00 season unfit 0 ends`},
	{"a season in which the thermostat does not act", oneFan(), `
		08:00 acts no
		08:00 drive 0 evidence 0 is 0
		08:00 air 40
		10:00 acts yes
		10:05 look
		    10:05 did not start 0 begins
		10:06 acts no
		10:07 drive 0 evidence 0 is 1
		    10:07 did not start 0 ends`},
	{"nothing shows whether it runs", Spec{Stages: oneFan().Stages, Drives: []DriveSpec{{Kind: ExhaustFan}}}, `
		00:00 day
		11:00 air 20
		12:00 air 31
		12:30 air 20
		1+00:00 day
		1+12:00 air 31
		1+12:20 guess 0 runs since 1+12:10
		1+12:30 air 26
		1+12:40 guess 0 stands since 1+12:30
		    log 0 inferred: called at 31.0 1+12:00 ran after 10m0s stopped 26.0 1+12:30
		2+00:00 day
		2+12:00 air 31
		2+12:29 air 20
		3+00:00 day`},
	{"calls too short for a verdict", oneFan(), `
		00:00 day
		00:00 drive 0 evidence 0 is 0
		10:00 air 31
		10:04:59 air 20
		11:00 air 31
		11:04:59 air 20
		12:00 air 31
		12:04:59 air 20
		13:00 air 31
		13:04:59 air 20
		14:00 air 31
		14:04:59 air 20
		15:00 air 31
		15:04:59 air 20
		16:00 air 31
		16:00:06 air 20
		1+00:00 day
		    1+00:00 never ran 0 begins
		1+08:00 drive 0 evidence 0 is nan
		1+08:01 drive 0 evidence 0 is 1
		    1+08:01 never ran 0 ends`},
}
