package control

import (
	"fmt"
	"testing"
	"time"

	"telltale/alarms/timing"
)

// twoSpeeds is a fan whose low speed hangs on one stage and whose high one on
// another; only its draw shows.
func twoSpeeds() Spec {
	return Spec{
		Stages: []StageSpec{
			{Mode: Cooling, On: 26, Off: 23.2, Tolerance: 1.5, Drives: []int{fan}},
			{Mode: Cooling, On: 31, Off: 28.2, Tolerance: 1.5, Drives: []int{fan}},
		},
		Drives: []DriveSpec{{Kind: ExhaustFan, Evidence: []EvidenceSpec{{What: Current}}}},
	}
}

// drew plays minutes in which the fan draws so much and the air goes from one
// temperature to another.
func drew(j *Judge, now *timing.Instant, minutes int, amps, from, to float64) (found []Finding) {
	for m := range minutes {
		*now = now.Add(time.Minute)
		found = append(found, j.Feel(*now, 0, from+(to-from)*float64(m)/float64(minutes)).Findings...)
		found = append(found, j.Evidence(*now, fan, 0, amps).Findings...)
	}
	return found
}

// A fan that goes over to its high speed in the heat, or is turned to medium,
// does its work: neither is a locked rotor, nor a slipping belt.
func TestAnotherSpeedIsNoFault(t *testing.T) {
	for name, c := range map[string]struct {
		spec   Spec
		levels []float64
	}{
		"two speeds on two stages": {twoSpeeds(), []float64{0.4, 1.1}},
		"a knob turned to medium":  {oneMeter(Current), []float64{0.6, 0.33}},
		"a knob turned up":         {oneMeter(Current), []float64{0.33, 0.6}},
	} {
		j := judge(c.spec)
		now := clock(t, "08:00")
		found := drew(j, &now, 10, 0, 22, 29)
		for range 4 {
			found = append(found, drew(j, &now, 40, c.levels[0], 29, 32.5)...)
			found = append(found, drew(j, &now, 40, c.levels[1], 32.5, 28.5)...)
		}
		for _, f := range found {
			if f.On && (f.Kind == DrawsMore || f.Kind == DrawsLess) {
				t.Errorf("%s: %s", name, show([]Finding{f}))
			}
		}
		if j.Proof(fan).Usual == 0 || len(j.drives[fan].Usual.Others) != 1 {
			t.Errorf("%s: learned %+v, want two levels", name, j.drives[fan].Usual)
		}
	}
}

// What draws otherwise and does not do its work is told: a locked rotor, a belt
// that slips.
func TestAnotherDrawWithoutItsWorkIsTold(t *testing.T) {
	for _, c := range []struct {
		name string
		amps float64
		kind FindingKind
		soon time.Duration
	}{
		{"a locked rotor", 2.6, DrawsMore, 2 * time.Minute},
		{"a motor that labours", 0.95, DrawsMore, 16 * time.Minute},
		{"a slipping belt", 0.33, DrawsLess, 16 * time.Minute},
	} {
		j := judge(oneMeter(Current))
		now := clock(t, "08:00")
		drew(j, &now, 10, 0, 22, 29.5)
		drew(j, &now, 60, 0.6, 31.5, 29)
		from := now
		told := timing.Instant(0)
		for _, f := range drew(j, &now, 30, c.amps, 29, 33) {
			if f.On && f.Kind == c.kind {
				told = f.Due
			}
		}
		if told == 0 || told.Since(from) > c.soon+time.Minute {
			t.Errorf("%s: told after %v, want %v", c.name, told.Since(from), c.soon)
		}
	}
}

func oneMeter(what What) Spec {
	s := oneFan()
	s.Drives[0].Evidence = []EvidenceSpec{{What: what}}
	return s
}

// A speed shows that the fan runs, and never what it draws; at a part of its
// speed no effect is expected of it.
func TestASpeedIsNoDraw(t *testing.T) {
	s := oneMeter(Moving)
	s.Drives[0].Evidence = append(s.Drives[0].Evidence, EvidenceSpec{What: Power})
	j := judge(s)
	now := clock(t, "08:00")
	var found []Finding
	for m := range 600 {
		now = now.Add(time.Minute)
		speed := []float64{0, 30, 100, 55, 30}[m/20%5]
		found = append(found, j.Feel(now, 0, 31+float64(m%100)/40).Findings...)
		found = append(found, j.Evidence(now, fan, 0, speed).Findings...)
		found = append(found, j.Evidence(now, fan, 1, speed*speed/20).Findings...)
	}
	for k, n := range kinds(found) {
		if k == fmt.Sprint(fan, " ", DrawsMore) || k == fmt.Sprint(fan, " ", DrawsLess) {
			t.Errorf("%d times %q", n, k)
		}
	}
	if p := j.Proof(fan); p.Total.Starts < 5 {
		t.Errorf("%d starts seen by the speed", p.Total.Starts)
	}
}

// Learned in half an hour of running, by median: one wild reading does not
// count.
func TestLearnsWhatADriveDraws(t *testing.T) {
	s := loop()
	s.Drives[0].Evidence = []EvidenceSpec{{What: Power}}
	j := judge(s)
	now := at(t, "00:00")
	j.Evidence(now, 0, 0, 0)
	j.Arrange(now, Arrangement{Wants: []Want{{Wish: Run}}})
	for i := range 60 {
		now += timing.Instant(30 * time.Second)
		w := 50 + float64(i%3) - 1
		if i == 7 {
			w = 400
		}
		if told := j.Evidence(now, 0, 0, w); len(told.Findings) > 0 {
			t.Fatalf("while learning: %s", show(told.Findings))
		}
	}
	if got := j.Proof(0).Usual; got != 50 {
		t.Errorf("learned %v W, want 50", got)
	}
	j.Evidence(now+timing.Instant(time.Minute), 0, 0, 34)
	told := j.Evidence(now+timing.Instant(2*time.Minute), 0, 0, 34)
	if len(told.Findings) != 1 || told.Findings[0].Kind != DrawsLess || told.Findings[0].Limit != 35 || told.Findings[0].Value != 34 {
		t.Errorf("a third less: %s", show(told.Findings))
	}
}
