package trials_test

import (
	"os"
	"path/filepath"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/scenario"
	"telltale/gateway/trials"
)

// TestInterruptedWaits puts scenarios into the table in which what is waited for
// is interrupted again and again: by restarts, by a link that comes and goes, by
// silence.
func TestInterruptedWaits(t *testing.T) {
	for _, name := range []string{"silent-through-restarts", "humid-through-restarts", "silent-while-link-fails-at-times",
		"link-comes-and-goes", "hot-while-link-fails", "house-silent", "silent-then-link-lost", "exposure-taken-then-restart"} {
		t.Run(name, func(t *testing.T) {
			file := filepath.Join("..", "..", "testdata", "scenario", name+".txt")
			text, err := os.ReadFile(file)
			if err != nil {
				t.Fatal(err)
			}
			s, err := scenario.Parse(file, text, time.LoadLocation)
			if err != nil {
				t.Fatal(err)
			}
			got, err := s.Run()
			if err != nil {
				t.Fatal(err)
			}
			made, slowest := map[string]int{}, time.Duration(0)
			key := func(tr alarms.Transition) string {
				return string(tr.Alarm) + " " + tr.Move.String() + " " + tr.Due.UTC().String()
			}
			for _, step := range got {
				for _, tr := range step {
					made[key(tr)]++
					if tr.Move == alarms.Raise {
						slowest = max(slowest, tr.Noticed.Sub(tr.Due))
					}
				}
			}
			lost, wanted := 0, 0
			for _, step := range s.Steps {
				for _, tr := range step.Want {
					wanted++
					if made[key(tr)]--; made[key(tr)] < 0 {
						lost++
					}
				}
			}
			if wanted == 0 {
				t.Error("the scenario wants nothing")
			}
			trials.Report(t, "scenario: "+s.Title, trials.Lost(lost), trials.Told(slowest))
		})
	}
}
