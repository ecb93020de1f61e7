package alarms

import (
	"fmt"
	"slices"
	"time"

	"telltale/alarms/ground"
)

// loop is a ground loop at work. What it delivers is added up whenever one of
// its readings comes or goes; whether it works is judged by samples of what is
// known at fixed moments, so that it does not matter in which order the
// readings of one moment arrive.
type loop struct {
	loopState
	plan     *Loop
	house    *house
	from     *place
	runs     *stream
	power    *stream // of the fan; nil: not measured
	pipes    []*pipe
	sample   *timer
	midnight *timer
	log      *alarm // carries the log of days and of depths
	tells    Reason // of the note being written
	hand     byHand
	ways     []byHand // that the plan has
	settable bool     // by the positions of selectors
}

// loopState is what a snapshot keeps of a loop, without its pipes.
type loopState struct {
	Day     ground.Energy `json:"day"`               // of the house's day that runs
	DayFrom instant       `json:"day_from"`          // when that began, or the watch
	Past    LoopEnergy    `json:"past"`              // of all days before
	Last    LoopEnergy    `json:"last"`              // of the day before
	Want    ground.Want   `json:"want,omitempty"`    // of the house
	Best    int           `json:"best,omitempty"`    // better depth now, counted from 1; 0: none; saved by name
	Depths  [3]int        `json:"depths,omitzero"`   // last noted better depth by want; likewise
	Held    int           `json:"held,omitempty"`    // samples for which another one has been better
	Passing int           `json:"passing,omitempty"` // that other one; likewise

	// Of what is set by hand: see loop_hand.go.
	By       string                `json:"by,omitempty"`        // the way in which air passes
	DepthsBy map[string][3]PlaceID `json:"depths_by,omitempty"` // Depths of the other ways
	Ways     map[string]LoopEnergy `json:"ways,omitempty"`      // what each brought, where there are several
	Counted  LoopEnergy            `json:"counted,omitzero"`    // of the day that runs, what is in Ways
}

// pipe is one pipe of a loop at work.
type pipe struct {
	pipeState
	plan   *Pipe
	loop   *loop
	outlet *place
	damper *stream // nil: always open

	noFlow, wet, declining *alarm

	anew bool // another plan described it otherwise
}

// pipeState is what a snapshot keeps of a pipe.
type pipeState struct {
	Day     ground.Energy  `json:"day"`
	Past    LoopEnergy     `json:"past"`
	Last    LoopEnergy     `json:"last"`
	Follow  ground.Follow  `json:"follow"`
	Water   ground.Water   `json:"water"`
	Decline ground.Decline `json:"decline"`
	Stands  instant        `json:"stands,omitempty"` // no air has been drawn through it since
	Learned learned        `json:"learned"`
	By      string         `json:"by"` // what all but the energy was judged by

	Others map[string]figures `json:"others,omitempty"` // of other ways in which air passed
}

// learned is what a pipe's first week says of its effectiveness.
type learned struct {
	Span   time.Duration `json:"span,omitempty"` // of samples
	Top    float64       `json:"top,omitempty"`  // sum of (house - outlet)(house - ground), K²
	Bottom float64       `json:"bottom,omitempty"`
}

// savedLoop is a loop in a snapshot.
type savedLoop struct {
	loopState
	SampleDue   instant               `json:"sample_due"`
	MidnightDue instant               `json:"midnight_due"`
	Pipes       map[PlaceID]pipeState `json:"pipes"`
	Named       namedPipes            `json:"named,omitzero"`
}

// namedPipes are the pipes that a loop's state numbers, by their outlets, since
// another plan may count them otherwise.
type namedPipes struct {
	Best    PlaceID    `json:"best,omitempty"`
	Passing PlaceID    `json:"passing,omitempty"`
	Depths  [3]PlaceID `json:"depths,omitzero"`
}

func (e *Engine) buildLoop(h *house) {
	plan := h.plan.Loop
	if plan == nil {
		return
	}
	l := &loop{plan: plan, house: h, from: h.place(plan.House), ways: h.plan.ways(), settable: h.plan.setsLoop()}
	h.loop = l
	l.runs = e.loopStream(plan.Runs.Probe, plan.Runs.Quantity)
	l.power = e.loopStream(plan.FanPower, Power)
	l.from.looped()
	l.sample = e.timers.build(func(due instant) { e.sampleLoop(l, due) })
	l.midnight = e.timers.build(func(due instant) { e.endLoopDay(l, due) })
	l.log = e.newAlarm(&alarm{
		id: AlarmID(h.plan.ID) + "/ground-loop", rule: RuleLoop, house: h, priority: always(Low),
		why: func(Move, instant) Reason { return l.tells },
	})
	for i := range plan.Pipes {
		l.pipes = append(l.pipes, e.buildPipe(l, &plan.Pipes[i]))
	}
}

