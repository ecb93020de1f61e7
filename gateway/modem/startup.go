package modem

import (
	"context"
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"
)

// session is the talk with one opened line, by the goroutine of Run.
type session struct {
	*chat
	m      *Modem
	broken error          // the line, or a modem that answers no more
	set    bool           // the SIM was ready and everything is set up
	mem    string         // memory that is read
	nets   map[string]int // state of registration, by code
	looks  int
}

// ask has the modem do one thing. When no answer comes it is roused, and if
// that fails the session is broken.
func (s *session) ask(ctx context.Context, a ask) ([]string, error) {
	if s.broken != nil {
		return nil, s.broken
	}
	info, err := s.do(ctx, a)
	var f *failure
	switch {
	case err == nil, errors.As(err, &f):
		return info, err
	case errors.Is(err, errGone):
		s.broken = err
		return nil, err
	}
	waking, cancel := context.WithTimeout(context.WithoutCancel(ctx), 4*s.m.o.Pace.Answer)
	defer cancel()
	if dead := s.rouse(waking, 3, s.m.o.Pace.Answer); dead != nil {
		s.broken = fmt.Errorf("%w: %w", errSilent, dead)
	}
	return nil, err
}

// tell is ask for what may be refused without harm.
func (s *session) tell(ctx context.Context, commands ...string) bool {
	for _, c := range commands {
		if _, err := s.ask(ctx, ask{text: c}); err == nil {
			return true
		}
	}
	return false
}

// value asks a question with one answer and returns its fields.
func (s *session) value(ctx context.Context, command, code string) ([]string, error) {
	info, err := s.ask(ctx, ask{text: command, want: code})
	if err != nil {
		return nil, err
	}
	if len(info) == 0 {
		return nil, fmt.Errorf("%w: nothing to %s", errOdd, command)
	}
	return fields(info[len(info)-1]), nil
}

// greet finds out whether a modem is there and brings it to terms.
func (s *session) greet(ctx context.Context) error {
	_ = s.write(escKey) // if it waits for data since an earlier life
	if err := s.rouse(ctx, 5, s.m.o.Pace.Answer); err != nil {
		return fmt.Errorf("what is on the line does not answer AT; is it a modem, and is it the right one of its devices? %w", err)
	}
	s.tell(ctx, "ATE0V1")
	s.quiet = true
	s.tell(ctx, "AT+CMEE=2", "AT+CMEE=1")
	info, err := s.ask(ctx, ask{text: "ATI", free: true})
	if err != nil && s.broken != nil {
		return s.broken
	}
	s.m.set(func(st *State) {
		if !st.Present {
			st.Since = s.m.o.Now()
		}
		st.Present, st.Identity = true, clipped(strings.Join(info, ", "))
	})
	s.m.o.Log.Info().Str("says", clipped(strings.Join(info, ", "))).Msg("a modem answers")
	return s.check(ctx)
}

// check looks at SIM and network, sets up what is not yet set up, and decides
// whether a message could go out.
func (s *session) check(ctx context.Context) error {
	words := s.sim(ctx)
	if s.broken != nil {
		return s.broken
	}
	s.m.set(func(st *State) { st.SIM = words })
	if words != simReady {
		s.set = false
		s.m.notReady("the SIM cannot be used: "+words, s.m.o.Pace.Absent)
		return nil
	}
	if !s.set {
		s.setUp(ctx)
	}
	s.survey(ctx)
	s.collect(ctx)
	return s.broken
}

const simReady = "ready"

// sim opens the SIM, and says in words how it is.
func (s *session) sim(ctx context.Context) string {
	f, err := s.value(ctx, "AT+CPIN?", "+CPIN")
	if err != nil {
		return simError(err)
	}
	switch f[0] {
	case "READY":
		return simReady
	case "SIM PIN":
		return s.enterPIN(ctx)
	case "SIM PUK":
		return "it is locked after wrong PINs; put it into a telephone and enter the PUK that came with it"
	}
	return "it wants " + f[0] + "; put it into a telephone and take that off"
}

func simError(err error) string {
	var f *failure
	switch {
	case !errors.As(err, &f):
		return err.Error()
	case f.is("CME", 10):
		return "no SIM is in the modem, or it sits badly"
	case f.is("CME", 13, 15):
		return "it is broken or not fit for this modem"
	case f.is("CME", 14):
		return "it is busy"
	}
	return f.Error()
}

// enterPIN gives the SIM its PIN, once only: a SIM locks after three wrong
// ones. What it refused is remembered, if possible over restarts.
func (s *session) enterPIN(ctx context.Context) string {
	o := s.m.o
	switch {
	case s.m.pinOut != "":
		return s.m.pinOut
	case o.PIN == "":
		return "it wants a PIN; give pin-file in [modem], or take the PIN off in a telephone"
	}
	left := s.pinTries(ctx)
	known := left < 0 && o.Refusals != nil && o.Refusals.Refused(o.PIN)
	if left >= 0 && left < 3 {
		s.m.pinOut = fmt.Sprintf("its PIN was entered wrongly before and %d of 3 tries are left, so none is made here; "+
			"enter the right PIN in a telephone, then put the SIM back", left)
		return s.m.pinOut
	}
	if !known {
		_, err := s.ask(ctx, ask{text: fmt.Sprintf("AT+CPIN=%q", o.PIN), limit: 3 * usual})
		var f *failure
		switch {
		case err == nil:
			return s.opened(ctx)
		case ctx.Err() != nil, s.broken != nil && errors.Is(s.broken, errGone):
			return err.Error()
		case errors.As(err, &f) && f.is("CME", 14):
			return "it is busy"
		}
		if o.Refusals != nil {
			if err := o.Refusals.Refuse(o.PIN); err != nil {
				o.Log.Error().Err(err).Msg("it could not be noted that the SIM refused its PIN; do not restart before that is mended")
			}
		}
	}
	s.m.pinOut = "it refused the PIN, which is not tried again because a SIM locks after three wrong ones; " +
		"correct pin-file in [modem] and start anew"
	return s.m.pinOut
}

// pinTries asks how often a PIN may still be tried (TS 27.007, section 8.65);
// -1: the modem does not say.
func (s *session) pinTries(ctx context.Context) int {
	f, err := s.value(ctx, `AT+CPINR="SIM PIN"`, "+CPINR")
	if err != nil || len(f) < 2 {
		return -1
	}
	n, err := strconv.Atoi(f[1])
	if err != nil {
		return -1
	}
	return n
}

// opened waits until the SIM that took its PIN can be used.
func (s *session) opened(ctx context.Context) string {
	words := "it took its PIN and is not ready yet"
	for range 10 {
		f, err := s.value(ctx, "AT+CPIN?", "+CPIN")
		if err == nil && f[0] == "READY" {
			return simReady
		}
		var no *failure
		if err != nil && !(errors.As(err, &no) && no.is("CME", 14)) {
			return simError(err)
		}
		if pause(ctx, s.m.o.Pace.Look) != nil {
			break
		}
	}
	return words
}

// pause waits for d, or until ctx ends.
func pause(ctx context.Context, d time.Duration) error {
	select {
	case <-time.After(d):
		return nil
	case <-ctx.Done():
		return ctx.Err()
	}
}
