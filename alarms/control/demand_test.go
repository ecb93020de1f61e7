package control

import (
	"testing"
	"time"
)

// What is asked of a drive, by hand: two stages of its own that feel a temperature, one
// that feels humidity, and a fan that it opens for with a stage of its own.
func TestWhatIsAskedOfADrive(t *testing.T) {
	spec := func(m Mode, lag time.Duration) *StageSpec { return &StageSpec{Mode: m, On: 25, Off: 23, Lag: lag} }
	low := &stage{index: 0, spec: spec(Cooling, time.Minute), felt: &series{}, acting: true}
	high := &stage{index: 1, spec: spec(Cooling, 2*time.Minute), felt: &series{}, acting: true}
	high.spec.On, high.spec.Off = 29, 27
	damp := &stage{index: 2, spec: spec(Drying, 4*time.Minute), felt: &series{}}
	fan := &stage{index: 3, spec: spec(Cooling, 0), felt: &series{}, acting: true}
	all := []*stage{low, high, damp, fan}
	beside := &demand{want: Want{Wish: Follow}, all: all, own: all[3:], stages: all[3:], home: low.felt}
	q := &demand{want: Want{Wish: Follow}, all: all, own: all[:3], stages: all, opens: []*demand{beside}, home: low.felt}
	for _, c := range []struct {
		name                 string
		low, high, damp, fan Call
		wish, besides        Wish
		want                 Call
	}{
		{"no stage", NotCalled, NotCalled, NotCalled, NotCalled, Follow, Follow, NotCalled},
		{"one of two", NotCalled, Called, NotCalled, NotCalled, Follow, Follow, Called},
		{"one is not certain", NotCalled, Between, NotCalled, NotCalled, Follow, Follow, Between},
		{"one that does not act", NotCalled, NotCalled, Called, NotCalled, Follow, Follow, NotCalled},
		{"the fan's", NotCalled, NotCalled, NotCalled, Called, Follow, Follow, Called},
		{"the fan is to run", NotCalled, NotCalled, NotCalled, NotCalled, Follow, Run, Called},
		{"the fan is to rest, whatever its stage says", NotCalled, NotCalled, NotCalled, Called, Follow, Rest, NotCalled},
		{"the fan is free", NotCalled, NotCalled, NotCalled, NotCalled, Follow, Free, Between},
		{"barred, whatever is asked", Called, Called, NotCalled, Called, Barred, Run, NotCalled},
		{"to run", NotCalled, NotCalled, NotCalled, NotCalled, Run, Follow, Called},
	} {
		low.Certain, high.Certain, damp.Certain, fan.Certain = c.low, c.high, c.damp, c.fan
		q.want.Wish, beside.want.Wish = c.wish, c.besides
		if got := q.call(); got != c.want {
			t.Errorf("%s: %v, want %v", c.name, got, c.want)
		}
	}
	q.want.Wish = Follow
	if n, lag := q.contacts(), q.lag(); n != 3 || lag != 2*time.Minute {
		t.Errorf("%d contacts that feel a temperature, lag %v", n, lag)
	}
	if got := q.witness(); got != low {
		t.Errorf("of two that cool stage %+v shows first", got)
	}
	high.Calls, high.Passed, high.PassedTemp = true, 7, 29.1
	if got, want := q.last(), (call{Stage: 1, Called: 7, CalledT: 29.1}); got != want {
		t.Errorf("the last call is %+v, want %+v", got, want)
	}
	fan.twin, low.twin = low, fan
	if n := q.contacts(); n != 2 || q.witness() != nil {
		t.Errorf("of two that take turns %d contacts, and both act", n)
	}
}
