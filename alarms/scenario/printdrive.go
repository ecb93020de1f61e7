package scenario

import (
	"bytes"
	"fmt"
	"strings"

	"telltale/alarms"
)

// printControls writes the mechanical control of a house.
func printControls(b *bytes.Buffer, h *alarms.House) {
	for _, c := range h.Controls {
		var stages []string
		for _, s := range c.Stages {
			stages = append(stages, stageWords(s))
		}
		fmt.Fprintf(b, "    control %s, at %s: %s\n", withName(c.ID, c.Name), word(string(c.Place)), strings.Join(stages, "; "))
	}
	for _, d := range h.Drives {
		fmt.Fprintf(b, "    drive %s\n", driveWords(d))
	}
	for _, s := range h.Selectors {
		var it items
		if s.At != "" {
			it = append(it, "starts "+word(s.At))
		}
		if s.Probe != "" {
			it = append(it, "told by "+word(string(s.Probe)))
		}
		var positions []string
		for _, p := range s.Positions {
			positions = append(positions, positionWords(p))
		}
		fmt.Fprintf(b, "    selector %s: %s\n", it.after(withName(s.ID, s.Name)), strings.Join(positions, "; "))
	}
	for _, o := range h.Openings {
		fmt.Fprintf(b, "    opening %s\n", openingWords(o))
	}
}

func openingWords(o alarms.HandOpening) string {
	it := items{"at " + word(string(o.Place)), "by " + word(string(o.Probe))}
	if o.Inverted {
		it[1] += " inverted"
	}
	switch {
	case o.ShutBy < 0:
		it = append(it, "shut by never")
	case o.ShutBy > 0:
		it = append(it, "shut by "+timeOfDay(o.ShutBy))
	}
	it.number("falls", o.Falls)
	it.priority("priority", o.Priority)
	return it.after(withName(o.ID, o.Name) + " " + string(o.Kind))
}

// after writes the items behind a head, with a comma if there are any.
func (it items) after(head string) string { return items(append([]string{head}, it...)).String() }

// names adds a list such as "with fan and shutter".
func names[T ~string](it *items, intro string, list []T) {
	if len(list) == 0 {
		return
	}
	words := make([]string, len(list))
	for i, n := range list {
		words[i] = word(string(n))
	}
	*it = append(*it, intro+" "+strings.Join(words, " and "))
}

func stageWords(s alarms.Stage) string {
	head := fmt.Sprintf("%s from %s", s.Mode, figure(s.SetPoint))
	if s.SetPointNight.Set {
		head += " and by night " + figure(s.SetPointNight.Value)
	}
	if s.Name != "" {
		head = word(s.Name) + " " + head
	}
	var it items
	it.number("differential", s.Differential)
	it.number("tolerance", s.Tolerance)
	names(&it, "drives", s.Drives)
	names(&it, "in", s.Seasons)
	return it.after(head)
}

func driveWords(d alarms.Drive) string {
	var it items
	it.length("start", d.Start, "none")
	it.length("stop", d.Stop, "none")
	it.length("effect", d.Effect, "none")
	names(&it, "with", d.With)
	names(&it, "never with", d.Never)
	for _, r := range d.Runs {
		it = append(it, runWords(r)+" in "+word(string(r.Season)))
	}
	it.length("timer tolerance", d.TimerTolerance, "none")
	names(&it, "barred in", d.Barred)
	if d.MaxStarts > 0 {
		it = append(it, fmt.Sprintf("starts %d", d.MaxStarts))
	}
	if d.Circuit != "" {
		it = append(it, "circuit "+word(string(d.Circuit)))
	}
	it.priority("priority", d.Priority)
	head := it.after(withName(d.ID, d.Name) + " " + string(d.Kind))
	var evidence []string
	for _, e := range d.Evidence {
		evidence = append(evidence, evidenceWords(e))
	}
	if len(evidence) == 0 {
		return head
	}
	return head + ": " + strings.Join(evidence, "; ")
}

func runWords(r alarms.Run) string {
	switch {
	case len(r.Hours) > 0:
		var all []string
		for _, h := range r.Hours {
			all = append(all, timeOfDay(h.From)+" to "+timeOfDay(h.To))
		}
		return "timer " + strings.Join(all, " and ")
	case r.OnFor != 0 || r.OffFor != 0:
		return fmt.Sprintf("by turns %s on and %s off", length(r.OnFor), length(r.OffFor))
	case r.On:
		return "on"
	}
	return "off"
}

func evidenceWords(e alarms.Evidence) string {
	var it items
	it.limit("above", e.Above)
	it.limit("usual-low", e.UsualLow)
	it.limit("usual-high", e.UsualHigh)
	if e.Inverted {
		it = append(it, "inverted")
	}
	return strings.TrimSpace(word(string(e.Probe)) + " " + string(e.Quantity) + " " + it.String())
}

func positionWords(p alarms.Position) string {
	var it items
	names(&it, "follow", p.Follow)
	names(&it, "on", p.On)
	names(&it, "off", p.Off)
	names(&it, "covered", p.Covered)
	names(&it, "shut", p.Shut)
	it.number("flow", p.Flow)
	if p.Direction != "" {
		it = append(it, string(p.Direction))
	}
	if p.Closed {
		it = append(it, "closed")
	}
	names(&it, "in", p.Seasons)
	return strings.TrimSpace(word(p.Name) + " " + it.String())
}
