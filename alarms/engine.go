package alarms

import (
	"slices"
	"strings"
	"time"
)

// Engine judges. It is not safe for concurrent use: one goroutine owns it.
type Engine struct {
	plan       Plan
	now        instant   // newest At seen
	clock      wallClock // what clocks on the wall show
	started    bool
	timers     timers
	houses     []*house
	calendars  []*calendar // in the order of the houses
	calendarOf map[days]*calendar
	streams    map[streamKey]*stream
	probes     map[ProbeID]*probe
	alarms     map[AlarmID]*alarm
	order      []*alarm // by ID
	link       *link
	restart    *alarm
	stepped    *alarm // carries the log of steps of the wall clock
	trouble    map[AlarmID]*trouble
	actor      actor
	out        []*Transition

	// To be looked at in this instant: see settle.
	changed   []*side      // whose level may have changed
	deciding  []*node      // that fell silent, or need not wait any more
	news      []*place     // in which something changed
	newsAbove []*node      // above places
	restated  []*mechanism // some of whose alarms were put aside, or are so no longer

	// Whose waits ended while nothing could be heard.
	aside      []*stream
	asideNodes []*node

	awaySince instant // before the newest restart; for its note only
	awayFor   time.Duration
	awayNote  string
	stepBy    time.Duration // of the step being told
	awayTo    instant       // end of the time away that is being made up for; 0: none
	absent    absence
	lateFrom  instant // where the newest step began that is so long that what is told again in it is told once
	lateTo    instant // its end

	printed    string          // of the plan, to tell it from another; "" until asked for
	former     *former         // nil: the plan is the one of the last run, or has been taken up
	counts     map[AlarmID]int // of the transitions of alarms that the plan does not name any more
	loading    bool            // what is counted was judged before it was saved
	replanning bool            // what ends now ends because the plan was changed
	others     bool            // the words are in the other unit of temperature
	unitAsked  bool            // the words that are being said have a unit of temperature in them
}

// New builds an engine for p with every alarm normal. The error lists all
// that makes p impossible to judge by.
func New(p Plan) (*Engine, error) {
	if err := p.check(); err != nil {
		return nil, err
	}
	e := &Engine{
		plan:       p.withDefaults(),
		streams:    map[streamKey]*stream{},
		probes:     map[ProbeID]*probe{},
		alarms:     map[AlarmID]*alarm{},
		trouble:    map[AlarmID]*trouble{},
		counts:     map[AlarmID]int{},
		calendarOf: map[days]*calendar{},
	}
	e.timers.stretch = &stretch{}
	e.plan.Words.asked = &e.unitAsked
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
	anew := e.former != nil
	if anew {
		e.replan(now)
	}
	switch in.Kind {
	case RestartMarker:
		e.comeBack(e.now, in.Note, now)
	case StoodStill:
		since := min(max(at(in.Since), e.now), now)
		e.now = now // all of it is noticed now
		e.timers.runUntil(since, e.settle)
		e.comeBack(since, stoodStill, now)
	default:
		e.advance(now)
		e.dispatch(&in, now)
	}
	if anew {
		e.endSettlingAll(now)
	}
	e.settle(now)
	return e.taken()
}

// advance lets time pass until now.
func (e *Engine) advance(now instant) {
	e.putAside(e.now, now)
	if now.since(e.now) > longStep {
		e.lateFrom, e.lateTo = e.now, now
	}
	e.now = now
	e.timers.runUntil(now, e.settle)
}

func (e *Engine) dispatch(in *Input, now instant) {
	switch in.Kind {
	case Tick:
	case ReadingIn:
		if st := e.streams[streamKey{in.Probe, in.Quantity}]; st != nil {
			e.timers.live = true
			e.reading(st, in, now)
			e.timers.live = false
		}
	case GarbledIn:
		if p := e.probes[in.Probe]; p != nil {
			e.garbled(p, in.Quantity, in.Note, now)
		}
	case LinkUp:
		e.linkUp(now)
	case LinkDown:
		e.linkDown(in.Note, now)
	case SetSelector:
		e.setSelector(in, now)
	case Calibrate:
		e.calibrate(in, now)
	case ClockStep:
		e.stepClock(in.Shift, now)
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
	slices.SortStableFunc(e.out, func(a, b *Transition) int {
		if c := a.Core.Compare(b.Core); c != 0 {
			return c
		}
		return strings.Compare(string(a.Alarm), string(b.Alarm))
	})
	out := make([]Transition, len(e.out))
	for i, t := range e.out {
		out[i] = *t
	}
	e.out = nil
	return out
}

// start sets what depends on the first moment ever seen.
func (e *Engine) start(now instant) {
	e.started, e.now = true, now
	e.startDays(now)
	for _, h := range e.houses {
		for _, st := range h.streams {
			e.recount(st, now)
			e.expect(st, now)
		}
		e.startExposures(h, now)
		e.startLoop(h, now)
		e.startMechanisms(h, now)
		e.startOpenings(h, now)
	}
}

// Next returns when the next deadline is due, or earlier; ok is false when
// there is none. A tick at that moment hears of it without delay.
func (e *Engine) Next() (due time.Time, ok bool) {
	n := e.timers.next()
	return n.utc(), n != 0
}

// Now returns the newest time the engine has seen.
func (e *Engine) Now() time.Time { return e.now.utc() }
