// Package trials puts what a test has measured while it did harm into the table
// of all trials, which .ci/trials prints. A figure that is not given was not
// measured, and is a dash there. It is for tests alone.
package trials

import (
	"fmt"
	"math"
	"strings"
	"testing"
	"time"
)

// Figure is one measured figure of a trial.
type Figure struct {
	column int
	text   string
	red    bool // it must not be so
}

const columns = 5

// Lost is how many alarms were lost, or had a wrong state. Any fails the trial.
func Lost(n int) Figure { return Figure{0, fmt.Sprint(n), n > 0} }

// Twice is how many messages came twice, under the same ID.
func Twice(n int) Figure { return Figure{1, fmt.Sprint(n), false} }

// Blind is for how long the watch could not hear, by its own time.
func Blind(d time.Duration) Figure { return Figure{2, seconds(d), false} }

// Told is how long the slowest alarm took from its moment until somebody was
// told, by the watch's own time, while somebody could be.
func Told(d time.Duration) Figure { return Figure{3, seconds(d), false} }

// Memory is how much memory it took, in MB.
func Memory(mb float64) Figure { return Figure{4, fmt.Sprintf("%.0f", mb), false} }

func seconds(d time.Duration) string { return fmt.Sprint(math.Ceil(d.Seconds()*10) / 10) }

// Report adds the row of a trial to the table: what was done to whom, in a few
// words.
func Report(t testing.TB, what string, figures ...Figure) {
	t.Helper()
	row := [columns]string{"–", "–", "–", "–", "–"}
	for _, f := range figures {
		row[f.column] = f.text
		if f.red {
			t.Errorf("%s: %s alarms were lost or wrong", what, f.text)
		}
	}
	if t.Failed() {
		what += " (FAILED)"
	}
	t.Attr("trial", what+" | "+strings.Join(row[:], " | "))
}
