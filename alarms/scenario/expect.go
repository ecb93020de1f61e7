package scenario

import (
	"fmt"
	"strings"

	"telltale/alarms"
)

const (
	wantIndent     = "    "
	sentenceIndent = "        "
)

// expectation reads an indented line: a transition, or the sentence of the
// one above.
func (p *parser) expectation(c *cursor, l line) {
	if len(p.s.Steps) == 0 {
		c.fail("want a timed line before the first expectation")
		return
	}
	step := &p.s.Steps[len(p.s.Steps)-1]
	for n := l.first; n <= l.last; n++ {
		step.wants = append(step.wants, n)
	}
	if c.err == nil && len(c.tokens) == 1 && c.tokens[0].quoted {
		if len(step.Want) == 0 || step.Want[len(step.Want)-1].Sentence != "" {
			c.fail("want a transition above this sentence")
			return
		}
		step.Want[len(step.Want)-1].Sentence = c.name("a sentence")
		return
	}
	t := p.transition(c)
	if c.err == nil {
		step.Want = append(step.Want, t)
	}
}

// transition reads "12:01 noticed 12:05 raise ALARM: unacknowledged, medium, outer".
func (p *parser) transition(c *cursor) alarms.Transition {
	t := alarms.Transition{Due: c.moment(p.times, "when the transition was due")}
	t.Noticed = t.Due
	if c.take("noticed") {
		t.Noticed = c.moment(p.times, "when the transition was noticed")
	}
	t.Move = named[alarms.Move](c, "a move")
	t.Alarm = alarms.AlarmID(c.name("an alarm"))
	c.need(":")
	t.To = named[alarms.State](c, "a state")
	if c.take(",") {
		t.Priority = named[alarms.Priority](c, "a priority")
		c.need(",")
		t.Level = named[alarms.Level](c, "a level")
	}
	c.end()
	return t
}

// writeWant is expectation backwards.
func (w clockwork) writeWant(t alarms.Transition) string {
	var b strings.Builder
	b.WriteString(wantIndent + w.write(t.Due))
	if !t.Noticed.Equal(t.Due) {
		b.WriteString(" noticed " + w.write(t.Noticed))
	}
	fmt.Fprintf(&b, " %s %s: %s", t.Move, word(string(t.Alarm)), t.To)
	if t.Priority != alarms.NoPriority || t.Level != alarms.Within {
		fmt.Fprintf(&b, ", %s, %s", t.Priority, t.Level)
	}
	b.WriteByte('\n')
	if t.Sentence != "" {
		fmt.Fprintf(&b, "%s%q\n", sentenceIndent, t.Sentence)
	}
	return b.String()
}
