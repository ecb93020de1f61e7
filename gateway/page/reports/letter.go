package reports

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/report"
	"telltale/gateway/page/words"
)

// LetterOf is what a letter of the week tells of.
type LetterOf struct {
	Garden  string
	Week    report.Span
	Houses  []report.Report // of the week
	Unread  string          // why what was measured cannot be read; "": it can
	Picture alarms.Picture  // as of its end
	Told    []report.Told   // to everybody, of all
	Drill   time.Time       // when the one at the start of a season was last done; zero: never
	Others  []string        // sentences on the trials of others
}

// Ask is how a letter asks to be confirmed over a channel.
type Ask struct {
	Link   string // "": none
	Device bool   // the message itself opens it
	Text   bool   // by text message
}

func (a Ask) sentence(w words.Words) string {
	switch {
	case a.Device:
		return w.Say("Tap this message and say that it reached you: it is the trial of the way that alarms take.")
	case a.Link != "":
		return w.Say("Say with one tap that this letter reached you, as a trial of the way that alarms take: %s", a.Link)
	case a.Text:
		return w.Say("Reply YES: it is the trial of the way that alarms take.")
	}
	return w.Say("That you read this shows that alarms can reach you this way. The watch cannot know it: it has no link to offer.")
}

// A letter keeps to what is read on a phone.
const (
	letterPlaces = 4 // of a house
	letterDrives = 4
	letterOn     = 3 // alarms that are on
	lowBattery   = 25.0
	oldCheck     = 365 * 24 * time.Hour // of a calibration, or a drill. Common practice, no source.
)

// LetterText writes a letter, numbers first and what to do at its end.
func LetterText(w words.Words, o LetterOf, ask Ask) (headline, text string) {
	rw := reportWords{w, report.Report{Span: o.Week}}
	var b strings.Builder
	b.WriteString(w.Say("%s, %s to %s", o.Garden, rw.day(o.Week.From), rw.day(o.Week.To)) + "\n")
	if o.Unread != "" {
		b.WriteString("\n" + w.Say("What was measured cannot be read: %s.", strings.TrimSuffix(o.Unread, ".")) + "\n")
	}
	for _, r := range o.Houses {
		b.WriteString("\n" + r.Name + "\n")
		for _, line := range (reportWords{w, r}).letterHouse(o.Picture) {
			b.WriteString("- " + line + "\n")
		}
	}
	b.WriteString("\n" + w.Say("The watch") + "\n")
	for _, line := range rw.letterWatch(o) {
		b.WriteString("- " + line + "\n")
	}
	b.WriteString("\n" + w.Say("What to do") + "\n")
	for i, line := range append([]string{ask.sentence(w)}, rw.letterTasks(o)...) {
		fmt.Fprintf(&b, "%d. %s\n", i+1, line)
	}
	return w.Say("Letter of the week: %s", rw.letterFacts(o, 3)), strings.TrimSuffix(b.String(), "\n")
}

// shortLetter is how many letters a letter may have in one text message, whose ID comes
// behind it: 160 of the default alphabet (3GPP TS 23.038).
const shortLetter = 150

// LetterShort is a letter for one text message.
func LetterShort(w words.Words, o LetterOf) string {
	rw := reportWords{w, report.Report{Span: o.Week}}
	for n := 5; n > 0; n-- {
		s := w.Say("Letter of the week: %s. Reply YES to show that it reached you.", rw.letterFacts(o, n))
		if len([]rune(s)) <= shortLetter {
			return s
		}
	}
	return w.Say("Letter of the week: it is too long for a text message. Reply YES to show that it reached you.")
}

func (w reportWords) day(t time.Time) string { return w.Stamp(t, "Mon 2 January 2006") }

// letterFacts are the most telling figures, at most so many.
func (w reportWords) letterFacts(o LetterOf, most int) string {
	var all []string
	for _, r := range o.Houses {
		if m := widest(r); m != nil {
			all = append(all, w.Say("%s %s to %s", r.Name, w.Value(m.Quantity, m.Lowest.Value), w.Value(m.Quantity, m.Highest.Value)))
		}
	}
	n, high := 0, 0
	for _, r := range o.Houses {
		n, high = max(n, r.Load.Alarms), max(high, r.Load.ByPriority[alarms.High])
	}
	switch {
	case len(o.Houses) == 1 && n == 0:
		all = append([]string{w.Say("no alarm")}, all...)
	case len(o.Houses) == 1:
		all = append(all, w.Say("alarms: %d (%d of high priority)", n, high))
	}
	if len(all) == 0 {
		return w.Say("nothing was measured")
	}
	return strings.Join(all[:min(most, len(all))], ", ")
}