func (e *Engine) buildPipe(l *loop, plan *Pipe) *pipe {
	p := &pipe{plan: plan, loop: l, outlet: l.house.place(plan.Outlet)}
	p.By = p.fingerprint()
	p.damper = e.loopStream(plan.Damper.Probe, plan.Damper.Quantity)
	p.outlet.looped()
	for _, pr := range p.outlet.probes {
		for _, st := range pr.streams {
			st.piped = true
		}
	}
	one := func(name string, pr Priority) *alarm {
		a := &alarm{id: l.house.id(plan.Outlet, name), rule: RuleLoop, house: l.house, place: p.outlet, quantity: Temperature,
			pipe: p, priority: always(pr)}
		a.why = func(_ Move, due instant) Reason { return e.whyPipe(a, due) }
		return e.newAlarm(a)
	}
	p.noFlow, p.wet, p.declining = one("no-flow", l.plan.Priority), one("wet-pipe", Low), one("declining", Low)
	p.wet.quantity = Humidity
	return p
}

func (e *Engine) loopStream(id ProbeID, q Quantity) *stream {
	st := e.streams[streamKey{id, q}]
	if st != nil {
		st.loop = true
	}
	return st
}

// looped marks what p's loop rests on.
func (p *place) looped() {
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if q := st.plan.Quantity; q == Temperature || q == Humidity {
				st.loop = true
			}
		}
	}
}

// startLoop sets the deadlines of h's loop at the first moment ever seen.
func (e *Engine) startLoop(h *house, now instant) {
	if h.loop == nil {
		return
	}
	h.loop.DayFrom = now
	h.loop.hand = h.byHand()
	h.loop.By = h.loop.hand.key()
	e.timers.set(h.loop.sample, nextSample(now))
	e.timers.set(h.loop.midnight, h.midnightAfter(now))
}

// midnightAfter returns the next midnight of h's days after a moment.
func (h *house) midnightAfter(now instant) instant {
	return h.wall.core(midnightIn(h.wall.at(now), h.plan.Day.Zone))
}

func (e *Engine) saveLoop(l *loop) savedLoop {
	s := savedLoop{loopState: l.loopState, SampleDue: l.sample.due, MidnightDue: l.midnight.due, Pipes: map[PlaceID]pipeState{}}
	for _, p := range l.pipes {
		s.Pipes[p.plan.Outlet] = p.pipeState
	}
	s.Named.Best, s.Named.Passing = l.outlet(l.Best), l.outlet(l.Passing)
	s.Named.Depths = l.depthNames()
	s.Best, s.Passing, s.Depths = 0, 0, [3]int{}
	return s
}

// outlet names pipe n of l, counted from 1.
func (l *loop) outlet(n int) PlaceID {
	if n == 0 {
		return ""
	}
	return l.pipes[n-1].plan.Outlet
}

// number is the pipe with an outlet, counted from 1; 0 for none.
func (l *loop) number(outlet PlaceID) int {
	return 1 + slices.IndexFunc(l.pipes, func(p *pipe) bool { return p.plan.Outlet == outlet })
}

func (e *Engine) loadLoop(l *loop, s savedLoop, replanned bool) {
	l.loopState = s.loopState
	e.timers.set(l.sample, s.SampleDue)
	if !replanned { // else there may be another midnight
		e.timers.set(l.midnight, s.MidnightDue)
	}
	for _, p := range l.pipes {
		p.load(s.Pipes[p.plan.Outlet])
	}
	switch {
	case s.Named != namedPipes{}:
		l.Best, l.Passing = l.number(s.Named.Best), l.number(s.Named.Passing)
		for i, outlet := range s.Named.Depths {
			l.Depths[i] = l.number(outlet)
		}
	case len(s.Pipes) != len(l.pipes): // an early snapshot, which numbered other pipes
		l.Best, l.Passing, l.Depths = 0, 0, [3]int{}
	}
	if l.Passing == 0 {
		l.Held = 0
	}
	if l.hand = l.house.byHand(); !replanned {
		l.By = l.hand.key()
	}
}

// fingerprint is what makes what was learned of p of use.
func (p *pipe) fingerprint() string {
	soil := ""
	if p.loop.plan.Soil != nil {
		soil = fmt.Sprint(*p.loop.plan.Soil)
	}
	return fmt.Sprint(p.plan.Depth, p.plan.Flow, p.plan.Effectiveness, p.loop.plan.House, soil)
}

// load takes what was saved of p. Of a pipe that the plan now describes in
// another way only the energy is of use.
func (p *pipe) load(s pipeState) {
	if by := p.fingerprint(); s.By != by {
		s = pipeState{Day: s.Day, Past: s.Past, Last: s.Last, By: by}
		p.anew = true
	}
	p.pipeState = s
}
