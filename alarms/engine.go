package alarms

import (
	"slices"
	"strings"
	"time"
)

// Engine judges. It is not safe for concurrent use: one goroutine owns it.
type Engine struct {
	plan    Plan
	now     instant // newest At seen
	started bool
	timers  timers
	houses  []*house
	streams map[streamKey]*stream
	probes  map[ProbeID]*probe
	alarms  map[AlarmID]*alarm
	order   []*alarm // by ID
	link    *link
	restart *alarm
	trouble map[AlarmID]*trouble
	actor   actor
	out     []Transition

	changed []*side  // sides of bands whose level may have changed in this instant
	news    []*house // houses to be reviewed in this instant

	awaySince instant // before the newest restart; for its sentence only
}

// New builds an engine for p with every alarm normal. The error lists all
// that makes p impossible to judge by.
func New(p Plan) (*Engine, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	e := &Engine{
		plan:    p.withDefaults(),
		streams: map[streamKey]*stream{},
		probes:  map[ProbeID]*probe{},
		alarms:  map[AlarmID]*alarm{},
		trouble: map[AlarmID]*trouble{},
	}
	e.build()
	slices.SortFunc(e.order, func(a, b *alarm) int { return strings.Compare(string(a.id), string(b.id)) })
	return e, nil
}

// Step applies one input and returns what it brought about, nil for nothing.
// Every deadline up to and including in.At fires first, in order.
func (e *Engine) Step(in Input) []Transition {
	now := max(at(in.At), e.now)
	if !e.started {
		e.start(now)
	}
	if in.Kind == RestartMarker {
		e.comeBack(now)
	} else {
		e.advance(now)
		e.dispatch(&in, now)
	}
	e.settle(now)
	return e.taken()
}

// advance lets time pass until now.
func (e *Engine) advance(now instant) {
	e.now = now
	e.timers.runUntil(now, e.settle)
}

func (e *Engine) dispatch(in *Input, now instant) {
	switch in.Kind {
	case Tick:
	case ReadingIn:
		if st := e.streams[streamKey{in.Probe, in.Quantity}]; st != nil {
			e.reading(st, in, now)
		}
	case GarbledIn:
		if p := e.probes[in.Probe]; p != nil {
			e.garbled(p, in.Note, now)
		}
	case LinkUp:
		e.linkUp(now)
	case LinkDown:
		e.linkDown(in.Note, now)
	case SetSelector:
		e.setSelector(in, now)
	case Calibrate:
		e.calibrate(in, now)
	case TroubleOn, TroubleOff:
		e.setTrouble(in, now)
	default:
		e.person(*in, now)
	}
}

// taken hands over the transitions made so far, in their stated order.
func (e *Engine) taken() []Transition {
	if len(e.out) == 0 {
		return nil
	}
	out := e.out
	e.out = nil
	slices.SortStableFunc(out, func(a, b Transition) int {
		if c := a.Due.Compare(b.Due); c != 0 {
			return c
		}
		return strings.Compare(string(a.Alarm), string(b.Alarm))
	})
	return out
}

// start sets what depends on the first moment ever seen.
func (e *Engine) start(now instant) {
	e.started, e.now = true, now
	for _, h := range e.houses {
		h.Daypart = h.daypartAt(now)
		h.Before, h.SeasonBefore = h.Daypart, h.Season
		e.scheduleDay(h, now)
		e.takeLimits(h)
		for _, st := range h.streams {
			e.expect(st, now)
		}
		e.startExposures(h, now)
		e.startLoop(h, now)
		e.startMechanisms(h, now)
	}
}

// Next returns when the next deadline is due, or earlier; ok is false when
// there is none. A tick at that moment hears of it without delay.
func (e *Engine) Next() (due time.Time, ok bool) {
	n := e.timers.next()
	return n.time(), n != 0
}

// Now returns the newest time the engine has seen.
func (e *Engine) Now() time.Time { return e.now.time() }
