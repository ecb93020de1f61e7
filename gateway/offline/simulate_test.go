package offline

import (
	"testing"
	"time"
)

// stands is a clock that stands.
type stands struct{ at time.Time }

func (c stands) Now() time.Time   { return c.at }
func (stands) Speed() float64     { return 240 }
func (stands) Step(time.Duration) {}

// The garden waits for a watch that has fallen behind, a while, and again once it was
// heard; never for one that has heard nothing yet.
func TestTheGardenWaitsForASlowWatch(t *testing.T) {
	now := time.Date(2026, 7, 14, 13, 0, 0, 0, time.UTC)
	heard := time.Time{}
	o := SimulateOptions{Clock: stands{now}, Heard: func() time.Time { return heard }}
	count := func() (n int) {
		for n < 10*mostWaits && o.waits() {
			n++
		}
		return n
	}
	if n := count(); n != 0 {
		t.Errorf("nothing heard yet: it waits %d paces, want 0", n)
	}
	heard = now.Add(-behind)
	if n := count(); n != 0 {
		t.Errorf("heard in time: it waits %d paces, want 0", n)
	}
	heard = now.Add(-behind - time.Second)
	if n := count(); n != mostWaits {
		t.Errorf("behind: it waits %d paces, want %d", n, mostWaits)
	}
	if n := count(); n != 0 {
		t.Errorf("still behind: it waits another %d paces, want 0", n)
	}
	heard = now
	if n := count(); n != 0 {
		t.Errorf("heard again: it waits %d paces, want 0", n)
	}
	heard = now.Add(-time.Hour)
	if n := count(); n != mostWaits {
		t.Errorf("behind again: it waits %d paces, want %d", n, mostWaits)
	}
	o.Heard = nil
	if n := count(); n != 0 {
		t.Errorf("with nobody to wait for: it waits %d paces, want 0", n)
	}
}
