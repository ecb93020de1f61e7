package control

import (
	"math"
	"slices"
	"testing"
	"time"

	"telltale/alarms/timing"
)

func TestFaultFreeDays(t *testing.T) {
	for seed := range uint64(5) {
		r := rig{seed: seed, days: 10, outside: 14 + 2*float64(seed)}
		j := judge(dial())
		found, log := play(t, j, r.events())
		if len(found) > 0 {
			t.Errorf("seed %d: a house without a fault:\n%s", seed, show(found))
		}
		right := 0
		for _, l := range log {
			if l.Right && l.Drive == fan {
				right++
			}
		}
		p := j.Proof(fan)
		if right < 10 || right < p.Total.Starts*9/10 || p.Total.Right != right {
			t.Errorf("seed %d: %d of %d switchings were right, %d counted", seed, right, p.Total.Starts, p.Total.Right)
		}
		on, off := j.stages[0].On.point(), j.stages[0].Off.point()
		if d := on.Median - 29; d < -1.5 || d > 1.5 || on.Count < 6 {
			t.Errorf("seed %d: switches on at %+v", seed, on)
		}
		if d := off.Median - 26.2; d < -1.5 || d > 1.5 || off.Count < 6 {
			t.Errorf("seed %d: switches off at %+v", seed, off)
		}
	}
}

// Probes that report every two or five minutes, drives once a minute, nothing
// known of outside: less is seen, and still nothing wrong is said.
func TestFaultFreeDaysWithSparseReadings(t *testing.T) {
	for seed := range uint64(6) {
		every := []time.Duration{2 * time.Minute, 5 * time.Minute}[seed%2]
		type stream struct {
			what         byte
			drive, index int
		}
		last := map[stream]timing.Instant{}
		var list []event
		for _, e := range (rig{seed: 40 + seed, days: 10, outside: 3 * float64(seed)}).events() {
			key, gap := stream{e.what, e.drive, e.index}, timing.Instant(0)
			switch e.what {
			case 'o':
				continue
			case 't':
				gap = timing.Instant(every)
			case 'e':
				gap = timing.Instant(time.Minute)
			}
			if was, ok := last[key]; ok && e.at-was < gap {
				continue
			}
			last[key] = e.at
			list = append(list, e)
		}
		j := judge(dial())
		if found, _ := play(t, j, list); len(found) > 0 {
			t.Errorf("seed %d: a house without a fault:\n%s", seed, show(found))
		}
		if p := j.Proof(fan); seed > 1 && p.Total.Right < p.Total.Starts*9/10 {
			t.Errorf("seed %d: %d of %d switchings were right", seed, p.Total.Right, p.Total.Starts)
		}
	}
}

// Each fault of days 4 and 5 brings its verdicts and no others, and all of them
// are over by the end.
func TestFaults(t *testing.T) {
	for _, c := range []struct {
		name    string
		faults  faults
		outside float64
		must    []string
		may     []string // what follows from it
	}{
		{"the fan is dead", faults{fanDead: true}, 18, []string{"0 did not start"}, []string{"1 open unneeded"}},
		{"the fan does not stop", faults{fanStuck: true}, 18, []string{"0 did not stop", "0 ran uncalled"}, []string{"0 ran alone"}},
		{"the shutter stays shut", faults{shutterShut: true}, 18, []string{"0 ran alone", "1 did not start"}, []string{"0 no effect"}},
		{"the shutter stays open", faults{shutterStuckOpen: true}, 8, []string{"1 open unneeded"}, nil},
		{"a covered vent", faults{noAir: true}, 18, []string{"0 no effect"}, nil},
		{"a locked rotor", faults{locked: true}, 18, []string{"0 no effect", "0 draws more"}, nil},
		{"a slipping belt", faults{belt: true}, 18, []string{"0 draws less"}, []string{"0 no effect"}},
		{"the contact lies", faults{contactLies: true}, 18, []string{"0 contradiction"}, nil},
		{"the dial has drifted up", faults{dial: 4}, 20, []string{"-1 drifted on", "0 did not start"}, []string{"-1 drifted off", "1 did not start", "0 stopped early", "1 stopped early"}},
		{"the dial has drifted down", faults{dial: -5}, 16, []string{"-1 drifted on", "0 ran uncalled"}, []string{"-1 drifted off", "0 did not stop", "1 open unneeded"}},
		{"short cycling", faults{narrow: true}, 18, []string{"0 short cycling"}, []string{"-1 drifted off", "1 short cycling"}},
	} {
		t.Run(c.name, func(t *testing.T) {
			c.faults.from, c.faults.to = 3, 6
			j := judge(dial())
			found, _ := play(t, j, rig{seed: 7, days: 12, outside: c.outside, faults: c.faults}.events())
			got := kinds(found)
			for _, m := range c.must {
				if got[m] == 0 {
					t.Errorf("%q was not told", m)
				}
			}
			for k := range got {
				if !slices.Contains(c.must, k) && !slices.Contains(c.may, k) {
					t.Errorf("%q was told", k)
				}
			}
			if on := j.Holding(); len(on) > 0 {
				t.Errorf("put right days ago, still told:\n%s", show(on))
			}
			if t.Failed() {
				t.Log("\n" + show(found))
			}
		})
	}
}

