package infer

import (
	"testing"
	"time"
)

// A probe put right by 3 K looks like a start of the fan, unless it is said.
func TestAShiftIsNoBreak(t *testing.T) {
	changes := func(shift bool) (n int) {
		s := New(Options{Latitude: 50})
		at := time.Date(2026, 7, 1, 0, 0, 0, 0, time.UTC)
		wave := [...]float64{0, 0.1, 0, -0.1}
		for i := range 24 * 60 / 5 {
			s.Step(at.Add(time.Duration(i)*5*time.Minute), 24+wave[i%4], 20)
		}
		if shift {
			s.Shift(-3)
		}
		for i := range 12 {
			_, c := s.Step(s.Last.Add(5*time.Minute), 21+wave[i%4], 20)
			if c.Sharp {
				n++
			}
		}
		return n
	}
	if changes(false) == 0 {
		t.Error("a fall of 3 K shows no break: this tests nothing")
	}
	if n := changes(true); n != 0 {
		t.Errorf("%d breaks where the probe was put right", n)
	}
}

// steady feeds a level for some minutes.
func steady(s *Sense, at time.Time, every time.Duration, minutes int, inside, outside float64) (time.Time, []Change) {
	var all []Change
	for end := at.Add(time.Duration(minutes) * time.Minute); at.Before(end); at = at.Add(every) {
		if _, c := s.Step(at, inside+0.05*float64(at.Unix()/60%2), outside); c.Kind != NoChange {
			all = append(all, c)
		}
	}
	return at, all
}

func TestBreakDatesTheChange(t *testing.T) {
	for _, every := range []time.Duration{10 * time.Second, time.Minute, 5 * time.Minute, 10 * time.Minute} {
		s := New(Options{})
		at, _ := steady(&s, time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC), every, 120, 33, 20)
		for _, turn := range []struct {
			kind   ChangeKind
			inside float64
		}{{Start, 23}, {Stop, 33}} {
			when := at
			var changes []Change
			at, changes = steady(&s, at, every, 120, turn.inside, 20)
			last := Change{}
			for _, c := range changes {
				if c.Sharp {
					last = c
				}
			}
			if last.Kind != turn.kind || last.At.Sub(when).Abs() > time.Minute || last.Noticed.Sub(when) > 3*max(every, 5*time.Minute) {
				t.Errorf("every %v: the house came to %v °C at %v: %+v", every, turn.inside, when, changes)
			}
		}
	}
}

// A fall that the outside air explains is no break.
func TestWeatherIsNoBreak(t *testing.T) {
	at := time.Date(2026, 7, 1, 12, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		out  float64
		want bool
	}{{20, true}, {12, false}} { // a front takes 8 K off the outside air
		s := New(Options{Still: Rise{1, 3}, Driven: Rise{0, 1}})
		now, _ := steady(&s, at, 5*time.Minute, 180, 24, 20)
		var broke bool
		for range 6 {
			s.Step(now, 22, c.out)
			broke = broke || s.Breaks.Quiet > now.Unix()
			now = now.Add(5 * time.Minute)
		}
		if broke != c.want {
			t.Errorf("outside %v °C: break %v, want %v", c.out, broke, c.want)
		}
	}
}
