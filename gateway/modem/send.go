package modem

import (
	"cmp"
	"context"
	"fmt"
	"strconv"
	"time"
)

// Text is a text message to be sent.
type Text struct {
	To   string // number
	Body string
	// Urgent texts go out though the day's number is spent.
	Urgent bool
	Valid  time.Duration // for how long the network shall try; default 24 h
	Rows   []string      // what the sender knows it by; given back with its fate
}

// lastWords are added to the text that spends the day's number.
const lastWords = "\nLast text message of today, but for high priority."

// Send returns nil when the network has taken all parts of t. What became of
// it then comes by Options.Report.
func (m *Modem) Send(ctx context.Context, t Text) error {
	number, err := dialled(t.To)
	if err != nil {
		return fmt.Errorf("%w: %w", ErrRefused, err)
	}
	t.To = number
	t.Valid = cmp.Or(t.Valid, 24*time.Hour)
	return m.ask(ctx, func(ctx context.Context, s *session) error { return s.send(ctx, t) })
}

func (s *session) send(ctx context.Context, t Text) error {
	if _, err := s.messages(t); err != nil {
		return err
	}
	if err := s.m.spend(&t); err != nil {
		return err
	}
	messages, err := s.messages(t)
	if err != nil {
		return err
	}
	var refs []byte
	for i, a := range messages {
		ref, err := s.sendOne(ctx, a)
		if err != nil {
			s.m.refund(len(messages) - i)
			err = sendError(err, t.To)
			s.m.wrong(err)
			return err
		}
		refs = append(refs, ref)
	}
	s.m.remember(t, refs)
	s.m.set(func(st *State) { st.Sent++ })
	return nil
}

// message is one message as the modem wants it.
type message struct {
	before string // a command that must come first
	send   ask
}

// messages writes t in the mode in use.
func (s *session) messages(t Text) ([]message, error) {
	limit := s.m.o.Pace.Send
	if s.text {
		return s.textMessages(t, limit)
	}
	s.m.ref++
	pdus, err := submits(t.To, "", t.Body, t.Valid, s.m.ref)
	if err != nil {
		return nil, err
	}
	var out []message
	for _, p := range pdus {
		out = append(out, message{send: ask{text: fmt.Sprintf("AT+CMGS=%d", p.length), want: "+CMGS", data: p.hex, limit: limit}})
	}
	return out, nil
}

// textMessages writes t in text mode, where parts cannot be joined by the
// telephone: each says which one it is.
func (s *session) textMessages(t Text, limit time.Duration) ([]message, error) {
	const mark = 3 // "1/3"
	parts, err := sendable(t.Body, wholeSeptets-mark-1, wholeUnits-mark)
	if err != nil {
		return nil, err
	}
	kind, _ := kindOf(t.To)
	var out []message
	for i, p := range parts {
		body, coding := p.text, 0
		if len(parts) > 1 {
			body = fmt.Sprintf("%d/%d", i+1, len(parts)) + map[bool]string{true: "", false: " "}[p.wide] + body
		}
		if p.wide {
			coding = 8
		}
		first := firstSubmit | firstRelative | firstReport
		out = append(out, message{
			before: fmt.Sprintf("AT+CSMP=%d,%d,0,%d", first, validity(t.Valid), coding),
			send:   ask{text: fmt.Sprintf(`AT+CMGS="%s",%d`, s.word(t.To), kind), want: "+CMGS", data: s.word(body), limit: limit},
		})
	}
	return out, nil
}

// sendOne sends one message and returns the reference under which its status
// report will come.
func (s *session) sendOne(ctx context.Context, m message) (byte, error) {
	if m.before != "" {
		s.tell(ctx, m.before)
	}
	info, err := s.ask(ctx, m.send)
	if err != nil {
		return 0, err
	}
	if len(info) == 0 {
		return 0, fmt.Errorf("%w: a message was taken without a reference", errOdd)
	}
	n, err := strconv.ParseUint(fields(info[0])[0], 10, 8)
	if err != nil {
		return 0, fmt.Errorf("%w: %q is no reference of a message", errOdd, info[0])
	}
	return byte(n), nil
}

// spend books t in the day's number, and has the text that fills it say so.
func (m *Modem) spend(t *Text) error {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.budget.turn(m.today())
	parts := Parts(t.Body)
	last, ok := m.budget.spend(parts, t.Urgent)
	if !ok {
		return &Spent{Most: m.budget.most, Until: m.midnight()}
	}
	if last {
		m.o.Log.Warn().Int("most_per_day", m.budget.most).Msg("the day's text messages are spent; until midnight only high priority goes out")
		if more := Parts(t.Body + lastWords); more <= mostParts {
			t.Body += lastWords
			m.budget.sent += more - parts
		}
	}
	return nil
}

// refund gives back what was booked and not sent.
func (m *Modem) refund(parts int) {
	m.mu.Lock()
	defer m.mu.Unlock()
	m.budget.sent = max(0, m.budget.sent-parts)
}

func (m *Modem) midnight() time.Time {
	now := m.o.Now().In(m.o.Zone)
	return time.Date(now.Year(), now.Month(), now.Day()+1, 0, 0, 0, 0, m.o.Zone)
}
