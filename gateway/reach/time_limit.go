package reach

import (
	"context"
	"errors"
	"fmt"
	"time"
)

// TimeLimit gives each telling of n at most limit, in real time.
func TimeLimit(n Notifier, limit time.Duration) Notifier { return timeLimit{n, limit} }

type timeLimit struct {
	next  Notifier
	limit time.Duration
}

func (l timeLimit) Tell(ctx context.Context, t Telling) error {
	bounded, cancel := context.WithTimeout(ctx, l.limit)
	defer cancel()
	err := l.next.Tell(bounded, t)
	var final *Permanent
	var denied *Denied
	if err == nil || errors.Is(err, ErrRehearsed) || errors.As(err, &final) || errors.As(err, &denied) || ctx.Err() != nil || bounded.Err() == nil {
		return err
	}
	return fmt.Errorf("channel %q gave no answer within %s; check that its server is up and can be reached: %w", t.Channel, l.limit, err)
}
