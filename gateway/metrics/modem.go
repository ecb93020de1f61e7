package metrics

// ModemCounts is how the modem for text messages and calls is.
type ModemCounts struct {
	Present     bool     // it answers
	Ready       bool     // a message could go out now
	Signal      *float64 // dBm; nil: not known
	Today       int      // messages sent today, each part of a long one counts
	MostPerDay  int
	Sent        uint64 // texts that the network took
	Delivered   uint64 // of them reported as delivered
	Undelivered uint64 // and as not to be delivered
	Received    uint64
	Unreadable  uint64
	Calls       uint64 // that rang
}

// modemFamilies are the metric names of the modem.
type modemFamilies struct {
	present, ready, signal, today, most *family
	texts, received, unreadable, calls  *family
}

func newModemFamilies(b *builder) modemFamilies {
	return modemFamilies{
		present:    b.gauge("modem_present", "Whether the modem answers (1) or not (0)."),
		ready:      b.gauge("modem_ready", "Whether a text message could go out now (1) or not (0)."),
		signal:     b.gauge("modem_signal_dbm", "Strength at which the modem receives its network; left out when not known."),
		today:      b.gauge("modem_today_messages", "Text messages sent today; each part of a long one counts."),
		most:       b.gauge("modem_most_messages", "Text messages that may be sent in a day, but for high priority."),
		texts:      b.counter("modem_texts_total", "Texts that the network took (sent), and what it reported of them.", "result"),
		received:   b.counter("modem_received_messages_total", "Text messages received."),
		unreadable: b.counter("modem_unreadable_messages_total", "What the modem gave and could not be read."),
		calls:      b.counter("modem_calls_total", "Calls that rang."),
	}
}

// modem shows how the modem is, if there is one.
func (s *scrape) modem(m *ModemCounts) {
	if m == nil {
		return
	}
	f := &s.families.modem
	s.flag(f.present, m.Present)
	s.flag(f.ready, m.Ready)
	if m.Signal != nil {
		s.put(f.signal, *m.Signal)
	}
	s.put(f.today, float64(m.Today))
	s.put(f.most, float64(m.MostPerDay))
	s.put(f.texts, float64(m.Sent), "sent")
	s.put(f.texts, float64(m.Delivered), "delivered")
	s.put(f.texts, float64(m.Undelivered), "not-delivered")
	s.put(f.received, float64(m.Received))
	s.put(f.unreadable, float64(m.Unreadable))
	s.put(f.calls, float64(m.Calls))
}
