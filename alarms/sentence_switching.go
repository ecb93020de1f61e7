package alarms

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms/control"
)

// switchingSentence writes one line of the log of switchings.
func (m *mechanism) switchingSentence(s *control.Switching) string {
	w := m.engine.plan.Words
	head := fmt.Sprintf("%s, %s:", m.house.plan.Name, m.driveName(s.Drive))
	ran, stopped, missed, found := "ran", "stopped", "did not run", "found running"
	if m.drives[s.Drive].Kind == IntakeShutter {
		ran, stopped, missed, found = "opened", "shut", "did not open", "found open"
	}
	var parts []string
	if s.Called != 0 {
		due := "due at " + clock(w, m.at(s.Called))
		if s.Stage >= 0 {
			due += fmt.Sprintf(" (%s)", w.Value(m.quantityAt(s.Stage), s.CalledTemp))
		}
		parts = append(parts, due)
	}
	switch {
	case s.Missed:
		parts = append(parts, missed)
	case s.RanAfter > 0:
		parts = append(parts, ran+" after "+Span(s.RanAfter))
	case s.Ran != 0 && s.Ran == s.Called:
		parts = append(parts, ran+" at once")
	case s.Ran != 0:
		parts = append(parts, ran+" "+clock(w, m.at(s.Ran)))
	default:
		parts = append(parts, found)
	}
	switch {
	case s.StopKnown:
		parts = append(parts, fmt.Sprintf("%s %s at %s", stopped, clock(w, m.at(s.Stopped)), w.Value(m.quantityAt(s.Stage), s.StoppedTemp)))
	case s.Stopped != 0:
		parts = append(parts, stopped+" "+clock(w, m.at(s.Stopped)))
	case !s.Missed:
		parts = append(parts, "not seen to the end")
	}
	return head + " " + strings.Join(parts, ", ") + byWords[s.By] + inferredWords(s) + "."
}

var byWords = map[control.By]string{
	control.ByHand: " (by hand, as it seems)", control.ByTest: " (a test by hand)", control.ByMistake: " (though it should have been off)",
}

func inferredWords(s *control.Switching) string {
	if s.Inferred {
		return " (inferred from the temperatures alone)"
	}
	return ""
}

func clock(w Words, t time.Time) string {
	zone := w.Zone
	if zone == nil {
		zone = time.UTC
	}
	return t.In(zone).Format("15:04:05")
}
