package control

import (
	"testing"

	"telltale/alarms/timing"
)

// A verdict is armed once, begins when it is due, and ends when what it says is over;
// what neither arms nor ends it disarms it before and leaves it after.
func TestAGate(t *testing.T) {
	var g gate
	for i, c := range []struct {
		now         timing.Instant
		arms, over  bool
		grace       timing.Instant
		want        step
		since, next timing.Instant
	}{
		{10, false, true, 5, stays, 0, 0},
		{11, true, false, 5, stays, 11, 16},
		{13, true, false, 5, stays, 11, 16}, // holds on: its grace runs from the first
		{14, false, false, 5, stays, 0, 0},  // not known any more: it begins again
		{20, true, false, 5, stays, 20, 25},
		{30, true, false, 0, stays, 20, 25}, // begins as an event of its own
	} {
		if got := g.hold(c.now, c.arms, c.over, c.now+c.grace); got != c.want || g.Since != c.since || g.Due != c.next {
			t.Errorf("step %d: %v, %+v", i, got, g)
		}
	}
	if since := g.begin(25); since != 20 || !g.On || g.Due != 0 {
		t.Errorf("begun: %v, %+v", since, g)
	}
	if got := g.hold(31, false, false, 31); got != stays || !g.On {
		t.Errorf("what is not known ends it: %v, %+v", got, g)
	}
	if got := g.hold(32, true, true, 32); got != ends {
		t.Errorf("it is over: %v", got)
	}
	var at gate
	if got := at.hold(40, true, false, 40); got != begins {
		t.Errorf("without a grace: %v", got)
	}
}

func TestTheNextGrace(t *testing.T) {
	g := gates{StoodStill: {Since: 1, Due: 9}, NoEffect: {Since: 2, Due: 5}, RanAlone: {On: true, Since: 1}}
	if got := g.next(0); got != 5 {
		t.Errorf("the next is %v", got)
	}
	if got := g.next(3); got != 3 {
		t.Errorf("another drive's is earlier: %v", got)
	}
	if g.rearm(); g[StoodStill] != (gate{}) || g[NoEffect].Due != 5 || !g[RanAlone].On {
		t.Errorf("rearmed: %+v", g)
	}
}
