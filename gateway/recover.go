package gateway

import (
	"context"
	"errors"
	"fmt"
	"time"

	"telltale/alarms"
	"telltale/gateway/store"
)

// recover brings the core to the state in which it was left, and saves what a
// crash left unsaved.
func (p *parts) recover() (*alarms.Engine, error) {
	snap, inputs, err := p.store.Recover()
	if err != nil && !errors.Is(err, store.ErrSnapshot) {
		return nil, p.unreadable(err)
	}
	if err != nil {
		p.log.Error().Err(err).Msg("every alarm begins normal")
	}
	engine, fresh, err := restore(p.cfg.Plan, snap)
	if err != nil {
		p.log.Error().Err(err).Msg("the saved state does not fit; every alarm begins normal")
		if engine, err = alarms.New(p.cfg.Plan); err != nil {
			return nil, err
		}
		fresh = true
	}
	var made []alarms.Transition
	for in, err := range inputs {
		if err != nil {
			return nil, p.unreadable(err)
		}
		fresh = false
		made = append(made, engine.Step(in)...)
	}
	p.owner.newest, p.owner.linkDown = engine.Now(), engine.Now() // what the broker holds came after this
	if !fresh {
		for _, in := range p.comeBack(engine) {
			in.At = in.At.Truncate(time.Millisecond)
			if in.At.Before(p.owner.newest) {
				in.At = p.owner.newest
			}
			p.owner.newest = in.At
			p.store.Append(in)
			made = append(made, engine.Step(in)...)
		}
	}
	p.owner.fresh, p.owner.recovered = made, !fresh
	return engine, nil
}

// comeBack sets the clock to go on from where an earlier run ended, and returns
// what the core must be told. Within one start of the machine both times are
// measured. After a power-off they cannot be: the clock on the wall, if it has
// not gone back, says how long that took; or somebody has set it.
func (p *parts) comeBack(engine *alarms.Engine) []alarms.Input {
	last, c := engine.Now(), p.clock
	ahead := engine.Wall(last).Sub(last)
	back := alarms.Input{Kind: alarms.RestartMarker}
	run, err := p.store.Origin(context.Background())
	if err != nil {
		p.log.Error().Err(err).Msg("when the last run began cannot be read; the time away is taken from the clock")
	}
	switch now := last; {
	case err == nil && c.boot != "" && run.Boot == c.boot:
		now = run.At.Add(c.source.passed())
		c.resume(later(now, last), ahead)
	default:
		back.Note = alarms.AwayUnsure
		c.resume(later(c.Now().Add(-ahead), last), ahead)
	}
	back.At = c.Core()
	told := []alarms.Input{back}
	if by := c.step(); by != 0 {
		c.stepTaken(by)
		told = append(told, alarms.Input{Kind: alarms.ClockStep, At: back.At, Shift: by})
	}
	return told
}

func later(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func (p *parts) unreadable(err error) error {
	return marked{ErrStore, fmt.Errorf("the store %s cannot be read: %w", p.cfg.Store.Directory, err)}
}

func restore(plan alarms.Plan, snap []byte) (e *alarms.Engine, fresh bool, err error) {
	if snap == nil {
		e, err = alarms.New(plan)
		return e, true, err
	}
	e, err = alarms.Restore(plan, snap)
	return e, false, err
}
