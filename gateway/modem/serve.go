package modem

import (
	"context"
	"errors"
	"fmt"
	"strings"
	"time"
)

// errAnew: the modem lost its settings, for example after its power failed.
var errAnew = errors.New("the modem has started anew")

// serve does what is asked and hears what is said until the line breaks.
func (s *session) serve(ctx context.Context) error {
	tick := time.Tick(s.m.o.Pace.Poll)
	for s.broken == nil {
		s.hear(ctx)
		if s.anew {
			return errAnew
		}
		if s.broken != nil {
			break
		}
		select {
		case <-ctx.Done():
			return ctx.Err()
		case chunk, ok := <-s.line.in:
			if !ok {
				return fmt.Errorf("%w: %w", errGone, s.line.err)
			}
			s.listen(chunk)
		case r := <-s.m.requests:
			s.serveOne(ctx, r)
		case st := <-s.m.handled:
			s.done(ctx, st)
		case <-tick:
			if err := s.check(ctx); err != nil {
				return err
			}
		}
	}
	return s.broken
}

// serveOne does one thing that somebody asked for, until their or our context
// ends.
func (s *session) serveOne(ctx context.Context, r request) {
	both, cancel := context.WithCancel(r.ctx)
	defer cancel()
	defer context.AfterFunc(ctx, cancel)()
	err := r.run(both, s)
	if err != nil && r.ctx.Err() == nil && ctx.Err() != nil {
		err = fmt.Errorf("%w: the watch stops", ErrNotReady)
	}
	r.reply <- err
}

// hear acts on what the modem said unasked.
func (s *session) hear(ctx context.Context) {
	for len(s.heard) > 0 && s.broken == nil {
		n := s.heard[0]
		s.heard = s.heard[1:]
		switch n.code {
		case "+CMTI", "+CDSI":
			s.fetch(ctx, n)
		case "+CMT":
			s.direct(n)
		case "+CDS":
			s.directReport(n)
		case "+CREG", "+CEREG":
			s.registered(n.code, fields(n.line)[0])
			s.judgeNetwork()
		case "+CPIN":
			if s.set && !strings.HasSuffix(n.line, "READY") || strings.HasSuffix(n.line, "NOT READY") {
				s.set = false
				s.m.notReady("the SIM cannot be used: the modem says "+n.line, s.m.o.Pace.Absent)
			}
		}
	}
}
