package scenario

import (
	"bytes"
	"cmp"
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
)

func printPlan(b *bytes.Buffer, p alarms.Plan) {
	if z := p.Words.Zone; z != nil {
		fmt.Fprintf(b, "  zone %s\n", word(z.String()))
	}
	if p.Words.Fahrenheit {
		b.WriteString("  fahrenheit\n")
	}
	if c := p.Chatter; c != (alarms.ChatterRule{}) {
		fmt.Fprintf(b, "  chatter %d raises in %s", cmp.Or(c.Raises, 4), length(cmp.Or(c.Within, 30*time.Minute)))
		if c.Hold > 0 {
			fmt.Fprintf(b, ", hold %s", length(c.Hold))
		}
		b.WriteByte('\n')
	}
	for _, l := range []string{reminderItems(&p.Reminders).after("remind", " "), repeatItems(&p.Reminders).after("repeat", " ")} {
		if strings.Contains(l, " ") {
			fmt.Fprintf(b, "  %s\n", l)
		}
	}
	if p.Link != (alarms.LinkRule{}) {
		fmt.Fprintf(b, "  link lost after %s", lengthOr(cmp.Or(p.Link.Delay, 30*time.Second), "none"))
		if p.Link.Priority != alarms.NoPriority {
			fmt.Fprintf(b, ", %s", p.Link.Priority)
		}
		b.WriteByte('\n')
	}
	for i := range p.Houses {
		printHouse(b, &p.Houses[i], p.Words.Zone)
	}
}

func lengthOr(d time.Duration, none string) string {
	if d < 0 {
		return none
	}
	return length(d)
}

// withName writes an ID and, where there is one, the name said in sentences.
func withName[T ~string](id T, name string) string {
	if name == "" {
		return word(string(id))
	}
	return fmt.Sprintf("%s %q", word(string(id)), name)
}

func printHouse(b *bytes.Buffer, h *alarms.House, zone *time.Location) {
	fmt.Fprintf(b, "  house %s\n", withName(h.ID, h.Name))
	if h.Latitude != 0 || h.Longitude != 0 {
		fmt.Fprintf(b, "    at %s, %s\n", compass(h.Latitude, "north", "south"), compass(h.Longitude, "east", "west"))
	}
	if h.Day.Fixed {
		fmt.Fprintf(b, "    daylight from %s to %s", timeOfDay(h.Day.Start), timeOfDay(h.Day.End))
		if zoneOf(h.Day.Zone).String() != zoneOf(zone).String() {
			fmt.Fprintf(b, " in %s", word(zoneOf(h.Day.Zone).String()))
		}
		b.WriteByte('\n')
	}
	if h.Day.Settle != 0 {
		fmt.Fprintf(b, "    settle %s\n", lengthOr(h.Day.Settle, "none"))
	}
	if h.Season != "" {
		fmt.Fprintf(b, "    season %s\n", word(string(h.Season)))
	}
	if h.Priority != alarms.NoPriority {
		fmt.Fprintf(b, "    silent %s\n", h.Priority)
	}
	for _, c := range h.Circuits {
		fmt.Fprintf(b, "    circuit %s\n", circuitItems(&c).after(withName(c.ID, c.Name), ", "))
	}
	for i := range h.Places {
		printPlace(b, &h.Places[i])
	}
	printControls(b, h)
	printLoop(b, h.Loop)
}

func compass(v float64, plus, minus string) string {
	if v < 0 {
		return figure(-v) + " " + minus
	}
	return figure(v) + " " + plus
}

func timeOfDay(d time.Duration) string {
	if d == 24*time.Hour {
		return "24:00"
	}
	at := time.Date(2000, 1, 1, 0, 0, 0, 0, time.UTC)
	return clockwork{zone: time.UTC, day: "2000-01-01"}.write(at.Add(d))
}
