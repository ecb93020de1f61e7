package supervise

import (
	"errors"
	"fmt"
	"sync/atomic"
	"time"
)

// Alive returns nil while the watch does its work, else what is wrong.
type Alive func() error

// Pulse is set by the owner loop each time round and read by others. It goes
// by this machine's real time, also where the rest runs on a faster clock.
type Pulse struct {
	last atomic.Pointer[time.Time]
}

// Beat is called by the owner loop each time round.
func (p *Pulse) Beat() {
	now := time.Now()
	p.last.Store(&now)
}

// Last returns when the last beat was, the zero time if there was none.
func (p *Pulse) Last() time.Time {
	if last := p.last.Load(); last != nil {
		return *last
	}
	return time.Time{}
}

// Within returns an Alive that holds while the last beat is not older than d.
func (p *Pulse) Within(d time.Duration) Alive {
	return func() error {
		last := p.Last()
		if last.IsZero() {
			return errors.New("the watch has not begun to judge readings")
		}
		if age := time.Since(last); age > d {
			return fmt.Errorf("the watch has judged nothing for %v, at most %v is allowed", age.Round(time.Second), d)
		}
		return nil
	}
}
