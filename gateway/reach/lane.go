package reach

import (
	"context"
	"errors"
	"fmt"
	"sync/atomic"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
)

const (
	batch = 100 // rows read at once
	// lookAgain is the longest real time between two looks into the outbox, so
	// that a clock set forward, or a wake that never came, is noticed.
	lookAgain = time.Minute
	// breath is how long to wait after a round in which nothing was finished,
	// so that even an outbox that forgets Attempt.Next is not worked in a spin.
	breath = time.Second
)

// lane works one channel. run owns everything but wake and counters.
type lane struct {
	Channel
	o        Options
	log      zerolog.Logger
	wake     chan struct{}
	wakeAll  func() // wakes every lane
	counters counters
	since    atomic.Pointer[time.Time] // real time: when it began what it is at; nil: it sleeps

	unrecorded [][]Attempt // told, but the outbox did not take it down
	troubles   int         // failures of the outbox in a row
}

func newLane(c Channel, o Options, wakeAll func()) *lane {
	l := &lane{Channel: c, o: o, wake: make(chan struct{}, 1), wakeAll: wakeAll}
	l.log = o.Log.With().Str("channel", c.Name).Logger()
	l.counters.s.Channel = c.Name
	return l
}

func (l *lane) run(ctx context.Context) {
	defer l.since.Store(nil)
	for ctx.Err() == nil {
		wait, hold := l.round(ctx)
		l.sleep(ctx, wait, hold)
	}
}

// sleep waits, and unless hold says so ends early when woken.
func (l *lane) sleep(ctx context.Context, wait time.Duration, hold bool) {
	if wait <= 0 {
		return
	}
	l.since.Store(nil)
	wake := l.wake
	if hold {
		wake = nil
	}
	select {
	case <-ctx.Done():
	case <-wake:
	case <-time.After(wait):
	}
}

// begins notes that something new is begun.
func (l *lane) begins() {
	now := time.Now()
	l.since.Store(&now)
}

// round tells all that is due and returns the real time until the next look,
// and whether that must be waited out.
func (l *lane) round(ctx context.Context) (wait time.Duration, hold bool) {
	l.begins()
	if err := l.recordLeftovers(ctx); err != nil {
		return l.trouble("record attempts in", err), true
	}
	now := l.o.Now()
	rows, err := l.o.Outbox.Due(ctx, l.Name, now.Add(l.inWatchTime(lookAgain)), batch)
	if err != nil {
		return l.trouble("read", err), true
	}
	l.troubles = 0
	due := gather(rows, now)
	if len(due) == 0 {
		if len(rows) == 0 {
			return lookAgain, false
		}
		return l.inRealTime(rows[0].NotBefore.Sub(now)), false
	}
	return l.tell(ctx, due, now)
}

// tell goes through the due rows; a wait of 0 means: look again at once.
func (l *lane) tell(ctx context.Context, due []Row, now time.Time) (wait time.Duration, hold bool) {
	made, unreadable := letters(due, now, l.Ordered, l.o.Garden)
	var refused []Attempt
	for _, row := range due {
		if err := unreadable[row.ID]; err != nil {
			refused = append(refused, l.attempt(row, row.ID, now, Refused, err.Error()))
		}
	}
	l.record(ctx, refused)
	progress := len(refused) > 0
	for _, m := range made {
		if ctx.Err() != nil {
			return 0, true
		}
		failed, finished := l.tellOne(ctx, m)
		if failed && l.Ordered {
			return l.pause(m.tries()+1, orderedPause), true
		}
		progress = progress || finished
	}
	if len(l.unrecorded) > 0 {
		l.troubles++
		return l.pause(l.troubles, orderedPause), true
	}
	if !progress {
		return breath, false
	}
	return 0, false
}

