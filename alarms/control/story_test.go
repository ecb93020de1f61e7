package control

import (
	"fmt"
	"strconv"
	"strings"
	"testing"
	"time"

	"telltale/alarms/timing"
)

// A story is events and, indented below the event that brings them, what is
// told: "12:05 did not start 0 begins". Lines that are expected and do not
// come, or come and are not expected, fail.
type story struct {
	name string
	spec Spec
	text string
}

var storyDay = time.Date(2026, 10, 5, 0, 0, 0, 0, time.UTC)

func clock(t *testing.T, s string) timing.Instant {
	t.Helper()
	days := 0
	if d, rest, ok := strings.Cut(s, "+"); ok {
		days, _ = strconv.Atoi(d)
		s = rest
	}
	form := "15:04:05"
	if len(s) == 5 {
		form = "15:04"
	}
	at, err := time.Parse(form, s)
	if err != nil {
		t.Fatal(err)
	}
	return timing.At(storyDay.Add(time.Duration(days)*24*time.Hour + at.Sub(at.Truncate(24*time.Hour))))
}

func spoken(m timing.Instant) string {
	at := m.UTC()
	s := at.Format("15:04")
	if at.Second() != 0 {
		s = at.Format("15:04:05")
	}
	if d := int(at.Sub(storyDay) / (24 * time.Hour)); d > 0 {
		s = fmt.Sprintf("%d+%s", d, s)
	}
	return s
}

func number(t *testing.T, s string) float64 {
	t.Helper()
	v, err := strconv.ParseFloat(s, 64) // "nan" is one
	if err != nil {
		t.Fatal(err)
	}
	return v
}

var wishes = map[string]Wish{"free": Free, "follow": Follow, "run": Run, "turns": ByTurns, "rest": Rest, "barred": Barred}

// tell plays one line: "12:00 air 31", "12:00 outside 4", "12:00 drive 0
// evidence 0 is 1", "12:00 wants follow run", "12:00 acts yes no",
// "12:00 test 0 until 12:10", "12:00 guess 0 runs", "12:00 day", "blind", "look".
func tell(t *testing.T, j *Judge, line string) Told {
	w := strings.Fields(line)
	at := clock(t, w[0])
	switch w[1] {
	case "air":
		return j.Feel(at, 0, number(t, w[2]))
	case "outside":
		return j.Outside(at, number(t, w[2]))
	case "drive":
		return j.Evidence(at, int(number(t, w[2])), int(number(t, w[4])), number(t, w[6]))
	case "wants":
		a := Arrangement{}
		for _, x := range w[2:] {
			wish, ok := wishes[x]
			if !ok {
				t.Fatalf("no wish %q", x)
			}
			a.Wants = append(a.Wants, Want{Wish: wish, OnFor: 10 * time.Minute, OffFor: 20 * time.Minute})
		}
		return j.Arrange(at, a)
	case "acts":
		a := Arrangement{}
		for _, x := range w[2:] {
			a.Acts = append(a.Acts, x == "yes")
		}
		return j.Arrange(at, a)
	case "test":
		return j.Test(at, int(number(t, w[2])), clock(t, w[4]))
	case "guess":
		happened := at
		if len(w) > 5 { // since 12:00
			happened = clock(t, w[5])
		}
		return j.Inferred(at, int(number(t, w[2])), w[3] == "runs", happened)
	case "day":
		return j.Day(at)
	case "blind":
		return j.Blind(at)
	case "look":
		return j.Advance(at)
	}
	t.Fatalf("cannot read %q", line)
	return Told{}
}

func lines(told Told) (out []string) {
	for _, f := range told.Findings {
		verb, of := "ends", f.Drive
		if f.On {
			verb = "begins"
		}
		if of < 0 {
			of = f.Stage
		}
		out = append(out, fmt.Sprintf("    %s %v %d %s", spoken(f.Due), f.Kind, of, verb))
	}
	names := [...]string{"nobody", "thermostat", "wish", "test", "hand", "mistake"}
	for _, l := range told.Switchings {
		s := fmt.Sprintf("    log %d by %s:", l.Drive, names[l.By])
		if l.Inferred {
			s = fmt.Sprintf("    log %d inferred:", l.Drive)
		}
		if l.Called != 0 {
			s += fmt.Sprintf(" called at %.1f %s", l.CalledTemp, spoken(l.Called))
		}
		if l.Missed {
			s += ", missed"
		}
		if l.RanAfter != 0 {
			s += fmt.Sprintf(" ran after %v", l.RanAfter)
		} else if l.Ran != 0 {
			s += fmt.Sprintf(" ran at %s", spoken(l.Ran))
		}
		if l.Stopped != 0 {
			s += fmt.Sprintf(" stopped %.1f %s", l.StoppedTemp, spoken(l.Stopped))
		}
		if l.Right {
			s += ", right"
		}
		out = append(out, s)
	}
	return out
}

func (s story) run(t *testing.T) {
	j := judge(s.spec)
	var want, got []string
	for line := range strings.Lines(s.text) {
		line = strings.TrimRight(strings.ReplaceAll(line, "\t", ""), "\n")
		if strings.TrimSpace(line) == "" {
			continue
		}
		want = append(want, line)
		if strings.HasPrefix(line, "    ") {
			continue
		}
		got = append(got, line)
		got = append(got, lines(tell(t, j, line))...)
	}
	if !same(want, got) {
		t.Errorf("got\n%s\nwant\n%s", strings.Join(got, "\n"), strings.Join(want, "\n"))
	}
}

func TestStories(t *testing.T) {
	for _, s := range append(stories, moreStories...) {
		t.Run(s.name, s.run)
	}
}
