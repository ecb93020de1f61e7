package link

import (
	"slices"
	"time"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

// take is called for each message, in order, by the client's dispatching
// goroutine. It only hands over, and acknowledges what it has handed over.
func (s *session) take(_ mqtt.Client, m mqtt.Message) {
	l := s.link
	topic, payload := m.Topic(), m.Payload()
	switch {
	case topic == l.opt.StateTopic:
		m.Ack()
		return
	case topic == markTopic:
		s.mark.saw(payload)
		m.Ack()
		return
	case isDropTopic(topic):
		l.noteBrokerDrops(s, payload)
		m.Ack()
		return
	}
	if anyCovers(l.opt.Own, topic) {
		l.opt.Overheard(topic, payload)
		m.Ack()
		return
	}
	l.received.Add(1)
	s.heard.Store(true)
	if len(payload) > l.opt.MaxPayload {
		l.tooLong.Add(1)
		m.Ack()
		return
	}
	out := Message{Topic: topic, Payload: payload, Retained: m.Retained(), Duplicate: m.Duplicate(),
		Held: !m.Retained() && s.mark.open.Load(), Received: l.opt.Now()}
	l.count(out)
	if !out.Retained && !out.Held && !l.flood.pass(topic, time.Now()) {
		m.Ack()
		return
	}
	if l.queue.put(s.gone, out) {
		m.Ack()
	}
}

func (l *Link) count(m Message) {
	if m.Retained {
		l.retained.Add(1)
	}
	if m.Duplicate {
		l.duplicates.Add(1)
	}
	if m.Held {
		l.held.Add(1)
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