// widest is the temperature of the place by which a house is judged, or that went furthest.
func widest(r report.Report) (found *report.Measure) {
	for i := range r.Measures {
		m := &r.Measures[i]
		if m.Quantity != alarms.Temperature || m.Known == 0 {
			continue
		}
		if found == nil || m.Banded && !found.Banded || m.Banded == found.Banded && m.Highest.Value-m.Lowest.Value > found.Highest.Value-found.Lowest.Value {
			found = m
		}
	}
	return found
}

// letterHouse are the lines of one house.
func (w reportWords) letterHouse(p alarms.Picture) (out []string) {
	out = append(out, w.letterClimate()...)
	for i, d := range w.r.Drives {
		if i == letterDrives {
			break
		}
		out = append(out, w.letterDrive(d))
	}
	for _, h := range p.Houses {
		if h.ID == w.r.House {
			for _, d := range h.Dials {
				out = append(out, w.letterDial(d))
			}
		}
	}
	if l := w.r.Loop; l != nil {
		out = append(out, w.Say("Ground loop: it brought %s of heat, took %s out, and its fan used %s; whole days counted: %d.",
			w.KWh(l.Heat), w.KWh(l.Cold), w.KWh(l.Fan), l.Days))
	}
	l := w.r.Load
	if l.Alarms == 0 {
		return append(out, w.Say("No alarm asked for anybody."))
	}
	return append(out, w.Say("Alarms: %d; %d of high priority, %d of medium, %d of low, with those of the watch itself.",
		l.Alarms, l.ByPriority[alarms.High], l.ByPriority[alarms.Medium], l.ByPriority[alarms.Low]))
}

// letterClimate are the temperatures, those with limits before all.
func (w reportWords) letterClimate() (out []string) {
	banded := slices.ContainsFunc(w.r.Measures, func(m report.Measure) bool { return m.Banded && m.Quantity == alarms.Temperature })
	for _, m := range w.r.Measures {
		switch {
		case m.Quantity != alarms.Temperature, m.Banded != banded, len(out) == letterPlaces:
		case m.Known == 0:
			out = append(out, words.Capital(w.Say("%s: nothing is known of its temperature.", w.place(m.Place))))
		default:
			out = append(out, words.Capital(w.measured(m)))
		}
	}
	return out
}

func (w reportWords) letterDrive(d report.Drive) string {
	name := words.Capital(cmp.Or(d.Name, string(d.ID)))
	if d.Right+d.Missed == 0 {
		return w.Say("%s: starts %d, ran for %s.", name, d.Starts, w.hours(d.Ran))
	}
	return w.Say("%s: starts %d, ran for %s; called, it switched as it should %s and did not %s.", name, d.Starts, w.hours(d.Ran), w.Times(d.Right), w.Times(d.Missed))
}

// letterDial is the error of a dial.
func (w reportWords) letterDial(d alarms.Dial) string {
	name, set, at, far := words.Capital(d.Control), w.Value(d.Quantity, d.Set), w.Value(d.Quantity, d.Found), w.Difference(d.Quantity, d.Found-d.Set)
	if d.Found < d.Set {
		return w.Say("%s, %s: set to %s, it switches on at %s: %s below the dial, by %d switchings.", name, d.Stage, set, at, far, d.Count)
	}
	return w.Say("%s, %s: set to %s, it switches on at %s: %s above the dial, by %d switchings.", name, d.Stage, set, at, far, d.Count)
}

// letterWatch are the lines of the watch itself.
func (w reportWords) letterWatch(o LetterOf) (out []string) {
	for _, t := range toldTo(o.Told) {
		if lost := t.GivenUp + t.Undelivered; lost > 0 {
			out = append(out, w.Say("%s was told %s, of which %d did not arrive.", t.Person, w.Times(t.Of()), lost))
		} else {
			out = append(out, w.Say("%s was told %s.", t.Person, w.Times(t.Of())))
		}
	}
	if len(out) == 0 {
		out = append(out, w.Say("Nobody was told anything."))
	}
	out = append(out, o.Others...)
	if p, v := weakest(o.Picture); p != "" {
		out = append(out, w.Say("Of the batteries, that of probe %s is the lowest: %s.", p, w.Value(alarms.Battery, v)))
	}
	switch of, at, never := oldest(o.Picture); {
	case of == "" && never > 0:
		out = append(out, w.Say("No probe was ever calibrated."))
	case of != "":
		out = append(out, w.Say("The oldest calibration is that of probe %s, of %s; probes never calibrated: %d.", of, w.Stamp(at, "2 January 2006"), never))
	}
	if o.Drill.IsZero() {
		return append(out, w.Say("The drill at the start of a season was never done."))
	}
	return append(out, w.Say("The drill at the start of a season was last done on %s.", w.Stamp(o.Drill, "2 January 2006")))
}

