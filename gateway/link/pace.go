package link

import (
	"cmp"
	"context"
	"time"
)

// pace gives the pauses between attempts: each twice as long as the one
// before, from least to most, then between half and all of it by chance, so
// that many clients do not return in step.
type pace struct {
	least, most time.Duration
	random      func() float64 // in [0,1)
	step        time.Duration
}

func (p *pace) next() time.Duration {
	p.step = cmp.Or(p.step, p.least)
	d := p.step
	p.step = min(2*p.step, p.most)
	return d/2 + time.Duration(p.random()*float64(d/2))
}

// sleep waits for d or until ctx ends.
func sleep(ctx context.Context, d time.Duration) {
	select {
	case <-time.After(d):
	case <-ctx.Done():
	}
}
