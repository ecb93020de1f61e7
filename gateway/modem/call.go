package modem

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"
)

// Answer is how a call ended.
type Answer string

// Answers.
const (
	Rang     Answer = "rang"     // long enough; nobody took it
	Answered Answer = "answered" // somebody took it
	Rejected Answer = "rejected" // it rang, and somebody ended it
)

// Ring lets a telephone ring for the time that is set, says nothing and hangs
// up. It returns nil when the telephone rang.
func (m *Modem) Ring(ctx context.Context, number string) (Answer, error) {
	number, err := dialled(number)
	if err != nil {
		return "", fmt.Errorf("%w: %w", ErrRefused, err)
	}
	var answer Answer
	err = m.ask(ctx, func(ctx context.Context, s *session) error {
		answer, err = s.ring(ctx, number)
		if err == nil {
			s.m.set(func(st *State) { st.Calls++ })
		}
		return err
	})
	return answer, err
}

func (s *session) ring(ctx context.Context, number string) (Answer, error) {
	s.dropCallNews()
	// Some modems answer at once, some only when the call has come to its end.
	_, err := s.ask(ctx, ask{text: "ATD" + number + ";", call: true, limit: s.m.o.RingFor + usual})
	if f, ok := errors.AsType[*failure](err); ok {
		return callFailed(f.kind, f, false)
	}
	if err != nil && (ctx.Err() != nil || s.broken != nil) {
		s.hangUp(ctx)
		return "", err
	}
	answer, err := s.follow(ctx)
	s.hangUp(ctx)
	s.dropCallNews()
	return answer, err
}

// setUpTime is how long the network may take to find the telephone.
const setUpTime = 20 * time.Second

// call is a call of ours under way.
type call struct {
	began time.Time
	rings time.Time // since when it rings there; zero: it does not
	mute  bool      // the modem does not list its calls
}

// follow watches the call until it has rung for long enough.
func (s *session) follow(ctx context.Context) (Answer, error) {
	ends := time.After(s.m.o.RingFor + setUpTime)
	look := time.NewTicker(s.m.o.Pace.Look)
	defer look.Stop()
	c := call{began: time.Now()}
	for {
		if end := s.callNews(); end != "" {
			return callFailed(end, nil, !c.rings.IsZero())
		}
		select {
		case <-ctx.Done():
			return "", ctx.Err()
		case chunk, ok := <-s.line.in:
			if !ok {
				s.broken = fmt.Errorf("%w: %w", errGone, s.line.err)
				return "", s.broken
			}
			s.listen(chunk)
		case <-ends:
			return "", fmt.Errorf("%w: the network did not find the telephone in time", errNotReached)
		case <-look.C:
			if answer := s.look(ctx, &c); answer != "" {
				return answer, nil
			}
			if s.broken != nil {
				return "", s.broken
			}
		}
	}
}

// look asks how the call is, and says when it has had its time.
func (s *session) look(ctx context.Context, c *call) Answer {
	if c.mute {
		if time.Since(c.began) >= s.m.o.RingFor {
			return Rang // as far as can be told
		}
		return ""
	}
	state, err := s.callState(ctx)
	switch {
	case err != nil:
		c.mute = true
	case state == "0":
		return Answered
	case state == "3" && c.rings.IsZero():
		c.rings = time.Now()
	case !c.rings.IsZero() && time.Since(c.rings) >= s.m.o.RingFor:
		return Rang
	}
	return ""
}

// callState asks for the state of our call (TS 27.007, section 7.18): 0 taken,
// 2 dialling, 3 ringing there; empty: there is none.
func (s *session) callState(ctx context.Context) (string, error) {
	info, err := s.ask(ctx, ask{text: "AT+CLCC", want: "+CLCC"})
	if err != nil {
		return "", err
	}
	for _, line := range info {
		if f := fields(line); len(f) >= 3 && f[1] == "0" { // we made it
			return f[2], nil
		}
	}
	return "", nil
}

// callNews takes what was said of the end of a call.
func (s *session) callNews() string {
	for i, n := range s.heard {
		if callEnds[n.code] {
			s.heard = append(s.heard[:i:i], s.heard[i+1:]...)
			return n.code
		}
	}
	return ""
}

func (s *session) dropCallNews() {
	for s.callNews() != "" {
	}
}

// callFailed reads the end of a call that we did not end.
func callFailed(end string, f *failure, rang bool) (Answer, error) {
	switch {
	case end == "NO ANSWER":
		return Rang, nil
	case rang:
		return Rejected, nil
	case end == "BUSY":
		return "", fmt.Errorf("%w: the telephone is busy", errNotReached)
	case f != nil && !callEnds[end]:
		return "", fmt.Errorf("%w; check whether modem and SIM may make calls: %w", errNotReached, f)
	}
	return "", fmt.Errorf("%w: the network ended the call (%s); check the number, the credit, and whether that telephone is on", errNotReached, strings.ToLower(end))
}

// hangUp ends whatever call there is. It is done even when ctx has ended.
func (s *session) hangUp(ctx context.Context) {
	ctx, cancel := context.WithTimeout(context.WithoutCancel(ctx), usual)
	defer cancel()
	s.tell(ctx, "AT+CHUP", "ATH")
}
