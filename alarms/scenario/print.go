package scenario

import (
	"bytes"
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
)

// Print writes the scenario as a file that Parse reads back: the same plan,
// inputs and expectations, series written out reading by reading. What an
// input carries beyond the fields its kind uses is left out, and so are
// years beyond 0 to 9999 and offsets with seconds.
func (s *Scenario) Print() []byte {
	var b bytes.Buffer
	b.WriteString(headline(s.Title) + "\n\n")
	if s.Story != "" {
		for l := range strings.Lines(s.Story) {
			b.WriteString(headline(l) + "\n")
		}
		b.WriteByte('\n')
	}
	b.WriteString("plan\n")
	printPlan(&b, s.Plan)
	w := printer{Buffer: &b}
	w.zone = zoneOf(s.Plan.Words.Zone)
	for _, step := range s.Steps {
		w.step(step)
	}
	if len(s.Steps) == 0 {
		b.WriteString("\non 2000-01-01\n")
	}
	return b.Bytes()
}

// headline keeps free words from being read as something else.
func headline(s string) string {
	s = strings.TrimSpace(strings.ReplaceAll(s, "\r", " "))
	if s == "plan" {
		return "plan."
	}
	if strings.HasPrefix(s, "#") {
		return "No. " + strings.TrimLeft(s, "# ")
	}
	return s
}

func zoneOf(z *time.Location) *time.Location {
	if z == nil {
		return time.UTC
	}
	return z
}

// printer writes timed lines.
type printer struct {
	*bytes.Buffer
	clockwork
}

// step writes the inputs one by one, each expectation below the last input
// that had happened when it was noticed.
func (w *printer) step(step Step) {
	want := step.Want
	for i, in := range step.Inputs {
		if in.At.IsZero() || !w.writable(in.At) {
			continue
		}
		w.input(in)
		for len(want) > 0 && i < len(step.Inputs)-1 && noticed(want[0]).Before(step.Inputs[i+1].At) {
			w.WriteString(w.writeWant(want[0]))
			want = want[1:]
		}
	}
	for _, t := range want {
		w.WriteString(w.writeWant(t))
	}
}

// noticed is when the core heard of t, by the core's own time.
func noticed(t alarms.Transition) time.Time {
	if t.Core.IsZero() { // read from a file, in which no clock was put
		return t.Noticed
	}
	return t.Core.Add(t.Noticed.Sub(t.Due))
}

func (w *printer) input(in alarms.Input) {
	if day := in.At.In(w.zone).Format(dayForm); day != w.day {
		w.day = day
		fmt.Fprintf(w, "\non %s\n", day)
	}
	w.last = in.At
	fmt.Fprintf(w, "%s %s\n", w.write(in.At), w.happening(in))
}

// happening is what a timed line says behind its time.
func (w *printer) happening(in alarms.Input) string {
	switch in.Kind {
	case alarms.ReadingIn:
		s := fmt.Sprintf("%s %s %s", word(string(in.Probe)), in.Quantity, figure(in.Value))
		if in.Retained {
			s += ", retained"
		}
		if !in.Measured.IsZero() && w.writable(in.Measured) {
			s += ", measured " + w.write(in.Measured)
		}
		return s
	case alarms.GarbledIn:
		s := word(string(in.Probe)) + " unreadable"
		if in.Quantity != "" {
			s += " " + string(in.Quantity)
		}
		return s + note(":", in.Note)
	case alarms.LinkDown:
		return "link lost" + note(":", in.Note)
	case alarms.LinkUp:
		return "link back" + note(":", in.Note)
	case alarms.RestartMarker:
		return "watch restarts" + note(":", in.Note)
	case alarms.StoodStill:
		return "watch stood still since " + w.write(in.Since)
	case alarms.ClockStep:
		if in.Shift < 0 {
			return "clock put back by " + in.Shift.Abs().String()
		}
		return "clock put forward by " + in.Shift.String()
	case alarms.TroubleOn:
		return "trouble " + word(string(in.Alarm)) + note(":", in.Note)
	case alarms.TroubleOff:
		return "trouble over " + word(string(in.Alarm))
	case alarms.Tick:
		return "tick"
	}
	return w.act(in)
}

// act is what a person does.
func (w *printer) act(in alarms.Input) string {
	who := word(in.By)
	if in.By == "" {
		who = "somebody"
	}
	subject := "alarm " + word(string(in.Alarm))
	if in.Probe != "" || in.Alarm == "" {
		subject = "probe " + word(string(in.Probe))
	}
	switch in.Kind {
	case alarms.Acknowledge:
		if in.Alarm == "" {
			return who + " acknowledges everything" + w.until(in)
		}
		return who + " acknowledges " + word(string(in.Alarm)) + w.until(in)
	case alarms.Shelve:
		return who + " shelves " + word(string(in.Alarm)) + w.until(in) + note(" because", in.Note)
	case alarms.Unshelve:
		return who + " unshelves " + word(string(in.Alarm))
	case alarms.TakeOut:
		return who + " takes out " + subject + note(" because", in.Note)
	case alarms.PutBack:
		return who + " puts back " + subject + note(" because", in.Note)
	case alarms.Calibrate:
		return fmt.Sprintf("%s calibrates %s %s by %s", who, word(string(in.Probe)), in.Quantity, figure(in.Value)) + note(" because", in.Note)
	case alarms.SetSelector:
		return fmt.Sprintf("%s turns %s of %s to %s", who, word(string(in.Selector)), word(string(in.House)), word(in.Position))
	case alarms.GoAway:
		s := word(in.Person) + " goes away" + w.until(in)
		if in.StandIn != "" {
			s += " with " + word(in.StandIn) + " first"
		}
		if in.Spared {
			s += " and spared"
		}
		return s
	case alarms.ComeBack:
		return word(in.Person) + " comes back"
	default:
		return fmt.Sprintf("%s sets %s to %s", who, word(string(in.House)), word(string(in.Season)))
	}
}

// until is the end that a person gave, if it can be written.
func (w *printer) until(in alarms.Input) string {
	if in.Until.IsZero() || !w.writable(in.Until) {
		return ""
	}
	return " until " + w.write(in.Until)
}

func note(intro, s string) string {
	if s == "" {
		return ""
	}
	return intro + " " + sentence(s)
}
