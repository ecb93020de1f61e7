package link

import (
	"slices"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"

	"telltale/gateway/topic"
)

// take is called for each message, in order, by the client's dispatching
// goroutine. It only hands over, and acknowledges what it has handed over.
func (s *session) take(_ mqtt.Client, m mqtt.Message) {
	l := s.link
	name, payload := m.Topic(), m.Payload()
	switch {
	case name == l.opt.StateTopic:
		m.Ack()
		return
	case name == l.markTopic():
		s.mark.saw(payload)
		m.Ack()
		return
	case slices.Contains(dropTopics[:], name):
		l.noteBrokerDrops(s, payload)
		m.Ack()
		return
	}
	if topic.AnyCovers(l.opt.Own, name) {
		l.opt.Overheard(name, payload)
		m.Ack()
		return
	}
	l.received.Add(1)
	s.heard.Store(true)
	if len(payload) > l.opt.maxPayload {
		l.tooLong.Add(1)
		m.Ack()
		return
	}
	out := Message{Topic: name, Payload: payload, Retained: m.Retained(), Duplicate: m.Duplicate(),
		Held: !m.Retained() && s.mark.open.Load(), Received: l.opt.Now()}
	if !out.Retained && !out.Held && !l.flood.pass(name, time.Now()) {
		m.Ack()
		return
	}
	if l.queue.put(s.gone, out) {
		m.Ack()
	}
}

// inOrder returns those of filters that are in some, in the order of filters.
func inOrder(filters, some []string) []string {
	var out []string
	for _, f := range filters {
		if slices.Contains(some, f) {
			out = append(out, f)
		}
	}
	return out
}