// tellOne delivers one message and records the attempt for each of its rows. It
// reports whether some of them will be tried again and whether some are done.
func (l *lane) tellOne(ctx context.Context, m letter) (failed, finished bool) {
	l.begins()
	began := l.o.Now()
	m.At = l.o.Wall(began)
	err := l.Notifier.Tell(ctx, m.Telling)
	tries := m.tries() + 1
	var denied *Denied
	if errors.As(err, &denied) {
		tries = settled
	}
	retry := l.pause(tries, longestPause(m.Worst()))
	attempts := make([]Attempt, len(m.rows))
	for i, row := range m.rows {
		a := l.attempt(row, m.ID, began, Delivered, "")
		l.judge(&a, row, m.Events[i], err, retry, ctx.Err() != nil)
		if a.Outcome == Refused || a.Outcome == Failed && denied != nil {
			l.giveUpAddress(ctx, &a, denied)
			l.sendElsewhere(&a, row, m.Events[i].Priority)
		}
		failed = failed || a.Outcome == Failed
		finished = finished || a.Outcome.Finishes()
		attempts[i] = a
	}
	l.record(ctx, attempts)
	return failed, finished
}

func (l *lane) attempt(r Row, telling string, began time.Time, o Outcome, detail string) Attempt {
	return Attempt{
		Row: r.ID, Telling: telling, Transition: r.Transition, Alarm: r.Alarm, Channel: r.Channel, Person: r.Person,
		Number: r.Tries + 1, Began: began, Ended: l.o.Now(), Outcome: o, Detail: detail,
	}
}

// judge turns the error of a telling into the outcome for one row. Rows told
// together have the same retry pause, and so stay together.
func (l *lane) judge(a *Attempt, r Row, e Event, err error, retry time.Duration, stopping bool) {
	var final *Permanent
	var later *Later
	switch {
	case err == nil:
		return
	case errors.Is(err, ErrRehearsed):
		a.Outcome = Rehearsed
	case errors.As(err, &final):
		a.Outcome, a.Detail = Refused, err.Error()
	case errors.As(err, &later):
		a.Outcome, a.Detail = Held, later.Why // Next says until when
		a.Next = a.Ended.Add(l.inWatchTime(later.Pause))
	case stopping:
		a.Outcome, a.Detail, a.Next = Broken, "the watch was stopped before an answer came; it is told after the next start", r.NotBefore
	default:
		l.judgeFailure(a, r, e, err, retry)
	}
}

func (l *lane) judgeFailure(a *Attempt, r Row, e Event, err error, retry time.Duration) {
	first := r.First
	if first.IsZero() {
		first = a.Began
	}
	a.Outcome, a.Detail, a.Next = Failed, err.Error(), a.Ended.Add(l.inWatchTime(retry))
	if l.Ordered {
		a.Next = r.NotBefore // keeps its place in the order
	}
	if limit := e.triedFor(); l.inRealTime(a.Ended.Sub(first))+retry > limit {
		a.Outcome, a.Next = GivenUp, time.Time{}
		a.Detail = fmt.Sprintf("given up after trying for %s (%d times): %v", limit, a.Number, err)
	}
}

// giveUpAddress makes a the last try where there is nobody at the address, and
// never was.
func (l *lane) giveUpAddress(ctx context.Context, a *Attempt, denied *Denied) {
	if a.Outcome != Failed || !denied.Address || a.Number < mostDenied {
		return
	}
	reached, err := l.o.Outbox.Reached(ctx, a.Channel, a.Person)
	if err != nil || reached {
		return // better once too often
	}
	a.Outcome, a.Next = Refused, time.Time{}
	a.Detail = fmt.Sprintf("refused %d times, and nothing ever arrived there: %s", a.Number, a.Detail)
}

// sendElsewhere asks for what is of high priority to be told over the person's
// other channels.
func (l *lane) sendElsewhere(a *Attempt, r Row, p alarms.Priority) {
	if p < alarms.High || r.Person == "" {
		return
	}
	a.Elsewhere = l.o.Elsewhere(r.Outgoing)
	for i := range a.Elsewhere {
		a.Elsewhere[i].NotBefore = a.Ended
	}
}

func (l *lane) pause(tries int, longest time.Duration) time.Duration {
	return pause(tries, longest, l.o.Random())
}

func (l *lane) inWatchTime(real time.Duration) time.Duration {
	return time.Duration(float64(real) * l.o.Speed)
}

// inRealTime is never 0 for what lies ahead, so that no loop spins.
func (l *lane) inRealTime(watch time.Duration) time.Duration {
	return max(time.Millisecond, time.Duration(float64(watch)/l.o.Speed))
}
