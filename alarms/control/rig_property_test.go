package control

import (
	"encoding/json"
	"math"
	"math/rand/v2"
	"testing"
	"time"

	"telltale/alarms/timing"
)

// busy is a run of events with every fault, losses, arrangements and tests.
func busy(seed uint64) []event {
	random := rand.New(rand.NewPCG(seed, 5))
	var list []event
	all := []faults{{fanDead: true}, {fanStuck: true}, {shutterShut: true}, {shutterStuckOpen: true}, {noAir: true},
		{locked: true}, {belt: true}, {contactLies: true}, {dial: 4}, {narrow: true}}
	f := all[seed%uint64(len(all))]
	f.from, f.to = 1, 3
	for _, e := range (rig{seed: seed, days: 4, outside: 8 + 3*float64(seed%5), faults: f}).events() {
		list = append(list, e)
		if random.IntN(2000) != 0 {
			continue
		}
		extra := event{at: e.at + timing.Instant(random.Int64N(int64(tick))), drive: random.IntN(2), value: math.NaN()}
		switch extra.what = "ebrrhot"[random.IntN(7)]; extra.what {
		case 'h':
			extra.value = float64(5 * time.Minute)
		case 'r':
			wants := []Want{{Wish: Wish(random.IntN(7)), OnFor: 10 * time.Minute, OffFor: 20 * time.Minute}, {Wish: Wish(random.IntN(7))}}
			extra.arranged = Arrangement{Acts: []bool{random.IntN(4) > 0}, Wants: wants}
		}
		list = append(list, extra)
	}
	return list
}

func state(t *testing.T, j *Judge) string {
	b, err := json.Marshal(j.Save())
	if err != nil {
		t.Fatal(err)
	}
	return string(b)
}

// More or later looks change when something is heard, never what happened; and
// what is asked of a Judge changes nothing.
func TestExtraAdvancesChangeNothing(t *testing.T) {
	for seed := range sample(uint64(2), 10) {
		list := busy(seed)
		plain := judge(dial())
		found, log := play(t, plain, list)
		random := rand.New(rand.NewPCG(seed, 6))
		looked := judge(dial())
		var found2 []Finding
		var log2 []Switching
		keep := func(told Told) {
			found2, log2 = append(found2, told.Findings...), append(log2, told.Switchings...)
		}
		for i, e := range list {
			if due, ok := looked.Next(); ok && due <= e.at && random.IntN(2) == 0 {
				keep(looked.Advance(due))
			}
			if i > 0 && e.at >= list[i-1].at && random.IntN(3) == 0 {
				looked.Proof(fan)
				looked.Unproven(shutter, time.Hour)
				looked.Holding()
				keep(looked.Advance(list[i-1].at + timing.Instant(random.Int64N(int64(e.at-list[i-1].at)+1))))
			}
			keep(e.play(looked))
		}
		end := list[len(list)-1].at
		if !same(found, found2) || !same(log, log2) {
			t.Errorf("seed %d: other findings with more looks: %d and %d, %d and %d lines", seed, len(found), len(found2), len(log), len(log2))
		}
		if a, b := state(t, plain), state(t, looked); a != b {
			t.Errorf("seed %d: another state at %v:\n%s\n%s", seed, end.UTC(), a, b)
		}
		if len(found) == 0 || len(log) == 0 {
			t.Errorf("seed %d: nothing happened", seed)
		}
	}
}

