package modem

import (
	"cmp"
	"slices"
	"time"
)

// State is how the modem is.
type State struct {
	Present  bool      // it answers
	Since    time.Time // of Present, by Options.Now
	Identity string    // as it says itself
	SIM      string    // in words; "ready" when it is
	Network  string    // in words
	Operator string
	Signal   *int // dBm; nil: not known
	Mode     Mode // in use
	Centre   string
	Used     int // places of the message memory
	Places   int
	Ready    bool // a message could go out now

	LastError   string
	LastErrorAt time.Time

	SentToday  int // messages, each part counts
	MostPerDay int

	Sent        uint64 // texts the network took, since the start
	Delivered   uint64 // of them reported as delivered
	Undelivered uint64 // and as not to be delivered
	Received    uint64 // messages
	Unreadable  uint64 // messages and lines that could not be read
	Calls       uint64 // that rang
}

// State returns how the modem is.
func (m *Modem) State() State {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.budget.turn(m.today())
	s := m.s
	s.Ready, s.SentToday, s.MostPerDay = m.why == "", m.budget.sent, m.budget.most
	s.Mode = cmp.Or(s.Mode, m.o.Mode)
	return s
}

// Trouble says why nothing could go out for longer than may be borne; empty:
// there is no such trouble.
func (m *Modem) Trouble() string {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.why == "" || time.Since(m.since) < m.wait {
		return ""
	}
	return m.why
}

// set changes the state.
func (m *Modem) set(change func(*State)) {
	m.mu.Lock()
	defer m.mu.Unlock()
	change(&m.s)
}

// notReady says that nothing can go out, and how long that may be borne.
func (m *Modem) notReady(why string, wait time.Duration) {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.why == "" {
		m.since = time.Now()
	}
	if m.why != why {
		m.o.Log.Warn().Msg(why)
	}
	m.why, m.wait = why, wait
	m.s.LastError, m.s.LastErrorAt = why, m.o.Now()
}

func (m *Modem) ready() {
	m.mu.Lock()
	defer m.mu.Unlock()
	if m.why != "" {
		m.o.Log.Info().Str("operator", m.s.Operator).Msg("the modem is ready to send")
	}
	m.why = ""
}

// wrong notes an error that leaves the modem ready.
func (m *Modem) wrong(err error) {
	m.set(func(s *State) { s.LastError, s.LastErrorAt = err.Error(), m.o.Now() })
}

func (m *Modem) today() string { return m.o.Now().In(m.o.Zone).Format(time.DateOnly) }

// budget counts what went out in a day.
type budget struct {
	most, sent int
	day        string
	told       bool // that it is spent
}

// turn begins a new day.
func (b *budget) turn(day string) {
	if b.day != day {
		b.day, b.sent, b.told = day, 0, false
	}
}

// spend books parts; ok is false when the day has no room for them. last says
// that this fills it, the first time.
func (b *budget) spend(parts int, urgent bool) (last, ok bool) {
	if !urgent && b.sent+parts > b.most {
		return false, false
	}
	b.sent += parts
	last = b.sent >= b.most && !b.told
	b.told = b.told || last
	return last, true
}

// outstanding is a text whose delivery is not yet reported.
type outstanding struct {
	text Text
	refs []byte // of parts without a last word
	at   time.Time
	said Standing
	news bool // said was reported
}

// remember keeps what a reference stands for.
func (m *Modem) remember(t Text, refs []byte) {
	o := &outstanding{text: t, refs: refs, at: time.Now()}
	for _, r := range refs {
		m.open[r] = o
	}
}

// settle takes a status report: the fate of the whole text, if it is news.
func (m *Modem) settle(r report) (f Fate, news bool) {
	o := m.open[r.ref]
	if o == nil || !sameEnd(o.text.To, r.to.Text) {
		return Fate{}, false
	}
	st, words := standing(r.status)
	if st == Trying {
		news = !o.news
		o.news = true
		return Fate{Rows: o.text.Rows, To: o.text.To, Standing: st, Words: words, At: r.ended}, news
	}
	m.open[r.ref] = nil
	o.refs = slices.DeleteFunc(o.refs, func(b byte) bool { return b == r.ref })
	if st == Failed {
		o.said, o.news = Failed, true
		for _, other := range o.refs { // one part too few is a text too few
			m.open[other] = nil
		}
		o.refs = nil
	}
	if len(o.refs) > 0 {
		return Fate{}, false
	}
	return Fate{Rows: o.text.Rows, To: o.text.To, Standing: st, Words: words, At: r.ended}, true
}

// sameEnd reports whether two numbers may be the same: a network may write one
// without its country. A report without a number is taken as it is.
func sameEnd(a, b string) bool {
	const enough = 7
	digits := func(s string) string {
		var d []byte
		for i := range len(s) {
			if s[i] >= '0' && s[i] <= '9' {
				d = append(d, s[i])
			}
		}
		return string(d[max(0, len(d)-enough):])
	}
	return b == "" || digits(a) == digits(b)
}
