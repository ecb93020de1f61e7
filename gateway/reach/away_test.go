package reach

import (
	"fmt"
	"math/rand/v2"
	"reflect"
	"slices"
	"testing"
	"time"

	"telltale/alarms"
)

// away is a leave around noon.
func away(person, standIn string, from, to time.Duration) alarms.Leave {
	return alarms.Leave{Person: person, StandIn: standIn, Since: noon.Add(from), Until: noon.Add(to)}
}

func spared(l alarms.Leave) alarms.Leave {
	l.Spared = true
	return l
}

// handed is tr as it is handed over because of l.
func handed(tr alarms.Transition, l alarms.Leave) alarms.Transition {
	tr.Move, tr.From = alarms.Note, tr.To
	tr.Reason.Leave = &alarms.LeaveReason{Leave: l}
	return tr
}

func TestRouteWhileSomebodyIsAway(t *testing.T) {
	ada := away("Ada", "Ben", -time.Hour, time.Hour)
	log := func(l alarms.Leave, end alarms.LeaveEnd, by string) alarms.Transition {
		return alarms.Transition{ID: "watch/leave#1", Alarm: "watch/leave", Move: alarms.Note, Priority: alarms.Low, Due: noon, Noticed: noon,
			Reason: alarms.Reason{Rule: alarms.RuleLeave, By: by, Leave: &alarms.LeaveReason{Leave: l, Ended: end}}}
	}
	returned := func(lasted time.Duration) alarms.Transition {
		return over(alarms.High, alarms.Unacknowledged, noon, lasted)
	}
	mine := []string{"mail Ada +0s", "phone Ada +0s"}
	plus := func(more ...string) []string { return append(slices.Clone(mine), more...) }
	quiet := garden()
	quiet.People[1].Quiet = Quiet{From: 11 * time.Hour, To: 13 * time.Hour}
	cases := []struct {
		name   string
		leaves []alarms.Leave
		give   alarms.Transition
		want   []string
	}{
		{"the helper is told at once", []alarms.Leave{ada}, tooHot(alarms.High), plus("mail Ben +0s")},
		{"of what they else never hear of, in their quiet hours", []alarms.Leave{ada}, tooHot(alarms.Medium), plus("mail Ben +0s")},
		{"when the other would be", []alarms.Leave{ada}, tooHot(alarms.Low), []string{"mail Ada +30m0s cancellable", "mail Ben +30m0s cancellable"}},
		{"not before", []alarms.Leave{away("Ada", "Ben", time.Minute, time.Hour)}, tooHot(alarms.High), plus("mail Ben +15m0s cancellable")},
		{"nor after", []alarms.Leave{away("Ada", "Ben", -time.Hour, 0)}, tooHot(alarms.High), plus("mail Ben +15m0s cancellable")},
		{"who is spared hears of what nobody takes", []alarms.Leave{spared(ada)}, tooHot(alarms.High),
			[]string{"mail Ada +30m0s cancellable", "phone Ada +30m0s cancellable", "mail Ben +0s"}},
		{"the last in line has no helper but who is told first anyway", []alarms.Leave{away("Ben", "", -time.Hour, time.Hour)}, tooHot(alarms.High), plus("mail Ben +15m0s cancellable")},
		{"nobody is at hand", []alarms.Leave{spared(ada), spared(away("Ben", "Ada", -time.Hour, time.Hour))}, tooHot(alarms.High), plus("mail Ben +15m0s cancellable")},
		{"the stand-in is not in the config any more", []alarms.Leave{away("Ada", "Zoe", -time.Hour, time.Hour)}, tooHot(alarms.High), plus("mail Ben +0s")},
		{"who is away is not in the config any more", []alarms.Leave{away("Zoe", "Ben", -time.Hour, time.Hour)}, tooHot(alarms.Medium), mine},
		{"over, told to who stood in", []alarms.Leave{ada}, returned(10 * time.Minute), plus("mail Ben +0s")},
		{"over, told to who stood in then, but not in quiet hours", []alarms.Leave{away("Ada", "Ben", -time.Hour, -10*time.Minute)},
			over(alarms.Medium, alarms.Unacknowledged, noon, 30*time.Minute), plus("mail Ben +1h0m0s")},
		{"over, and was handed over", []alarms.Leave{away("Ada", "Ben", -5*time.Minute, time.Hour)}, returned(10 * time.Minute), plus("mail Ben +0s")},
		{"over before the leave, and too short for the helper", []alarms.Leave{away("Ada", "Ben", -time.Hour, -20*time.Minute)}, returned(10 * time.Minute), mine},
		{"over before the spared one heard", []alarms.Leave{spared(ada)}, returned(10 * time.Minute), []string{"mail Ben +0s"}},
		{"over after the spared one heard", []alarms.Leave{spared(ada)}, returned(40 * time.Minute), plus("mail Ben +0s")},
		{"what is on is handed over", []alarms.Leave{ada}, handed(tooHot(alarms.Low), ada), []string{"mail Ben +0s cancellable, replaces"}},
		{"and to nobody who would not have been told", []alarms.Leave{away("Ben", "Ada", -time.Hour, time.Hour)},
			handed(tooHot(alarms.Medium), away("Ben", "Ada", -time.Hour, time.Hour)), nil},
		{"both hear that it begins", []alarms.Leave{ada}, log(ada, "", "Zoe"), []string{"mail Ben +0s", "mail Ada +0s", "phone Ada +0s"}},
		{"who says it knows it", []alarms.Leave{ada}, log(ada, "", "Ada"), []string{"mail Ben +0s"}},
		{"both hear that it is over, Ben not in his quiet hours", nil, log(ada, alarms.LeaveOver, ""), []string{"mail Ben +1h0m0s cancellable", "mail Ada +0s", "phone Ada +0s"}},
	}
	for _, c := range cases {
		r := quiet
		r.Leaves = c.leaves
		got := lines(route(t, r, c.give), noon)[1:] // without the lamps
		if len(got)+len(c.want) > 0 && !reflect.DeepEqual(got, c.want) {
			t.Errorf("%s:\ngot  %q\nwant %q", c.name, got, c.want)
		}
	}
}

