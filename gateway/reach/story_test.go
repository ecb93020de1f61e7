package reach

import (
	"testing"

	"telltale/alarms"
)

// A warning and the alarm of its limit are one thread of messages, and what is told of
// both together is of that thread; another limit has its own.
func TestAWarningIsInTheThreadOfItsLimit(t *testing.T) {
	limit := tooHot(alarms.High)
	warning := limit
	warning.Alarm, warning.Reason.Rule = limit.Alarm.Ahead(), alarms.RuleAhead
	warning.ID = string(warning.Alarm) + "#1"
	other := limit
	other.Alarm = "long-house/ridge/temperature/high"
	s := startMail(t)
	m := mailTo(t, s)
	for _, ts := range [][]alarms.Transition{{warning}, {limit}, {warning, limit}, {other}} {
		if err := m.Tell(t.Context(), telling(garden(), "mail", ts...)); err != nil {
			t.Fatal(err)
		}
	}
	var refs []string
	for _, d := range s.deliveries() {
		refs = append(refs, d.mail.Header.Get("References"))
	}
	if len(refs) != 4 || refs[0] == "" || refs[1] != refs[0] || refs[2] != refs[0] || refs[3] == "" || refs[3] == refs[0] {
		t.Errorf("the mails refer to %q", refs)
	}
	tag := func(tr alarms.Transition) string { return about(telling(garden(), "push", tr)) }
	if tag(warning) != tag(limit) || tag(other) == tag(limit) {
		t.Errorf("pushed under %q, %q and %q", tag(warning), tag(limit), tag(other))
	}
}
