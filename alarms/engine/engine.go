package engine

import (
	"errors"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/leave"
	"telltale/alarms/lifecycle"
	"telltale/alarms/thermostat"
	"telltale/alarms/timing"
)

// Engine judges. It is not safe for concurrent use: one goroutine owns it.
type Engine struct {
	plan       alarms.Plan
	panel      lifecycle.Panel
	started    bool
	houses     []*house
	calendars  []*calendar // in the order of the houses
	calendarOf map[alarms.Days]*calendar
	streams    map[streamKey]*stream
	probes     map[alarms.ProbeID]*probe
	alarms     map[alarms.AlarmID]*alarm
	order      []*alarm // by ID
	link       *link
	restart    *alarm
	stepped    *alarm // carries the log of steps of the wall clock
	trouble    map[alarms.AlarmID]*trouble
	leaves     *leave.Book
	leaveLog   *alarm

	// To be looked at in this instant: see settle.
	changed   []*side                  // whose level may have changed
	deciding  []*node                  // that fell silent, or need not wait any more
	news      []*place                 // in which something changed
	newsAbove []*node                  // above places
	restated  []*thermostat.Thermostat // some of whose alarms were put aside, or are so no longer

	// Whose waits ended while nothing could be heard.
	aside      []*stream
	asideNodes []*node

	awaySince timing.Instant // before the newest restart; for its note only
	awayFor   time.Duration
	awayNote  string
	stepBy    time.Duration       // of the step being told
	slow      *alarms.SlowRate    // being noted
	refused   *alarms.Refused     // being noted
	leaving   *alarms.LeaveReason // being noted
	absent    absence
	lateFrom  timing.Instant // where the newest step began that is so long that what is told again in it is told once

	printed    string  // of the plan, to tell it from another; "" until asked for
	former     *former // nil: the plan is the one of the last run, or has been taken up
	loading    bool    // what is counted was judged before it was saved
	replanning bool    // what ends now ends because the plan was changed
}

// New builds an engine for p with every alarm normal. The error lists all
// that makes p impossible to judge by.
func New(p alarms.Plan) (*Engine, error) {
	if err := impossible(p); err != nil {
		return nil, err
	}
	e := &Engine{
		plan:       p.Filled(),
		streams:    map[streamKey]*stream{},
		probes:     map[alarms.ProbeID]*probe{},
		alarms:     map[alarms.AlarmID]*alarm{},
		trouble:    map[alarms.AlarmID]*trouble{},
		calendarOf: map[alarms.Days]*calendar{},
	}
	e.panel = lifecycle.NewPanel(&e.plan)
	e.build()
	slices.SortFunc(e.order, func(a, b *alarm) int { return strings.Compare(string(a.ID), string(b.ID)) })
	return e, nil
}

// impossible is what makes p impossible to judge by.
func impossible(p alarms.Plan) error {
	var all []error
	for _, one := range p.Check() {
		all = append(all, one)
	}
	return errors.Join(all...)
}

// Step applies one input and returns what it brought about, nil for nothing.
// Every deadline up to and including in.At fires first, in order.
func (e *Engine) Step(in alarms.Input) []alarms.Transition {
	now := max(timing.At(in.At), e.panel.Now)
	if !e.started {
		e.start(now)
	}
	anew := e.former != nil
	if anew {
		e.replan(now)
	}
	switch in.Kind {
	case alarms.RestartMarker:
		e.comeBack(e.panel.Now, in.Note, now)
	case alarms.StoodStill:
		since := min(max(timing.At(in.Since), e.panel.Now), now)
		e.panel.Now = now // all of it is noticed now
		e.panel.Timers.RunUntil(since, e.settle)
		e.comeBack(since, alarms.AwayStill, now)
	default:
		e.advance(now)
		e.dispatch(&in, now)
	}
	if anew {
		e.endSettlingAll(now)
	}
	e.settle(now)
	return e.panel.Taken()
}

// advance lets time pass until now.
func (e *Engine) advance(now timing.Instant) {
	e.putAside(e.panel.Now, now)
	if now.Since(e.panel.Now) > lifecycle.LongStep {
		e.lateFrom, e.panel.LateTo = e.panel.Now, now
	}
	e.panel.Now = now
	e.panel.Timers.RunUntil(now, e.settle)
}

func (e *Engine) dispatch(in *alarms.Input, now timing.Instant) {
	switch in.Kind {
	case alarms.Tick:
	case alarms.ReadingIn:
		if st := e.streams[streamKey{in.Probe, in.Quantity}]; st != nil {
			e.panel.Timers.Live = true
			st.reading(e, in, now)
			e.panel.Timers.Live = false
		}
	case alarms.GarbledIn:
		if p := e.probes[in.Probe]; p != nil {
			p.garbled(e, in.Quantity, in.Note, now)
		}
	case alarms.LinkUp:
		e.link.reached(now)
	case alarms.LinkDown:
		e.link.down(in.Note, now)
	case alarms.SetSelector:
		e.setSelector(in, now)
	case alarms.Calibrate:
		e.calibrate(in, now)
	case alarms.ClockStep:
		e.stepClock(in.Shift, now)
	case alarms.TroubleOn, alarms.TroubleOff:
		e.setTrouble(in, now)
	case alarms.GoAway, alarms.ComeBack:
		e.setLeave(in, now)
	default:
		e.person(*in, now)
	}
}

// start sets what depends on the first moment ever seen.
func (e *Engine) start(now timing.Instant) {
	e.started, e.panel.Now = true, now
	e.startDays(now)
	for _, h := range e.houses {
		for _, st := range h.streams {
			e.recount(st, now)
			st.expect(e, now)
		}
		for _, one := range h.parts {
			one.start(now)
		}
	}
}

// Next returns when the next deadline is due, or earlier; ok is false when
// there is none. A tick at that moment hears of it without delay.
func (e *Engine) Next() (due time.Time, ok bool) {
	n := e.panel.Timers.Next()
	return n.UTC(), n != 0
}

// Plan returns the plan that e judges by, with nothing left to default.
func (e *Engine) Plan() *alarms.Plan { return &e.plan }

// Now returns the newest time the engine has seen.
func (e *Engine) Now() time.Time { return e.panel.Now.UTC() }
