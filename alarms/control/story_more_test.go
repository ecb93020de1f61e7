package control

func shutterAlone() Spec {
	s := dial()
	s.Drives[fan].Evidence = []EvidenceSpec{{What: Contact}}
	return s
}

func measured() Spec {
	s := oneFan()
	s.Drives[0].Evidence = []EvidenceSpec{{What: Contact}, {What: Current, UsualLow: 1, UsualHigh: 2}}
	return s
}

// Two stages: the shutter is called from 24.5 and not below 21.5 °C, the fan
// from 29.5 and not below 25.5 °C, the heater below 7 and not above 11 °C.
var moreStories = []story{
	{"the shutter opens first, then the fan runs", heated(), `
		08:00 air 15
		08:00 drive 0 evidence 0 is 0
		08:00 drive 1 evidence 0 is 0
		08:00 drive 2 evidence 0 is 20
		10:00 air 25
		10:02 drive 1 evidence 0 is 1
		11:00 air 30
		11:01 drive 0 evidence 0 is 1
		12:00 air 25
		12:01 drive 0 evidence 0 is 0
		    log 0 by thermostat: called at 30.0 11:00 ran after 1m0s stopped 25.0 12:01, right
		18:00 air 21
		18:03 drive 1 evidence 0 is 0
		    log 1 by thermostat: called at 25.0 10:00 ran after 2m0s stopped 21.0 18:03, right
		20:00 look`},
	{"a fan on a closed shutter", heated(), `
		08:00 air 15
		08:00 drive 0 evidence 0 is 0
		08:00 drive 1 evidence 0 is 0
		11:00 air 29.2
		11:01 drive 0 evidence 0 is 1
		11:05 look
		    11:04 ran alone 0 begins
		    11:04 did not start 1 begins
		11:30 drive 1 evidence 0 is 1
		    11:30 ran alone 0 ends
		    11:30 did not start 1 ends`},
	{"the heater runs with the fan", heated(), `
		03:00 air 6
		03:00 drive 0 evidence 0 is 0
		03:00 drive 1 evidence 0 is 1
		03:00 drive 2 evidence 0 is 20
		03:04 drive 2 evidence 0 is 45
		    03:04 open unneeded 1 begins
		03:10 drive 0 evidence 0 is 1
		    03:10 open unneeded 1 ends
		03:13 look
		    03:12 ran together 0 begins
		03:14 drive 0 evidence 0 is 0
		    03:14 ran together 0 ends
		    log 0 by hand: ran at 03:10 stopped 6.0 03:14`},
	{"the heater heats in vain", heated(), `
		03:00 air 9
		03:00 drive 2 evidence 0 is 20
		03:10 air 7.8
		03:11 drive 2 evidence 0 is 29.9
		03:12 drive 2 evidence 0 is 31
		03:15 air 7
		03:20 air 6
		03:25 air 5.8
		03:26 air 5.6
		03:27 air 5.5
		    03:27 no effect 2 begins
		03:35 air 8
		03:36 air 8.4
		03:37 air 9
		03:38 air 9
		    03:38 no effect 2 ends
		04:00 drive 2 evidence 0 is 29.7
		05:00 air 11.5
		05:01 drive 2 evidence 0 is 29
		    log 2 by thermostat: called at 7.8 03:10 ran after 2m0s stopped 11.5 05:01`},
	{"the shutter stays open in the frost", shutterAlone(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		08:00 drive 1 evidence 0 is 0
		08:00 outside 7
		08:10 drive 1 evidence 0 is 1
		08:20 look
		    08:16 open unneeded 1 begins
		08:21 wants follow run
		    08:21 open unneeded 1 ends
		08:22 outside 4.9
		08:40 look
		    08:28 open unneeded 1 begins
		08:41 outside 5.5
		08:42 outside 6
		    08:42 open unneeded 1 ends
		08:43 outside 3
		08:45 drive 0 evidence 0 is nan
		08:50 outside 2
		09:30 drive 1 evidence 0 is 0
		    log 1 by mistake: ran at 08:10 stopped 20.0 09:30`},
	{"the loop fan stands when the season wants it", loop(), `
		00:00 wants run
		00:00 drive 0 evidence 0 is 1
		09:00 drive 0 evidence 0 is 0
		    log 0 by nobody: stopped 0.0 09:00
		09:03 look
		    09:02 stood still 0 begins
		09:10 drive 0 evidence 0 is nan
		10:00 drive 0 evidence 0 is 1
		    10:00 stood still 0 ends
		11:00 drive 0 evidence 0 is 0
		    log 0 by nobody: stopped 0.0 11:00
		11:01 wants free
		20:00 look`},
	{"by turns of 10 and 20 minutes", loop(), `
		00:00 wants turns
		00:00 drive 0 evidence 0 is 0
		00:20 drive 0 evidence 0 is 1
		00:30 drive 0 evidence 0 is 0
		    log 0 by wish: ran at 00:20 stopped 0.0 00:30
		00:50 drive 0 evidence 0 is 1
		01:10 look
		    01:07 turns wrong 0 begins
		01:20 drive 0 evidence 0 is 0
		    log 0 by wish: ran at 00:50 stopped 0.0 01:20
		02:00 look
		    01:52 stood still 0 begins
		02:10 drive 0 evidence 0 is 1
		    02:10 stood still 0 ends
		02:20 drive 0 evidence 0 is 0
		    log 0 by wish: ran at 02:10 stopped 0.0 02:20
		02:40 drive 0 evidence 0 is 1
		02:50 drive 0 evidence 0 is 0
		    log 0 by wish: ran at 02:40 stopped 0.0 02:50
		03:10 drive 0 evidence 0 is 1
		    03:10 turns wrong 0 ends`},
	{"ten times an hour", Spec{Drives: []DriveSpec{{Kind: CirculatingFan, MaxStarts: 2, Evidence: []EvidenceSpec{{What: Power}}}}}, `
		00:00 wants free
		00:00 drive 0 evidence 0 is 0
		01:00 drive 0 evidence 0 is 9.9
		01:00 drive 0 evidence 0 is 10
		01:01 drive 0 evidence 0 is 9.1
		01:02 drive 0 evidence 0 is 0
		    log 0 by nobody: ran at 01:00 stopped 0.0 01:02
		01:10 drive 0 evidence 0 is 40
		01:12 drive 0 evidence 0 is 0
		    log 0 by nobody: ran at 01:10 stopped 0.0 01:12
		01:59 drive 0 evidence 0 is 40
		    01:59 short cycling 0 begins
		04:00 look
		    02:10 short cycling 0 ends`},
	{"contact and current disagree", measured(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		08:00 drive 0 evidence 1 is 0
		09:00 drive 0 evidence 1 is 1.5
		09:01 drive 0 evidence 1 is 0
		10:00 drive 0 evidence 1 is 1.5
		10:03 look
		    10:02 contradiction 0 begins
		10:04 drive 0 evidence 1 is nan
		10:05 drive 0 evidence 1 is 0
		    10:05 contradiction 0 ends
		11:00 drive 0 evidence 1 is 1.5
		11:01 drive 0 evidence 0 is nan
		11:02 drive 0 evidence 1 is 0
		    log 0 by nobody: stopped 20.0 11:02`},
	{"it draws too much, then too little", measured(), `
		08:00 wants run
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		08:00 drive 0 evidence 1 is 0
		09:00 drive 0 evidence 0 is 1
		    08:02 stood still 0 begins
		    09:00 stood still 0 ends
		09:00:01 drive 0 evidence 1 is 6
		09:00:09 drive 0 evidence 1 is 2.5
		09:00:20 drive 0 evidence 1 is 1.4
		09:10 drive 0 evidence 1 is 6
		09:12 drive 0 evidence 1 is 1.95
		    09:11 draws more 0 begins
		09:13 drive 0 evidence 1 is 1.5
		    09:13 draws more 0 ends
		09:20 drive 0 evidence 1 is 0.9
		09:20:59 drive 0 evidence 1 is 1.01
		09:30 drive 0 evidence 1 is 0.9
		09:31 drive 0 evidence 1 is 0.9
		    09:31 draws less 0 begins
		09:40 drive 0 evidence 0 is 0
		    log 0 by wish: ran at 09:00 stopped 20.0 09:40`},
	{"two drives called, one dead: each is told of alone", shutterAlone(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		08:00 drive 1 evidence 0 is 0
		12:00 air 31
		12:01 drive 1 evidence 0 is 1
		12:30 air 32
		    12:05 did not start 0 begins`},
}
