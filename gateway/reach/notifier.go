package reach

import (
	"context"
	"errors"
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
)

// Notifier tells one person, or everybody who follows, over one channel.
//
// Contract:
//   - Tell returns nil only when the next party has taken the message over: the
//     mail server accepted it, the broker acknowledged it, the receiver
//     answered with success, the program ended well.
//   - Tell may be called again with the same Telling.ID, after a crash or when
//     an answer was lost. That must do no harm, and the ID must be visible in
//     what arrives, so that doubles can be told apart from news.
//   - Tell returns soon after ctx ends, and leaves nothing running behind.
//   - A *Permanent error means that this program made the telling badly, so that
//     it will never get through; it is not tried again. A *Denied error means
//     that the next party will not have it; that may be a mistake there, so it
//     is tried again, at long pauses. A *Later error means that nothing was
//     tried and when to come back. Every other error is worth another try.
//   - ErrRehearsed means that nothing was sent and nothing is to be: nobody was
//     told, and that is no failure.
//   - Errors are sentences that say what to check. They hold no secret.
//   - The sentence of each event is passed on unchanged.
//   - Tell may be called from several goroutines at once.
type Notifier interface {
	Tell(ctx context.Context, t Telling) error
}

// Telling is one message: one event, or several that came close together.
type Telling struct {
	ID      string // the garden's, and that of the outbox row, or one made of the IDs of all rows in it
	Garden  string // its ID, which tells equal IDs of two watches or two stores apart; empty in trials
	Unsaved string // names the run of the watch, if one of the rows is not saved: see Row
	Channel string
	Person  string    // empty on a channel that is followed, not addressed
	At      time.Time // when this message was put together, by the watch's clock
	Test    bool      // a person asked for it; nothing is wrong
	Events  []Event   // at least one
	Rows    []string  // IDs of the outbox rows that Events come from, in their order
}

// Worst returns the highest priority among the events.
func (t Telling) Worst() alarms.Priority {
	worst := alarms.NoPriority
	for _, e := range t.Events {
		worst = max(worst, e.Priority)
	}
	return worst
}

// of gives an ID the form in which it leaves this machine.
func (t Telling) of(id string) string {
	switch {
	case t.Garden == "":
		return id
	case t.Unsaved != "":
		return t.Garden + "~" + t.Unsaved + "/" + id
	}
	return t.Garden + "/" + id
}

// outward returns the events as they leave this machine.
func (t Telling) outward() []Event {
	out := slices.Clone(t.Events)
	for i := range out {
		out[i].ID = t.of(out[i].ID)
	}
	return out
}

// ErrRehearsed is what a notifier returns that only rehearses.
var ErrRehearsed = errors.New("nothing was sent: the channel only rehearses")

// Permanent wraps an error that another try will not mend.
type Permanent struct{ Err error }

func (p *Permanent) Error() string { return p.Err.Error() }

// Unwrap returns what was wrapped.
func (p *Permanent) Unwrap() error { return p.Err }

// refuse makes a Permanent error.
func refuse(format string, args ...any) error {
	return &Permanent{Err: fmt.Errorf(format, args...)}
}

// Denied wraps the answer of a next party that will not have a telling, now or
// ever. Such answers also come of an expired account, a full mailbox, a receiver
// that is being moved or a filter gone wrong.
type Denied struct {
	Err error
	// Address says that there is nobody at the person's address, by that answer.
	Address bool
}

func (d *Denied) Error() string { return d.Err.Error() }

// Unwrap returns what was wrapped.
func (d *Denied) Unwrap() error { return d.Err }

// deny makes a Denied error.
func deny(format string, args ...any) error {
	return &Denied{Err: fmt.Errorf(format, args...)}
}

// Later says that nothing was tried because it is too early.
type Later struct {
	Pause time.Duration // real time to wait
	Why   string
}

func (l *Later) Error() string {
	return fmt.Sprintf("held for another %s: %s", say.Locale{}.Span(l.Pause), l.Why)
}
