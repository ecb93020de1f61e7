package modem

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// place is where the modem keeps a message.
type place struct {
	mem   string
	index int // -1: it is not kept
}

// stored is a message that waits to be handled, with where it is kept.
type stored struct {
	Message
	at    place
	again bool // it was not handled
}

// collect reads all that is kept, so that nothing is overlooked and the memory
// never fills.
func (s *session) collect(ctx context.Context) {
	if !s.set || s.broken != nil {
		return
	}
	command, want := "AT+CMGL=4", "+CMGL"
	if s.text {
		command = `AT+CMGL="ALL"`
	}
	info, err := s.ask(ctx, ask{text: command, want: want, bodies: true, limit: 3 * usual})
	if err != nil {
		return
	}
	for i := 0; i < len(info); i++ {
		head, body := fields(info[i]), ""
		if i+1 < len(info) && !strings.HasPrefix(info[i+1], want+":") {
			i++
			body = info[i]
		}
		index, err := strconv.Atoi(head[0])
		if err != nil {
			s.unreadable(fmt.Errorf("%q names no message", info[i]))
			continue
		}
		s.sort(ctx, place{s.mem, index}, head[1:], body)
	}
}

// fetch reads the one message that the modem has announced.
func (s *session) fetch(ctx context.Context, n news) {
	if !s.set {
		return // all is read when it is
	}
	f := append(fields(n.line), "")
	index, err := strconv.Atoi(f[1])
	if err != nil || !s.useMemory(ctx, f[0]) {
		s.unreadable(fmt.Errorf("%q names no message", n.line))
		return
	}
	info, err := s.ask(ctx, ask{text: fmt.Sprintf("AT+CMGR=%d", index), want: "+CMGR", bodies: true})
	if err != nil || len(info) == 0 {
		return
	}
	body := ""
	if len(info) > 1 {
		body = info[1]
	}
	s.sort(ctx, place{f[0], index}, fields(info[0]), body)
}

// sort gives one kept message to who wants it. head are the parameters behind
// the index, body its data. What nobody handles further is deleted at once.
func (s *session) sort(ctx context.Context, at place, head []string, body string) {
	if s.m.under[at] {
		return
	}
	d, r, err := s.parse(head, body)
	switch {
	case err != nil:
		s.unreadable(err)
	case r != nil:
		s.reported(*r)
	case s.whole(d, at):
		return // its handler decides
	case s.m.full():
		return // it stays where it is until there is room
	}
	s.remove(ctx, at)
}

// parse reads a kept message in the mode in use.
func (s *session) parse(head []string, body string) (*delivered, *report, error) {
	if !s.text {
		return fromPDU(body)
	}
	if len(head) >= 5 && (head[1] == "6" || head[1] == "2") { // a status report: its first octet
		r, err := s.textReport(head[1:])
		return nil, r, err
	}
	if len(head) < 4 {
		return nil, nil, errors.New("the message has no sender or no time")
	}
	return s.textMessage(head[1], head[3], body)
}

func fromPDU(body string) (*delivered, *report, error) {
	got, err := received(body)
	if err != nil {
		return nil, nil, err
	}
	d, _ := got.(*delivered)
	r, _ := got.(*report)
	return d, r, nil
}

func (s *session) textMessage(from, at, body string) (*delivered, *report, error) {
	sent, err := written(s.timeText(at))
	if err != nil {
		return nil, nil, err
	}
	number := s.read(from)
	named := strings.Trim(number, "+"+semi) != "" ||
		s.plain // a text of several lines can pretend to be two, the second from anybody
	return &delivered{from: Number{Text: number, Named: named}, sent: sent, text: s.read(body)}, nil, nil
}

// timeText is a time as some modems write it, in the character set too.
func (s *session) timeText(at string) string {
	if strings.Contains(at, "/") {
		return at
	}
	return s.read(at)
}

// textReport reads first octet, reference, number, its type, two times and the
// status, as text mode writes them.
func (s *session) textReport(f []string) (*report, error) {
	if len(f) < 7 {
		return nil, fmt.Errorf("a status report of %d fields, want 7", len(f))
	}
	ref, err1 := strconv.ParseUint(f[1], 10, 8)
	status, err2 := strconv.ParseUint(f[6], 10, 8)
	sent, err3 := written(s.timeText(f[4]))
	ended, err4 := written(s.timeText(f[5]))
	return &report{ref: byte(ref), to: Number{Text: s.read(f[2])}, sent: sent, ended: ended, status: byte(status)},
		errors.Join(err1, err2, err3, err4)
}

// whole joins parts, and hands a whole message to its handler; false: there is
// nothing to hand on, or no room.
func (s *session) whole(d *delivered, at place) bool {
	if s.m.full() {
		return false
	}
	msg, ok := s.m.join.add(d, time.Now())
	if !ok {
		return false
	}
	s.m.set(func(st *State) { st.Received++ })
	s.m.under[at] = true
	s.m.inbox <- stored{Message: msg, at: at} // full says that there is room, and nobody else sends
	return true
}

func (m *Modem) full() bool { return len(m.inbox) == cap(m.inbox) }

// done takes a handled message off the SIM.
func (s *session) done(ctx context.Context, st stored) {
	delete(s.m.under, st.at)
	if !st.again {
		s.remove(ctx, st.at)
	}
}

func (s *session) remove(ctx context.Context, at place) {
	if at.index < 0 || !s.useMemory(ctx, at.mem) {
		return
	}
	if _, err := s.ask(ctx, ask{text: fmt.Sprintf("AT+CMGD=%d", at.index), limit: 3 * usual}); err != nil && ctx.Err() == nil {
		s.m.wrong(fmt.Errorf("a message could not be taken off the SIM: %w", err))
	}
}

// direct takes a message that the modem did not keep.
func (s *session) direct(n news) {
	d, _, err := (*delivered)(nil), (*report)(nil), error(nil)
	if !s.text {
		d, _, err = fromPDU(n.data)
	} else if f := fields(n.line); len(f) >= 3 {
		d, _, err = s.textMessage(f[0], f[2], n.data)
	}
	if err != nil || d == nil {
		s.unreadable(err)
		return
	}
	s.whole(d, place{index: -1})
	delete(s.m.under, place{index: -1})
}

// directReport takes a status report that the modem did not keep.
func (s *session) directReport(n news) {
	var r *report
	var err error
	if s.text {
		r, err = s.textReport(fields(n.line))
	} else {
		_, r, err = fromPDU(n.data)
	}
	if err != nil || r == nil {
		s.unreadable(err)
		return
	}
	s.reported(*r)
}

// reported hands on what became of a text of ours.
func (s *session) reported(r report) {
	f, news := s.m.settle(r)
	if !news {
		return
	}
	s.m.set(func(st *State) {
		switch f.Standing {
		case Delivered:
			st.Delivered++
		case Failed:
			st.Undelivered++
		}
	})
	s.m.o.Report(f)
}

// unreadable counts what cannot be read, and logs the first.
func (s *session) unreadable(err error) {
	first := false
	s.m.set(func(st *State) { st.Unreadable++; first = st.Unreadable == 1 })
	if first {
		s.m.o.Log.Warn().Err(err).Msg("the modem gave a message that cannot be read; it is thrown away, and so are more of the kind")
	}
}