// A stand-in who goes away too is stood in for, in a ring of people as well, and the next
// in line is told later or of less.
func TestWhoStandsIn(t *testing.T) {
	r := Rules{
		People: []Person{{Name: "Ada"}, {Name: "Ann"}, {Name: "Ben"}, {Name: "Cy"}, {Name: "Untold"}},
		Tell: []Rule{{People: []string{"Ada", "Ann"}, From: alarms.Low}, {People: []string{"Ben"}, From: alarms.High},
			{People: []string{"Cy"}, From: alarms.Low, After: 15 * time.Minute}},
	}
	ask := func(name string, leaves ...alarms.Leave) string {
		r.Leaves = leaves
		return r.StandIn(name, noon)
	}
	one := func(person, standIn string) alarms.Leave { return away(person, standIn, -time.Hour, time.Hour) }
	for got, want := range map[[2]string]string{
		{"chosen", ask("Ada", one("Ada", "Cy"))}:                                                                "Cy",
		{"next", ask("Ada", one("Ada", ""))}:                                                                    "Ben",
		{"last", ask("Cy", one("Cy", ""))}:                                                                      "",
		{"away too", ask("Ada", one("Ada", "Ann"), one("Ann", "Cy"))}:                                           "Cy",
		{"a ring", ask("Ada", one("Ada", "Ann"), one("Ann", "Ada"))}:                                            "Ben",
		{"a ring of all", ask("Ada", one("Ada", "Ann"), one("Ann", "Ben"), one("Ben", "Cy"), one("Cy", "Ada"))}: "",
		{"themselves", ask("Ada", one("Ada", "Ada"))}:                                                           "Ben",
	} {
		if got[1] != want {
			t.Errorf("%s: got %q, want %q", got[0], got[1], want)
		}
	}
	r.Leaves = []alarms.Leave{one("Ann", "")}
	if got := r.AtHand(noon); !slices.Equal(got, []string{"Ada", "Ben", "Cy"}) {
		t.Errorf("at hand: %q", got)
	}
	if got := r.Line(); !slices.Equal(got, []string{"Ada", "Ann", "Ben", "Cy"}) {
		t.Errorf("in line: %q", got)
	}
}

// Whatever leaves there are, nobody loses a message by one: who is told without leaves is
// told with them, the spared a half hour later at most; and nobody is told twice.
func TestALeaveTakesNothingFromAnybody(t *testing.T) {
	rnd := rand.New(rand.NewPCG(13, 7))
	names := []string{"Ada", "Ben", "Cy", "Zoe", ""}
	more := 0
	for range 3000 {
		r := garden()
		r.People = append(r.People, Person{Name: "Cy", Channels: []string{"mail", "phone"}})
		r.Tell = append(r.Tell, Rule{From: alarms.Priority(1 + rnd.IntN(3)), People: []string{"Cy"}, After: time.Duration(rnd.IntN(3)) * 20 * time.Minute})
		tr := []alarms.Transition{tooHot(alarms.Low), tooHot(alarms.Medium), tooHot(alarms.High)}[rnd.IntN(3)]
		plain := route(t, r, tr)
		for range 1 + rnd.IntN(3) {
			l := away(names[rnd.IntN(4)], names[rnd.IntN(5)], -time.Duration(1+rnd.IntN(100))*time.Minute, time.Duration(rnd.IntN(100)-30)*time.Minute)
			l.Spared = rnd.IntN(2) == 0
			if _, runs := r.leaveOf(l.Person, noon); !runs {
				r.Leaves = append(r.Leaves, l)
			}
		}
		with, seen := route(t, r, tr), map[string]time.Time{}
		for _, row := range with {
			key := row.Person + "|" + row.Channel
			if _, twice := seen[key]; twice {
				t.Fatalf("%q is told twice: %q of %+v", key, lines(with, noon), r.Leaves)
			}
			seen[key] = row.NotBefore
		}
		for _, row := range plain {
			at, told := seen[row.Person+"|"+row.Channel]
			latest := row.NotBefore
			if l, gone := r.leaveOf(row.Person, noon); gone && l.Spared {
				latest = later(latest, noon.Add(alarms.SparedFor))
			}
			if !told || at.After(latest) {
				t.Fatalf("%s: without leaves %q, with %+v %q", fmt.Sprint(row.Person), lines(plain, noon), r.Leaves, lines(with, noon))
			}
		}
		if len(with) > len(plain) {
			more++
		}
	}
	if more < 300 {
		t.Errorf("only %d times somebody more was told: this tries nothing", more)
	}
}
