package reach

import (
	"context"
	"slices"
	"time"
)

// record logs, counts and writes down one attempt. An attempt that the outbox
// does not take is kept and written before anything else is told: otherwise
// the row would come back as due and be told again and again.
func (l *lane) record(ctx context.Context, a Attempt) {
	l.logAttempt(a)
	l.counters.count(a)
	if len(l.unrecorded) > 0 {
		l.unrecorded = append(l.unrecorded, a)
		return
	}
	// The attempt is over and must be written even while stopping.
	if err := l.o.Outbox.Attempted(context.WithoutCancel(ctx), a); err != nil {
		l.counters.outboxFailed()
		l.log.Error().Err(err).Str("row", a.Row).Msg("cannot record an attempt; check the disk")
		l.unrecorded = append(l.unrecorded, a)
	}
}

// recordLeftovers writes what record could not. At most one batch is waiting,
// because nothing is told before it has gone.
func (l *lane) recordLeftovers(ctx context.Context) error {
	for len(l.unrecorded) > 0 {
		if err := l.o.Outbox.Attempted(context.WithoutCancel(ctx), l.unrecorded[0]); err != nil {
			return err
		}
		l.unrecorded = slices.Delete(l.unrecorded, 0, 1)
	}
	return nil
}

// trouble notes a failure of the outbox and returns how long to leave it alone.
func (l *lane) trouble(doing string, err error) time.Duration {
	l.counters.outboxFailed()
	l.troubles++
	l.log.Error().Err(err).Msgf("cannot %s the outbox; check the disk and the store directory", doing)
	return l.pause(l.troubles, orderedPause)
}

func (l *lane) logAttempt(a Attempt) {
	event := l.log.Warn()
	switch a.Outcome {
	case Delivered:
		event = l.log.Info()
	case Held, Broken:
		event = l.log.Debug()
	case Refused, GivenUp:
		event = l.log.Error()
	}
	event.Str("row", a.Row).Str("person", a.Person).Int("try", a.Number).Str("outcome", string(a.Outcome)).Dur("took_ms", a.Ended.Sub(a.Began))
	if a.Detail != "" {
		event.Str("detail", a.Detail)
	}
	if !a.Next.IsZero() {
		event.Time("next", a.Next)
	}
	event.Msg("told")
}
