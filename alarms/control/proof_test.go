package control

import (
	"strings"
	"testing"
	"time"

	"telltale/alarms/timing"
)

func at(t *testing.T, s string) timing.Instant { return clock(t, s) }

// Two runs of 30 and 40 minutes, one over midnight.
func TestProof(t *testing.T) {
	j := judge(oneFan())
	for line := range strings.Lines(`00:00 day
08:00 air 20
08:00 drive 0 evidence 0 is 0
14:00 air 29.4
14:01 drive 0 evidence 0 is 1
14:20 look
14:31 air 26
14:31 drive 0 evidence 0 is 0
18:00 air 20
23:29 air 30
23:30 drive 0 evidence 0 is 1
1+00:00 day
1+00:10 air 26
1+00:10 drive 0 evidence 0 is 0
1+01:00 air 20
`) {
		tell(t, j, line)
	}
	p := j.Proof(0)
	want := Tally{Starts: 2, Ran: time.Hour, Right: 1, First: at(t, "14:01"), FirstTemp: 29.4}
	if p.Yesterday != want {
		t.Errorf("yesterday %+v, want %+v", p.Yesterday, want)
	}
	want = Tally{Ran: 10 * time.Minute, Right: 1, First: at(t, "23:30"), FirstTemp: 30}
	if p.Today != want {
		t.Errorf("today %+v, want %+v", p.Today, want)
	}
	if p.Total.Ran != 70*time.Minute || p.Total.Starts != 2 || p.Total.Right != 2 || p.Last != at(t, "1+00:10") || p.State != Standing || p.Call != NotCalled {
		t.Errorf("%+v", p)
	}
	tell(t, j, "2+00:00 look")
	if _, is := j.Unproven(0, 24*time.Hour); is {
		t.Error("it proved itself 23 h 50 min ago")
	}
	tell(t, j, "2+00:10 look")
	if since, is := j.Unproven(0, 24*time.Hour); !is || since != at(t, "1+00:10") {
		t.Errorf("unproven since %v, %v", since.UTC(), is)
	}
	tell(t, j, "2+00:20 test 0 until 2+00:30")
	tell(t, j, "2+00:21 drive 0 evidence 0 is 1")
	tell(t, j, "2+00:22 drive 0 evidence 0 is 0")
	if since, is := j.Unproven(0, 24*time.Hour); is {
		t.Errorf("it was tested by hand a moment ago, not proven since %v", since.UTC())
	}
	tell(t, j, "9+00:22 wants barred")
	if _, is := j.Unproven(0, 24*time.Hour); is {
		t.Error("nothing is wanted of a barred drive")
	}
}

// A loop fan that runs all winter proves itself by running.
func TestARunningFanIsProof(t *testing.T) {
	j := judge(loop())
	tell(t, j, "00:00 wants run")
	tell(t, j, "00:00 drive 0 evidence 0 is 1")
	tell(t, j, "9+00:00 look")
	if _, is := j.Unproven(0, time.Hour); is || j.Proof(0).Total.Ran != 9*24*time.Hour {
		t.Errorf("%+v", j.Proof(0))
	}
}
