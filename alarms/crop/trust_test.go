package crop

import (
	"fmt"
	"strings"
	"testing"
)

// No crop is said to have a source for what has none: each count is that of the
// figures themselves.
func TestNobodyIsPromisedSourcesThatAreNotThere(t *testing.T) {
	says := map[Mark]string{Seen: "read in the source named", Derived: "worked out from figures read there",
		Memory: "from memory", Practice: "common practice, without a source"}
	seen := map[Mark]bool{}
	for _, name := range Names() {
		c, _ := Lookup(name)
		var all []Figure
		for _, e := range c.Figures() {
			all = append(all, e.Figure)
		}
		for _, x := range c.Exposures() {
			if x.Limit.Known() {
				all = append(all, x.Limit)
			}
		}
		got := c.Trust()
		for mark, words := range says {
			n := 0
			for _, f := range all {
				if f.Mark == mark {
					n++
				}
			}
			seen[mark] = seen[mark] || n > 0
			whole := n == len(all) && strings.HasPrefix(got, fmt.Sprintf("All its %d limits ", n))
			if strings.Contains(got, words) != (n > 0) || n > 0 && !whole && !strings.Contains(got, fmt.Sprintf(" %d ", n)) {
				t.Errorf("%s has %d of %d marked %v, and it says %q", name, n, len(all), mark, got)
			}
		}
	}
	if len(seen) != 4 {
		t.Errorf("only the marks %v occur", seen)
	}
}