// A snapshot between any two events changes nothing.
func TestSaveAndLoadChangeNothing(t *testing.T) {
	for seed := range sample(uint64(2), 10) {
		list := busy(seed)
		plain := judge(dial())
		found, log := play(t, plain, list)
		saved := judge(dial())
		var found2 []Finding
		var log2 []Switching
		var kept State
		asKept := ""
		for i, e := range list {
			told := e.play(saved)
			found2, log2 = append(found2, told.Findings...), append(log2, told.Switchings...)
			if i%13 != 0 && len(told.Findings) == 0 {
				continue
			}
			if again, _ := json.Marshal(kept); asKept != "" && string(again) != asKept {
				t.Fatal("what went on changed what was saved before")
			}
			kept, asKept = saved.Save(), state(t, saved)
			var s State
			if err := json.Unmarshal([]byte(state(t, saved)), &s); err != nil {
				t.Fatal(err)
			}
			if i%2 == 0 {
				continue
			}
			next, _ := saved.Next()
			saved = judge(dial())
			if err := saved.Load(s); err != nil {
				t.Fatal(err)
			}
			if due, _ := saved.Next(); due != next {
				t.Fatalf("next was %v, is %v after a restart", next.UTC(), due.UTC())
			}
		}
		if !same(found, found2) || !same(log, log2) {
			t.Errorf("seed %d: other findings after restarts", seed)
		}
		if a, b := state(t, plain), state(t, saved); a != b {
			t.Errorf("seed %d: another state after restarts:\n%s\n%s", seed, a, b)
		}
	}
}

// What was told while all went wrong ends when all is put right: three good
// days under the plain arrangement.
func TestAllEndsWhenPutRight(t *testing.T) {
	for seed := range sample(uint64(5), 20) {
		list := busy(seed)
		j := judge(dial())
		play(t, j, list)
		end := list[len(list)-1].at
		j.Arrange(end, Arrangement{})
		for _, e := range (rig{seed: seed, days: 4, outside: 18}).events() {
			e.at += end - timing.At(time.Date(2026, 6, 20, 0, 0, 0, 0, time.UTC)) + timing.Instant(tick)
			e.play(j)
		}
		if on := j.Holding(); len(on) > 0 {
			t.Errorf("seed %d: all is right, and still told:\n%s", seed, show(on))
		}
	}
}

func TestLoadRefusesAnotherHouse(t *testing.T) {
	j := judge(dial())
	other := dial()
	other.Drives = other.Drives[:1]
	other.Drives[0].With = nil
	other.Stages[0].Drives = []int{fan}
	if err := j.Load(judge(other).Save()); err == nil {
		t.Error("loaded what was saved of one drive into two")
	}
	broken := j.Save()
	broken.Temp.N = recent + 1
	if err := j.Load(broken); err == nil {
		t.Error("loaded more last temperatures than are kept")
	}
	play(t, j, rig{seed: 1, days: 3, outside: 18}.events())
	moved := dial()
	moved.Stages[0].On = 30
	k := judge(moved)
	if err := k.Load(j.Save()); err != nil {
		t.Fatal(err)
	}
	if on, off := k.stages[0].On.point(), k.stages[0].Off.point(); on.Count != 0 || off.Count == 0 {
		t.Errorf("the dial was turned: %+v must be forgotten, %+v not", on, off)
	}
}

// A quiet event, a reading that changes nothing, allocates nothing.
func TestQuietEventsAllocateNothing(t *testing.T) {
	j, now := quiet(t)
	if n := testing.AllocsPerRun(1000, func() {
		now += timing.Instant(tick)
		j.Feel(now, 0, 22)
		j.Evidence(now, fan, 0, 0)
		j.Advance(now)
	}); n != 0 {
		t.Errorf("%v allocations", n)
	}
}

func quiet(t testing.TB) (*Judge, timing.Instant) {
	j := judge(dial())
	list := rig{seed: 1, days: 2, outside: 18}.events()
	play(t, j, list)
	return j, list[len(list)-1].at
}

func BenchmarkQuiet(b *testing.B) {
	b.Run("temperature", func(b *testing.B) {
		j, now := quiet(b)
		b.ReportAllocs()
		for b.Loop() {
			now += timing.Instant(tick)
			j.Feel(now, 0, 22)
		}
	})
	b.Run("evidence", func(b *testing.B) {
		j, now := quiet(b)
		b.ReportAllocs()
		for b.Loop() {
			now += timing.Instant(tick)
			j.Evidence(now, fan, 0, 0)
		}
	})
}
