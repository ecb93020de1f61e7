package reach

import (
	"errors"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
)

func TestProblems(t *testing.T) {
	cases := []struct {
		name  string
		spoil func(*Rules)
		want  string // all problems, one a line
	}{
		{"nothing", func(*Rules) {}, ""},
		{"nobody at high priority", func(r *Rules) { r.Tell = nil },
			`house "long-house": nobody is told of a high alarm; add a tell rule that reaches a person
house "low-house": nobody is told of a high alarm; add a tell rule that reaches a person
the watch itself (broker lost, watch restarted): nobody is told of a high alarm; add a tell rule that reaches a person`},
		{"one house forgotten", func(r *Rules) {
			r.Tell[0].Houses = []alarms.HouseID{"long-house"}
			r.Tell[2].After = time.Minute
			r.Tell = r.Tell[:1]
		},
			`house "low-house": nobody is told of a high alarm; add a tell rule that reaches a person
the watch itself (broker lost, watch restarted): nobody is told of a high alarm; add a tell rule that reaches a person`},
		{"all wait", func(r *Rules) { r.Tell = r.Tell[1:]; r.Houses = nil },
			`the watch itself (broker lost, watch restarted): nobody is told of a high alarm at once; give one tell rule no waiting`},
		{"channel unknown", func(r *Rules) { r.People[1].Channels = []string{"mail", "pager"} },
			`person "Ben": no channel is named "pager"; channels are "lamps", "mail", "phone"`},
		{"only an unknown channel", func(r *Rules) {
			r.People = []Person{{Name: "Ada", Channels: []string{"pager"}}}
			r.Tell = r.Tell[:1]
			r.Houses = nil
		},
			`person "Ada": no channel is named "pager"; channels are "lamps", "mail", "phone"
the watch itself (broker lost, watch restarted): nobody is told of a high alarm; add a tell rule that reaches a person`},
		{"followed channel for a person", func(r *Rules) { r.People[1].Channels = []string{"mail", "lamps"} },
			`person "Ben": channel "lamps" is followed, it goes to no person; name another`},
		{"no channel at all", func(r *Rules) { r.People = append(r.People, Person{Name: "Cleo"}) },
			`person "Cleo": has no channel, so nothing can reach them; name at least one`},
		{"twice", func(r *Rules) { r.People = append(r.People, r.People[1]) },
			`person "Ben" is given twice; give each person once, with all channels`},
		{"quiet hours", func(r *Rules) { r.People[0].Quiet.To = 24 * time.Hour },
			`person "Ada": quiet hours must lie between 00:00 and 24:00 (got 22h0m0s to 24h0m0s after midnight)`},
		{"rule", func(r *Rules) {
			r.Tell = append(r.Tell, Rule{People: []string{"Cleo", "Ben"}, Channels: []string{"phone"}, Houses: []alarms.HouseID{"shed"}, After: -time.Minute})
		},
			`tell rule 4: gives no priority; say low, medium or high
tell rule 4: the waiting must lie between 0 and 7 days (got -1m0s)
tell rule 4: nobody is named "Cleo"
tell rule 4: "Ben" has none of the channels "phone"
tell rule 4: no house is named "shed"`},
		{"rule for nobody", func(r *Rules) { r.Tell = append(r.Tell, Rule{From: alarms.Low}) },
			`tell rule 4: names nobody; name at least one person`},
		{"follow", func(r *Rules) { r.Follow = []string{"siren"} },
			`follow: no channel is named "siren"; channels are "lamps", "mail", "phone"`},
		{"names", func(r *Rules) { r.People[1].Name = "Ben|2"; r.Tell = r.Tell[:2] },
			`person "Ben|2": a name must not be empty or hold a bar or a line break`},
	}
	for _, c := range cases {
		t.Run(c.name, func(t *testing.T) {
			r := garden()
			c.spoil(&r)
			got := ""
			if err := errors.Join(Problems(r)...); err != nil {
				got = err.Error()
			}
			if got != c.want {
				t.Errorf("got:\n%s\nwant:\n%s", got, c.want)
			}
			if strings.Contains(got, "%!") {
				t.Error("a sentence is badly formatted")
			}
		})
	}
}
