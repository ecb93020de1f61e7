package reach

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// caution closes every message that a person reads.
const caution tongue.Text = "Telltale only watches: it switches nothing and it can fail. It is no fire or life-safety alarm. " +
	"Go and look, keep the mechanical thermostat working, and leave mains wiring to a licensed electrician."

const (
	clockForm tongue.Text = "15:04 on Monday 2 January"
	lateAfter             = 5 * time.Minute // a message this old says so
)

// Subject is the one line that stands above the text of t.
func Subject(t Telling) string {
	events := worstFirst(t.Events)
	switch {
	case t.Test:
		return events[0].say("Test message from Telltale: nothing is wrong")
	case len(events) == 1:
		return events[0].Headline
	}
	return events[0].say("%s (and %d more)", events[0].Headline, len(events)-1)
}

// Text is t as a person reads it: the sentences as the core wrote them, the
// worst first, then what else helps.
func Text(t Telling) string {
	events := worstFirst(t.Events)
	var b strings.Builder
	if len(events) > 1 {
		b.WriteString(events[0].say("%d messages came close together. The most urgent comes first.", len(events)) + "\n\n")
	}
	for i, e := range events {
		if len(events) > 1 {
			fmt.Fprintf(&b, "%d. ", i+1)
		}
		b.WriteString(e.Sentence + "\n")
		for _, line := range details(e, t.At) {
			b.WriteString(line + "\n")
		}
		b.WriteString("\n")
	}
	if page := events[0].Page; page != "" {
		b.WriteString(events[0].say("See and acknowledge here: %s", page) + "\n\n")
	}
	b.WriteString(events[0].say(caution) + "\n")
	return b.String()
}

// worstFirst orders by priority, and within one by time.
func worstFirst(events []Event) []Event {
	sorted := slices.Clone(events)
	slices.SortStableFunc(sorted, func(a, b Event) int {
		return cmp.Or(cmp.Compare(b.Priority, a.Priority), a.Due.Compare(b.Due))
	})
	return sorted
}

// details are the lines below the sentence of e in a message made at.
func details(e Event, at time.Time) []string {
	if e.Test || e.Letter {
		return nil
	}
	var lines []string
	if check := e.Reason.Check; check != "" && !e.over() && !strings.Contains(e.Sentence, strings.TrimSuffix(check, ".")) {
		lines = append(lines, e.say("Check first: %s.", strings.TrimSuffix(check, ".")))
	}
	if since := e.Reason.Since; !since.IsZero() && !e.over() {
		lines = append(lines, e.say("Since %s.|told", e.Language.Date(clockForm, since)))
	}
	if !e.over() {
		lines = append(lines, e.say("Priority: %s.", e.say(priorities[e.Priority])))
	}
	if e.Unanswered > 0 {
		lines = append(lines, e.unanswered())
	}
	if e.Acknowledge != "" {
		lines = append(lines, e.say("Acknowledge this one with one tap: %s", e.Acknowledge))
	}
	if late := at.Sub(e.Noticed) - time.Duration(e.Unanswered)*time.Second; late >= lateAfter {
		lines = append(lines, e.say("It happened at %s; this message was sent at %s.",
			e.Language.Date(clockForm, e.Due), e.Language.Date(clockForm, at.In(e.Due.Location()))))
	}
	return lines
}

var priorities = map[alarms.Priority]tongue.Text{alarms.NoPriority: "none|a priority", alarms.Low: "low|a priority", alarms.Medium: "medium|a priority", alarms.High: "high|a priority"}

// unanswered says why somebody is told later than others.
func (e Event) unanswered() string {
	return e.say("You are told because nobody acknowledged this within %s.", span(e.Language, time.Duration(e.Unanswered)*time.Second))
}

// span says a duration in words.
func span(in tongue.Tongue, d time.Duration) string {
	switch {
	case d >= 2*time.Hour && d%time.Hour == 0:
		return in.Say("%d hours", int(d/time.Hour))
	case d >= time.Minute && d%time.Minute == 0:
		return count(in, int(d/time.Minute), "1 minute", "%d minutes")
	}
	return count(in, int(d/time.Second), "1 second", "%d seconds")
}

func count(in tongue.Tongue, n int, one, many tongue.Text) string {
	if n == 1 {
		return in.Say(one)
	}
	return in.Say(many, n)
}
