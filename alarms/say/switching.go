package say

import (
	"fmt"
	"strings"
	"time"

	"telltale/alarms"
)

// switching writes one line of the log of switchings.
func (n *telling) switching() string {
	s, d := n.r.Switched, n.drive(n.h, n.o.Drive)
	ran, stopped, missed, found := "ran", "stopped", "did not run", "found running"
	if d.Kind == alarms.IntakeShutter {
		ran, stopped, missed, found = "opened", "shut", "did not open", "found open"
	}
	felt := alarms.Temperature
	if s.Felt != "" {
		felt = s.Felt
	}
	var parts []string
	if !s.Called.IsZero() {
		due := "due at " + n.second(s.Called)
		if s.Felt != "" && s.CalledTemp != nil {
			due += fmt.Sprintf(" (%s)", n.Value(felt, *s.CalledTemp))
		}
		parts = append(parts, due)
	}
	switch {
	case s.Missed:
		parts = append(parts, missed)
	case s.RanAfter > 0:
		parts = append(parts, ran+" after "+n.Span(s.RanAfter))
	case !s.Ran.IsZero() && s.Ran.Equal(s.Called):
		parts = append(parts, ran+" at once")
	case !s.Ran.IsZero():
		parts = append(parts, ran+" "+n.second(s.Ran))
	default:
		parts = append(parts, found)
	}
	switch {
	case s.StoppedTemp != nil:
		parts = append(parts, fmt.Sprintf("%s %s at %s", stopped, n.second(s.Stopped), n.Value(felt, *s.StoppedTemp)))
	case !s.Stopped.IsZero():
		parts = append(parts, stopped+" "+n.second(s.Stopped))
	case !s.Missed:
		parts = append(parts, "not seen to the end")
	}
	inferred := ""
	if s.Inferred {
		inferred = " (inferred from the temperatures alone)"
	}
	return fmt.Sprintf("%s, %s: %s%s%s.", n.h.Name, d.Name, strings.Join(parts, ", "), byWords[s.By], inferred)
}

var byWords = map[alarms.SwitchedBy]string{
	alarms.SwitchedByHand: " (by hand, as it seems)", alarms.SwitchedByTest: " (a test by hand)",
	alarms.SwitchedByMistake: " (though it should have been off)",
}

// second writes t as a clock time to the second.
func (m Locale) second(t time.Time) string { return m.hours(m.local(t), true) }

// tries says who tries what until when; of is behind the drive: " of Long House"
// where that is not said yet.
func (s *speaker) tries(h *alarms.House, t alarms.Trial, of string, now time.Time) string {
	return fmt.Sprintf("%s is trying the %s%s until %s.", orSomebody(t.By), s.drive(h, t.Drive).Name, of, s.Clock(t.Until, now))
}
