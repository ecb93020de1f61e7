package page

import (
	"net/http"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/modem"
	"telltale/gateway/page/words"
)

// Modem is the modem that sends text messages and lets telephones ring. It may
// be asked by anybody.
type Modem interface {
	ModemState() ModemState
}

// ModemState is how the modem is.
type ModemState struct {
	modem.State
	Ignored uint64 // messages, since the watch started
}

type modemPage struct {
	frame
	Sentence string
	Now      []fact
	Counts   []fact
}

func (s *Server) hasModem() bool { return s.options.Modem != nil }

func (s *Server) modemRoutes(rt router) {
	if s.hasModem() {
		rt.see("GET /modem", s.modemPage)
	}
}

// modemPage shows how the modem is.
func (s *Server) modemPage(w http.ResponseWriter, r *http.Request) error {
	say, now, m := s.wordsOf(r), s.watch.Now(), s.options.Modem.ModemState()
	v := modemPage{frame: s.frame(r, "Modem"), Sentence: modemSentence(say, m), Now: modemNow(say, m, now), Counts: modemCounts(say, m, now)}
	return s.render(w, r, http.StatusOK, "modem", v)
}

func modemSentence(w words.Words, m ModemState) string {
	switch {
	case m.Ready:
		return w.Say("A text message could go out now.")
	case m.LastError != "":
		return w.Say("No text message could go out now: %s.", m.LastError)
	}
	return w.Say("No text message could go out now.")
}

func modemNow(w words.Words, m ModemState, now time.Time) []fact {
	here := w.Say("it answers")
	switch {
	case !m.Present && m.Since.IsZero():
		here = w.Say("it does not answer")
	case !m.Present:
		here = w.Say("it does not answer since %s", w.Clock(m.Since, now))
	case !m.Since.IsZero():
		here = w.Say("it answers since %s", w.Clock(m.Since, now))
	}
	out := []fact{{w.Say("The modem"), here, !m.Present}}
	add := func(name tongue.Text, say string, bad bool) {
		if say != "" {
			out = append(out, fact{w.Say(name), say, bad})
		}
	}
	add("What it says it is", m.Identity, false)
	add("SIM", m.SIM, m.SIM != "" && m.SIM != "ready")
	add("Network", m.Network, m.Network != "" && !m.Ready)
	add("Operator", m.Operator, false)
	if m.Signal != nil {
		add("Received at", w.Value(alarms.Signal, float64(*m.Signal))+", "+w.Say(signalWords(*m.Signal)), *m.Signal < poorSignal)
	}
	add("Service centre", m.Centre, false)
	if m.Mode == modem.TextMode {
		add("Messages", w.Say("in text mode: a long one arrives in several"), false)
	}
	if m.Places > 0 {
		add("Memory of the SIM", w.Say("%d of %d places were in use", m.Used, m.Places), m.Used >= m.Places)
	}
	return out
}

// Below these strengths in dBm a modem holds its network badly. Common
// practice, no source.
const (
	fairSignal = -95
	poorSignal = -105
)

func signalWords(dBm int) tongue.Text {
	switch {
	case dBm < poorSignal:
		return "very weak: move the antenna"
	case dBm < fairSignal:
		return "weak"
	}
	return "enough"
}

func modemCounts(w words.Words, m ModemState, now time.Time) []fact {
	count := func(n uint64) string { return strconv.FormatUint(n, 10) }
	out := []fact{
		{w.Say("Messages sent today"), w.Say("%d of %d; beyond that only high priority goes out", m.SentToday, m.MostPerDay), m.SentToday >= m.MostPerDay},
		{w.Say("Texts that the network took"), count(m.Sent), false},
		{w.Say("Reported as delivered"), count(m.Delivered), false},
		{w.Say("Reported as not delivered"), count(m.Undelivered), m.Undelivered > 0},
		{w.Say("Calls that rang"), count(m.Calls), false},
		{w.Say("Texts received"), count(m.Received), false},
		{w.Say("From unknown senders, ignored"), count(m.Ignored), false},
		{w.Say("Unreadable"), count(m.Unreadable), m.Unreadable > 0},
	}
	if m.LastError != "" && m.Ready {
		out = append(out, fact{w.Say("Newest error"), m.LastError + ", " + w.Clock(m.LastErrorAt, now), false})
	}
	return out
}
