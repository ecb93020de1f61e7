package control

import "testing"

// Verdicts of readings that come seldom: what was read before a drive changed
// says nothing against it.
var agedStories = []story{
	{"it stops between two readings, and the next says it was right", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		11:50 air 30
		12:00 air 31
		12:01 drive 0 evidence 0 is 1
		12:05 air 31
		12:09 drive 0 evidence 0 is 0
		    log 0 by thermostat: called at 30.0 11:50 ran after 11m0s stopped 31.0 12:09
		12:15 air 25.5
		12:30 air 24`},
	{"it stops between two readings, and the next says it was wrong", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		11:50 air 29.5
		12:00 air 30
		12:01 drive 0 evidence 0 is 1
		12:05 air 31
		12:09 drive 0 evidence 0 is 0
		    log 0 by thermostat: called at 29.5 11:50 ran after 11m0s stopped 31.0 12:09
		12:20 air 31.5
		    12:20 stopped early 0 begins
		12:30 drive 0 evidence 0 is 1
		    12:30 stopped early 0 ends`},
	{"it starts between two readings of a house that warms", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		11:00 air 24
		11:20 drive 0 evidence 0 is 1
		11:45 air 28
		12:00 drive 0 evidence 0 is 0
		    log 0 by mistake: ran at 11:20 stopped 28.0 12:00`},
	{"a start hours after the dial was passed is not its answer", oneFan(), `
		08:00 air 20
		08:00 drive 0 evidence 0 is 0
		09:00 air 29.2
		15:00 air 29.6
		16:37 drive 0 evidence 0 is 1
		16:50 air 26
		16:50 drive 0 evidence 0 is 0
		    log 0 by thermostat: ran at 16:37 stopped 26.0 16:50`},
	// The record falls from 24.2 to 22.7 °C, as a house should that a fan airs.
	{"no effect where only the medians lag", early(), `
		08:00 air 20
		08:00 outside 14
		08:00 drive 0 evidence 0 is 0
		11:40 air 20.6
		11:45 outside 14
		11:45 air 21.3
		11:50 air 22.9
		11:54 air 24.2
		11:54:30 drive 0 evidence 0 is 1
		12:00 outside 14
		12:00 air 23.8
		12:05 air 23.4
		12:08 air 22.7
		12:15 look`},
}

func early() Spec {
	s := oneFan()
	s.Stages[0].On, s.Stages[0].Off, s.Stages[0].Tolerance = 22, 18, 0.5
	return s
}

func TestAgedCalls(t *testing.T) {
	for _, s := range agedStories {
		t.Run(s.name, s.run)
	}
}
