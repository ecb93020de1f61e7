package reach

import (
	"cmp"
	"context"
	"errors"
	"sync"
	"time"

	"telltale/alarms"
)

// Limits bound how many messages one person gets on one channel. What is held
// back is not lost: it waits in the outbox and comes as one message.
type Limits struct {
	Burst int           // messages that may follow each other at once; default 3, at least 2
	Every time.Duration // then one in this real time; default 2 min
}

// Limit wraps n so that each person gets at most so many messages. The last
// message of the burst is kept for high priority. A telling that is too early
// gets a *Later error without n being asked. Test messages and failed tellings
// do not count. An MQTT channel must not be wrapped: a lamp has to follow.
func Limit(n Notifier, l Limits) Notifier {
	l.Burst = cmp.Or(l.Burst, 3)
	if l.Every == 0 {
		l.Every = 2 * time.Minute
	}
	l.Burst = max(l.Burst, 2)
	return &limiter{next: n, limits: l, spent: map[string]spending{}}
}

type limiter struct {
	next   Notifier
	limits Limits

	mu    sync.Mutex
	spent map[string]spending // by person; as many as the config names
}

// spending is how much of the burst was used at some time, in messages.
type spending struct {
	used float64
	at   time.Time
}

func (l *limiter) Tell(ctx context.Context, t Telling) error {
	if t.Test {
		return l.next.Tell(ctx, t)
	}
	room := float64(l.limits.Burst)
	if t.Worst() < alarms.High {
		room--
	}
	if wait := l.take(t.Person, room, time.Now()); wait > 0 {
		return &Later{Pause: wait, Why: "several messages went to " + t.Person + " just now; what is new will come together in one"}
	}
	err := l.next.Tell(ctx, t)
	if err != nil && !errors.Is(err, ErrRehearsed) { // a rehearsal holds back what would be held back
		l.giveBack(t.Person)
	}
	return err
}

// take books one message when that keeps within room, and otherwise returns
// how long to wait until it does.
func (l *limiter) take(person string, room float64, now time.Time) time.Duration {
	l.mu.Lock()
	defer l.mu.Unlock()
	s := l.spent[person]
	if !s.at.IsZero() {
		s.used = max(0, s.used-float64(now.Sub(s.at))/float64(l.limits.Every))
	}
	s.at = now
	over := s.used + 1 - room
	if over <= 1e-9 { // far less than a microsecond of Every: rounding
		s.used++
		l.spent[person] = s
		return 0
	}
	l.spent[person] = s
	return max(time.Millisecond, time.Duration(over*float64(l.limits.Every)))
}

func (l *limiter) giveBack(person string) {
	l.mu.Lock()
	defer l.mu.Unlock()
	s := l.spent[person]
	s.used = max(0, s.used-1)
	l.spent[person] = s
}
