package alarms

import "testing"

// A row of the table that is half filled in would show as a limit that can never be
// passed, an alarm that never ends or a figure that nobody can name.
func TestFactsOfEveryQuantity(t *testing.T) {
	for _, q := range Quantities {
		f := q.Facts()
		lo, hi := f.Believed[0], f.Believed[1]
		switch {
		case f.Quantity != q:
			t.Errorf("%s has the row of %s", q, f.Quantity)
		case !(f.Lowest < f.Highest):
			t.Errorf("%s: its limits reach from %v to %v", q, f.Lowest, f.Highest)
		case f.Limited && !(f.Deadband > 0 && f.Deadband < f.Width()/4 && f.Near > 0):
			t.Errorf("%s takes limits, with the deadband %v, near within %v", q, f.Deadband, f.Near)
		case f.From == nil && !(lo < hi):
			t.Errorf("%s is believed from %v to %v", q, lo, hi)
		case f.From != nil && (lo != hi || f.Jump != 0 || f.Stuck != 0 || f.Differ != 0 || f.Weak.Set):
			t.Errorf("%s is derived, and no probe can be wrong about it", q)
		case f.Exposing && !f.Limited:
			t.Errorf("%s takes no limits, and plants are exposed to it", q)
		case f.Gauge.Name == "" && f.Of != OfProbe:
			t.Errorf("%s has no gauge", q)
		case f.ShownAs != "" && f.ShownBy == 0:
			t.Errorf("%s is shown in %s, and none of it", q, f.ShownAs)
		}
	}
}