// A dial that is off is told after two late starts, and holds together what else
// it brings; a fan that then really dies is told all the same.
func TestADriftIsNotTakenForADeadFan(t *testing.T) {
	for _, off := range []float64{2.5, 3.6, 4} {
		r := rig{seed: 7, days: 8, outside: 20, faults: faults{dial: off, from: 1, to: 8}}
		j := judge(dial())
		found, _ := play(t, j, r.events())
		high, drifted := 0, timing.Instant(0)
		for _, f := range found {
			switch {
			case f.On && f.Kind == DriftedOn && drifted == 0:
				drifted = f.Due
			case f.On && f.Drive == fan && (f.Kind == DidNotStart || f.Kind == StoppedEarly):
				high++
			}
		}
		if drifted == 0 || high > 4 {
			t.Errorf("%v K off: drift told %v, and %d times that the fan fails:\n%s", off, drifted.UTC(), high, show(found))
		}
		t.Logf("%v K off: drift told %v, %d times that the fan fails", off, drifted.UTC(), high)
	}
	r := rig{seed: 7, days: 3, outside: 20, faults: faults{dial: 3.6, from: 1, to: 3}}
	events := r.events()
	j := judge(dial())
	play(t, j, events)
	if !j.stages[0].On.Told {
		t.Fatal("the drift is not told")
	}
	now := events[len(events)-1].at.Add(time.Minute)
	j.Evidence(now, fan, 0, 0)
	j.Evidence(now, fan, 1, 0)
	told := false
	for v := 25.0; v < 38; v += 0.1 {
		now = now.Add(20 * time.Second)
		for _, f := range j.Feel(now, 0, v).Findings {
			if f.On && f.Drive == fan && f.Kind == DidNotStart {
				told = true
				t.Logf("the fan is dead: told at %.1f °C", v)
				if v > 36.5 {
					t.Errorf("told at %.1f °C", v)
				}
			}
		}
	}
	if !told {
		t.Error("a fan that died under a drifted dial was swallowed")
	}
}

// Beyond the limit of the place no drift excuses a fan.
func TestNoDriftExcusesAFanBeyondTheLimit(t *testing.T) {
	for _, limit := range []float64{31.8, math.NaN()} {
		j := judge(oneFan())
		j.stages[0].On = drift{Told: true, Dial: 29, Found: 33, Temps: []float64{33, 33}}
		j.Limits(math.NaN(), limit)
		tell(t, j, "08:00 air 20")
		tell(t, j, "08:00 drive 0 evidence 0 is 0")
		tell(t, j, "12:00 air 32")
		if told := tell(t, j, "12:05 look"); (len(told.Findings) == 1) != (limit < 32) {
			t.Errorf("at 32 °C, limit %v: %s", limit, show(told.Findings))
		}
	}
}
