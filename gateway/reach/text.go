package reach

import (
	"cmp"
	"fmt"
	"slices"
	"strings"
	"time"
)

// caution closes every message that a person reads.
const caution = "Telltale only watches: it switches nothing and it can fail. It is no fire or life-safety alarm. " +
	"Go and look, keep the mechanical thermostat working, and leave mains wiring to a licensed electrician."

const (
	clockForm = "15:04 on Monday 2 January"
	lateAfter = 5 * time.Minute // a message this old says so
)

// Subject is the one line that stands above the text of t.
func Subject(t Telling) string {
	events := worstFirst(t.Events)
	switch {
	case t.Test:
		return "Test message from Telltale: nothing is wrong"
	case len(events) == 1:
		return events[0].Headline
	}
	return fmt.Sprintf("%s (and %d more)", events[0].Headline, len(events)-1)
}

// Text is t as a person reads it: the sentences as the core wrote them, the
// worst first, then what else helps.
func Text(t Telling) string {
	events := worstFirst(t.Events)
	var b strings.Builder
	if len(events) > 1 {
		fmt.Fprintf(&b, "%d messages came close together. The most urgent comes first.\n\n", len(events))
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
		fmt.Fprintf(&b, "See and acknowledge here: %s\n\n", page)
	}
	b.WriteString(caution + "\n")
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
	if e.Test {
		return nil
	}
	var lines []string
	if check := e.Reason.Check; check != "" && !e.over() && !strings.Contains(e.Sentence, strings.TrimSuffix(check, ".")) {
		lines = append(lines, "Check first: "+strings.TrimSuffix(check, ".")+".")
	}
	if since := e.Reason.Since; !since.IsZero() && !e.over() {
		lines = append(lines, "Since "+since.Format(clockForm)+".")
	}
	if !e.over() {
		lines = append(lines, "Priority: "+e.Priority.String()+".")
	}
	if e.Unanswered > 0 {
		lines = append(lines, fmt.Sprintf("You are told because nobody acknowledged this within %s.", span(time.Duration(e.Unanswered)*time.Second)))
	}
	if e.Acknowledge != "" {
		lines = append(lines, "Acknowledge this one with one tap: "+e.Acknowledge)
	}
	if late := at.Sub(e.Noticed) - time.Duration(e.Unanswered)*time.Second; late >= lateAfter {
		lines = append(lines, fmt.Sprintf("It happened at %s; this message was sent at %s.",
			e.Due.Format(clockForm), at.In(e.Due.Location()).Format(clockForm)))
	}
	return lines
}

// span says a duration in words.
func span(d time.Duration) string {
	switch {
	case d >= 2*time.Hour && d%time.Hour == 0:
		return count(int(d/time.Hour), "hour")
	case d >= time.Minute && d%time.Minute == 0:
		return count(int(d/time.Minute), "minute")
	}
	return count(int(d/time.Second), "second")
}

func count(n int, noun string) string {
	if n == 1 {
		return "1 " + noun
	}
	return fmt.Sprintf("%d %ss", n, noun)
}
