package reach

import (
	"context"
	"slices"
	"time"
)

// record logs, counts and writes down the attempts of one telling. What the
// outbox does not take is kept and written before anything else is told:
// otherwise the rows would come back as due and be told again and again.
func (l *lane) record(ctx context.Context, attempts []Attempt) {
	if len(attempts) == 0 {
		return
	}
	for _, a := range attempts {
		l.logAttempt(a)
		l.counters.count(a)
	}
	l.unrecorded = append(l.unrecorded, attempts)
	if len(l.unrecorded) > 1 {
		return // the outbox has just failed; round comes back to it
	}
	if err := l.recordLeftovers(ctx); err != nil {
		l.log.Error().Err(err).Msg("cannot record an attempt in the outbox; check the disk and the store directory")
	}
}

// recordLeftovers writes what is not yet written; it holds one round at most,
// because nothing is told before it has gone. An attempt is over and must be
// written even while stopping.
func (l *lane) recordLeftovers(ctx context.Context) error {
	for len(l.unrecorded) > 0 {
		if err := l.o.Outbox.Attempted(context.WithoutCancel(ctx), l.unrecorded[0]); err != nil {
			return err
		}
		if slices.ContainsFunc(l.unrecorded[0], func(a Attempt) bool { return len(a.Elsewhere) > 0 }) {
			l.wakeAll()
		}
		l.unrecorded = slices.Delete(l.unrecorded, 0, 1)
	}
	return nil
}

// trouble notes a failure of the outbox and returns how long to leave it alone.
func (l *lane) trouble(doing string, err error) time.Duration {
	l.troubles++
	l.log.Error().Err(err).Msgf("cannot %s the outbox; check the disk and the store directory", doing)
	return l.pause(l.troubles, orderedPause)
}

func (l *lane) logAttempt(a Attempt) {
	event := l.log.Warn()
	switch a.Outcome {
	case Delivered, Rehearsed:
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
	event.Msg(attemptWords(a.Outcome))
}

// attemptWords say in the log what became of a message.
func attemptWords(o Outcome) string {
	switch o {
	case Delivered:
		return "the message was delivered"
	case Rehearsed:
		return "the message was rehearsed and not sent"
	case Refused:
		return "the message was refused and is not tried again"
	case GivenUp:
		return "the message could not be delivered and is given up"
	case Held:
		return "the message waits: too many came at once"
	case Broken:
		return "the message was cut short, because the watch stops"
	}
	return "the message was not delivered and is tried again"
}
