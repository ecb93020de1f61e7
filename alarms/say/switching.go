package say

import (
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// switching writes one line of the log of switchings.
func (n *telling) switching() string {
	s, d := n.r.Switched, n.drive(n.h, n.o.Drive)
	ran, stopped, missed, found := n.say("ran"), n.say("stopped"), n.say("did not run"), n.say("found running")
	if d.Kind == alarms.IntakeShutter {
		ran, stopped, missed, found = n.say("opened"), n.say("shut"), n.say("did not open"), n.say("found open")
	}
	felt := alarms.Temperature
	if s.Felt != "" {
		felt = s.Felt
	}
	var parts []string
	if !s.Called.IsZero() {
		due := n.say("due at %s", n.second(s.Called))
		if s.Felt != "" && s.CalledTemp != nil {
			due += n.say(" (%s)", n.Value(felt, *s.CalledTemp))
		}
		parts = append(parts, due)
	}
	switch {
	case s.Missed:
		parts = append(parts, missed)
	case s.RanAfter > 0:
		parts = append(parts, n.say("%s after %s", ran, n.Span(s.RanAfter)))
	case !s.Ran.IsZero() && s.Ran.Equal(s.Called):
		parts = append(parts, n.say("%s at once", ran))
	case !s.Ran.IsZero():
		parts = append(parts, ran+" "+n.second(s.Ran))
	default:
		parts = append(parts, found)
	}
	switch {
	case s.StoppedTemp != nil:
		parts = append(parts, n.say("%s %s at %s", stopped, n.second(s.Stopped), n.Value(felt, *s.StoppedTemp)))
	case !s.Stopped.IsZero():
		parts = append(parts, stopped+" "+n.second(s.Stopped))
	case !s.Missed:
		parts = append(parts, n.say("not seen to the end"))
	}
	inferred := ""
	if s.Inferred {
		inferred = n.say(" (inferred from the temperatures alone)")
	}
	return n.say("%s, %s: %s%s%s.", n.h.Name, d.Name, strings.Join(parts, ", "), n.say(byWords[s.By]), inferred)
}

var byWords = map[alarms.SwitchedBy]tongue.Text{
	alarms.SwitchedByHand: " (by hand, as it seems)", alarms.SwitchedByTest: " (a test by hand)",
	alarms.SwitchedByMistake: " (though it should have been off)",
}

// second writes t as a clock time to the second.
func (m Locale) second(t time.Time) string { return m.hours(m.local(t), true) }

// tries says who tries what until when; of is behind the drive: " of Long House"
// where that is not said yet.
func (s *speaker) tries(h *alarms.House, t alarms.Trial, of string, now time.Time) string {
	return s.say("%s is trying the %s%s until %s.", s.orSomebody(t.By), s.drive(h, t.Drive).Name, of, s.Clock(t.Until, now))
}
