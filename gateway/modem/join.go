package modem

import (
	"strings"
	"time"
)

// Message is a text message that came in, whole.
type Message struct {
	From Number
	Sent time.Time // by the service centre's clock
	Text string
}

const (
	partsWait = time.Hour // for the missing parts of a message
	partsMost = 32        // unfinished messages
)

// joiner puts the parts of long messages together.
type joiner struct{ open []unfinished }

type unfinished struct {
	from  string
	ref   int
	since time.Time
	parts []string
	have  []bool
	sent  time.Time
}

// add takes a part; ok is true when its message is whole.
func (j *joiner) add(d *delivered, now time.Time) (m Message, ok bool) {
	if d.total == 0 {
		return Message{From: d.from, Sent: d.sent, Text: d.text}, true
	}
	kept := j.open[:0]
	for _, u := range j.open {
		if now.Sub(u.since) < partsWait {
			kept = append(kept, u)
		}
	}
	j.open = kept
	i := j.find(d, now)
	u := &j.open[i]
	u.parts[d.number-1], u.have[d.number-1] = d.text, true
	for _, h := range u.have {
		if !h {
			return Message{}, false
		}
	}
	m = Message{From: d.from, Sent: u.sent, Text: strings.Join(u.parts, "")}
	j.open = append(j.open[:i], j.open[i+1:]...)
	return m, true
}

// find returns the message that d is a part of, a new one if need be. The
// oldest goes where there are too many.
func (j *joiner) find(d *delivered, now time.Time) int {
	for i, u := range j.open {
		if u.from == d.from.Text && u.ref == d.ref && len(u.parts) == d.total {
			return i
		}
	}
	if len(j.open) == partsMost {
		j.open = append(j.open[:0], j.open[1:]...)
	}
	j.open = append(j.open, unfinished{from: d.from.Text, ref: d.ref, since: now, sent: d.sent,
		parts: make([]string, d.total), have: make([]bool, d.total)})
	return len(j.open) - 1
}
