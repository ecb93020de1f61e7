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
	var r items
	r.reminder("low", "after", p.Reminders.Low)
	r.reminder("medium", "after", p.Reminders.Medium)
	r.reminder("high", "after", p.Reminders.High)
	if len(r) > 0 {
		fmt.Fprintf(b, "  remind %s\n", r)
	}
	var again items
	again.reminder("high", "every", p.Reminders.RepeatHigh)
	again.reminder("medium", "every", p.Reminders.RepeatMedium)
	if len(again) > 0 {
		fmt.Fprintf(b, "  repeat %s\n", again)
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

// items are parts of a line, parted by commas.
type items []string

func (it items) String() string { return strings.Join(it, ", ") }

func (it *items) reminder(name, how string, d time.Duration) {
	switch {
	case d < 0:
		*it = append(*it, name+" never")
	case d > 0:
		*it = append(*it, name+" "+how+" "+length(d))
	}
}

func (it *items) limit(name string, l alarms.Limit) {
	if l.Set {
		*it = append(*it, name+" "+figure(l.Value))
	}
}

func (it *items) number(name string, v float64) {
	if v != 0 {
		*it = append(*it, name+" "+figure(v))
	}
}

func (it *items) length(name string, d time.Duration, none string) {
	if d != 0 {
		*it = append(*it, name+" "+lengthOr(d, none))
	}
}

func (it *items) priority(name string, p alarms.Priority) {
	if p != alarms.NoPriority {
		*it = append(*it, name+" "+p.String())
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
		fmt.Fprintf(b, "    circuit %s", withName(c.ID, c.Name))
		if c.Priority != alarms.NoPriority {
			fmt.Fprintf(b, ", %s", c.Priority)
		}
		if c.FedBy != "" {
			fmt.Fprintf(b, ", fed by %s", word(string(c.FedBy)))
		}
		if c.Witness != "" {
			fmt.Fprintf(b, ", witness %s", word(string(c.Witness)))
		}
		if c.Zero != "" {
			fmt.Fprintf(b, ", zero %s", c.Zero)
		}
		b.WriteByte('\n')
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

func printPlace(b *bytes.Buffer, p *alarms.Place) {
	fmt.Fprintf(b, "    place %s\n", withName(p.ID, p.Name))
	if p.Unwatched != alarms.NoPriority {
		fmt.Fprintf(b, "      unwatched %s\n", p.Unwatched)
	}
	if p.LeafBelowAir.Set {
		fmt.Fprintf(b, "      leaf %s below air\n", figure(p.LeafBelowAir.Value))
	}
	var differ items
	for _, q := range alarms.Quantities {
		if v, ok := p.Disagree[q]; ok {
			differ = append(differ, string(q)+" "+figure(v))
		}
	}
	differ.length("for", p.DisagreeFor, "none")
	if len(differ) > 0 {
		fmt.Fprintf(b, "      disagree %s\n", differ)
	}
	for _, band := range p.Bands {
		printBand(b, band)
	}
	for _, r := range p.Rates {
		printRate(b, r)
	}
	for _, x := range p.Exposures {
		printExposure(b, x)
	}
	for _, probe := range p.Probes {
		printProbe(b, probe)
	}
}

func printBand(b *bytes.Buffer, band alarms.Band) {
	head := string(band.Quantity)
	if band.When != alarms.Always {
		head += " by " + band.When.String()
	}
	for i, s := range band.Seasons {
		head += map[bool]string{true: " in ", false: " and "}[i == 0] + word(string(s))
	}
	var it items
	it.limit("low-low", band.LowLow)
	it.limit("low", band.Low)
	it.limit("high", band.High)
	it.limit("high-high", band.HighHigh)
	it.number("deadband", band.Deadband)
	it.length("delay", band.Delay, "none")
	it.length("quick", band.QuickDelay, "none")
	it.length("clear", band.ClearDelay, "none")
	it.priority("priority", band.Priority)
	it.priority("worst", band.Worst)
	if band.Source != "" || len(it) == 0 {
		it = append(it, "source "+word(band.Source))
	}
	fmt.Fprintf(b, "      %s: %s\n", head, it)
}

func printRate(b *bytes.Buffer, r alarms.RateLimit) {
	var it items
	it.limit("rise", r.Rise)
	it.limit("fall", r.Fall)
	it.length("window", r.Window, "none")
	it.length("clear", r.ClearDelay, "none")
	if r.Priority != alarms.NoPriority || len(it) == 0 {
		it = append(it, "priority "+r.Priority.String())
	}
	fmt.Fprintf(b, "      %s rate: %s\n", r.Quantity, it)
}

func printProbe(b *bytes.Buffer, p alarms.Probe) {
	head := withName(p.ID, p.Name)
	if p.Kind != alarms.KindPlain {
		head += " " + word(string(p.Kind))
	}
	var it items
	if p.Circuit != "" {
		it = append(it, "on "+word(string(p.Circuit)))
	}
	it.length("every", p.Every, "none")
	it.number("misses", p.MissesAllowed)
	it.priority("priority", p.Priority)
	if len(it) > 0 {
		head += ", " + it.String()
	}
	var streams []string
	for _, s := range p.Streams {
		streams = append(streams, streamWords(s))
	}
	fmt.Fprintf(b, "      probe %s: %s\n", head, strings.Join(streams, "; "))
}

func streamWords(s alarms.Stream) string {
	var it items
	it.limit("min", s.Min)
	it.limit("max", s.Max)
	if s.Jump < 0 {
		it = append(it, "jump any")
	} else {
		it.number("jump", s.Jump)
	}
	it.length("stuck", s.StuckFor, "never")
	it.number("offset", s.Offset)
	it.limit("weak", s.Weak)
	return strings.TrimSpace(string(s.Quantity) + " " + it.String())
}