// toldTo adds up the channels of each person.
func toldTo(all []report.Told) (out []report.Told) {
	for _, t := range all {
		i := slices.IndexFunc(out, func(x report.Told) bool { return x.Person == t.Person })
		if i < 0 {
			i, out = len(out), append(out, report.Told{Person: t.Person})
		}
		x := &out[i]
		x.HandedOver, x.Delivered, x.Undelivered = x.HandedOver+t.HandedOver, x.Delivered+t.Delivered, x.Undelivered+t.Undelivered
		x.Failed, x.GivenUp = x.Failed+t.Failed, x.GivenUp+t.GivenUp
	}
	return out
}

// probes are all of a picture.
func probes(p alarms.Picture) (all []alarms.ProbePicture) {
	for _, h := range p.Houses {
		for _, pl := range h.Places {
			all = append(all, pl.Probes...)
		}
	}
	return all
}

// weakest is the probe with the emptiest battery, of those that tell of theirs; "": none does.
func weakest(p alarms.Picture) (name string, percent float64) {
	for _, pr := range probes(p) {
		if pr.Battery != nil && (name == "" || *pr.Battery < percent) {
			name, percent = pr.Name, *pr.Battery
		}
	}
	return name, percent
}

// oldest is the probe whose last calibration was first, and how many were never
// calibrated, of those that measure what can be.
func oldest(p alarms.Picture) (name string, at time.Time, never int) {
	for _, pr := range probes(p) {
		can := slices.ContainsFunc(pr.Values, func(v alarms.ProbeValue) bool { return v.Quantity.Facts().Offset.Most > 0 })
		if can && len(pr.Calibrations) == 0 {
			never++
		}
		for _, c := range pr.Calibrations {
			if name == "" || c.At.Before(at) {
				name, at = pr.Name, c.At
			}
		}
	}
	return name, at, never
}

// letterTasks are what is to be done beside confirming the letter.
func (w reportWords) letterTasks(o LetterOf) (out []string) {
	on := 0
	for _, a := range o.Picture.Alarms {
		if !a.State.Active() || on == letterOn {
			continue
		}
		on++
		out = append(out, w.Say("See to this, which is on now: %s.", a.Title))
	}
	for _, h := range o.Picture.Houses {
		for _, d := range h.Drives {
			if !d.Unproven.IsZero() {
				out = append(out, w.Say("Test the %s of %s by hand: since %s nothing has shown that it works.", d.Name, h.Name, w.Stamp(d.Unproven, "2 January")))
			}
		}
	}
	if p, v := weakest(o.Picture); p != "" && v < lowBattery {
		out = append(out, w.Say("Put a new battery into probe %s.", p))
	}
	if slices.ContainsFunc(o.Told, func(t report.Told) bool { return t.GivenUp+t.Undelivered > 0 }) {
		out = append(out, w.Say("Look under Who was told on the page why messages did not arrive."))
	}
	if of, at, _ := oldest(o.Picture); of != "" && o.Week.To.Sub(at) > oldCheck {
		out = append(out, w.Say("Hold probe %s against a thermometer that you trust, and calibrate it.", of))
	}
	if o.Week.To.Sub(o.Drill) > oldCheck {
		out = append(out, w.Say("Do the drill at the start of a season: Drill on the page says how."))
	}
	return out
}

// TrialText is a trial: to somebody who gets no letters.
func TrialText(w words.Words, person string, ask Ask) (headline, text, short string) {
	how := w.Say("If you read it there is nothing else to do.")
	switch {
	case ask.Device:
		how = w.Say("Tap this message and say that it reached you; else there is nothing to do.")
	case ask.Link != "":
		how = w.Say("Say with one tap that it reached you; else there is nothing to do: %s", ask.Link)
	}
	return w.Say("TRIAL: nothing is wrong"),
		w.Say("TRIAL. Nothing is wrong. Once a month Telltale tries whether a message reaches you, %s, because you are told when something is.", person) + " " + how,
		w.Say("TRIAL, nothing is wrong: Telltale tries whether it reaches you. Reply YES to show that it does.")
}

// Confirmed says whether somebody has confirmed the trial of a day.
func Confirmed(w words.Words, person string, day time.Time, has bool) string {
	if has {
		return w.Say("%s has confirmed the trial of %s.", person, w.Stamp(day, "2 January"))
	}
	return w.Say("%s has not confirmed the trial of %s.", person, w.Stamp(day, "2 January"))
}
