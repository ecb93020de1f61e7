package gateway

import (
	"telltale/gateway/metrics"
	"telltale/gateway/page"
)

// counts is how the modem is, for the metrics; nil: there is none.
func (ph *phones) counts() *metrics.ModemCounts {
	if ph == nil {
		return nil
	}
	s := ph.State()
	c := &metrics.ModemCounts{Present: s.Present, Ready: s.Ready, Today: s.SentToday, MostPerDay: s.MostPerDay, Sent: s.Sent,
		Delivered: s.Delivered, Undelivered: s.Undelivered, Received: s.Received, Unreadable: s.Unreadable, Calls: s.Calls}
	if s.Signal != nil {
		dBm := float64(*s.Signal)
		c.Signal = &dBm
	}
	return c
}

// ModemState implements page.Modem.
func (ph *phones) ModemState() page.ModemState {
	s := ph.State()
	ph.heard.mu.Lock()
	ignored := ph.heard.ignored
	ph.heard.mu.Unlock()
	return page.ModemState{
		Present: s.Present, Since: s.Since, Ready: s.Ready, Identity: s.Identity, SIM: s.SIM, Network: s.Network,
		Operator: s.Operator, Signal: s.Signal, Centre: s.Centre, TextMode: s.Mode == "text", Used: s.Used, Places: s.Places,
		Today: s.SentToday, MostPerDay: s.MostPerDay, Sent: s.Sent, Delivered: s.Delivered, Undelivered: s.Undelivered,
		Received: s.Received, Ignored: ignored, Unreadable: s.Unreadable, Calls: s.Calls, Error: s.LastError, ErrorAt: s.LastErrorAt,
	}
}

// onPage lets the page show the modem, if there is one.
func (ph *phones) onPage(o *page.Options) {
	if ph != nil {
		o.Modem = ph
	}
}
