package loop

import (
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/ground"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// Loop is a ground loop at work.
type Loop struct {
	loopState
	plan     *alarms.Loop
	house    House
	panel    *lifecycle.Panel
	from     Place
	runs     Stream
	power    Stream // of the fan; nil: not measured
	pipes    []*pipe
	sample   *timing.Timer
	midnight *timing.Timer
	log      *lifecycle.Alarm // carries the log of days and of depths
	tells    alarms.Reason    // of the note being written
	hand     byHand
	ways     []byHand // that the plan has
	Settable bool     // by the positions of selectors: then Turn must be told of them
}

// loopState is what a snapshot keeps of a loop, without its pipes.
type loopState struct {
	Day     ground.Energy     `json:"day"`               // of the house's day that runs
	DayFrom timing.Instant    `json:"day_from"`          // when that began, or the watch
	Past    alarms.LoopEnergy `json:"past"`              // of all days before
	Last    alarms.LoopEnergy `json:"last"`              // of the day before
	Want    ground.Want       `json:"want,omitempty"`    // of the house
	Best    int               `json:"best,omitempty"`    // better depth now, counted from 1; 0: none; saved by name
	Depths  [3]int            `json:"depths,omitzero"`   // last noted better depth by want; likewise
	Held    int               `json:"held,omitempty"`    // samples for which another one has been better
	Passing int               `json:"passing,omitempty"` // that other one; likewise

	// Of what is set by hand: see hand.go.
	By       string                       `json:"by,omitempty"`        // the way in which air passes
	DepthsBy map[string][3]alarms.PlaceID `json:"depths_by,omitempty"` // Depths of the other ways
	Ways     map[string]alarms.LoopEnergy `json:"ways,omitempty"`      // what each brought, where there are several
	Counted  alarms.LoopEnergy            `json:"counted,omitzero"`    // of the day that runs, what is in Ways
}

// pipe is one pipe of a loop at work.
type pipe struct {
	lifecycle.Plain
	pipeState
	plan   *alarms.Pipe
	loop   *Loop
	outlet Place
	damper Stream // nil: always open

	noFlow, wet, declining *lifecycle.Alarm

	anew bool // another plan described it otherwise
}

// pipeState is what a snapshot keeps of a pipe.
type pipeState struct {
	Day     ground.Energy     `json:"day"`
	Past    alarms.LoopEnergy `json:"past"`
	Last    alarms.LoopEnergy `json:"last"`
	Follow  ground.Follow     `json:"follow"`
	Water   ground.Water      `json:"water"`
	Decline ground.Decline    `json:"decline"`
	Stands  timing.Instant    `json:"stands,omitempty"` // no air has been drawn through it since
	Learned learned           `json:"learned"`
	By      string            `json:"by"` // what all but the energy was judged by

	Others map[string]figures `json:"others,omitempty"` // of other ways in which air passed
}

// learned is what a pipe's first week says of its effectiveness.
type learned struct {
	Span   time.Duration `json:"span,omitempty"` // of samples
	Top    float64       `json:"top,omitempty"`  // sum of (house - outlet)(house - ground), K²
	Bottom float64       `json:"bottom,omitempty"`
}

// Saved is a loop in a snapshot.
type Saved struct {
	loopState
	SampleDue   timing.Instant               `json:"sample_due"`
	MidnightDue timing.Instant               `json:"midnight_due"`
	Pipes       map[alarms.PlaceID]pipeState `json:"pipes"`
	Named       namedPipes                   `json:"named,omitzero"`
}

// namedPipes are the pipes that a loop's state numbers, by their outlets, since
// another plan may count them otherwise.
type namedPipes struct {
	Best    alarms.PlaceID    `json:"best,omitempty"`
	Passing alarms.PlaceID    `json:"passing,omitempty"`
	Depths  [3]alarms.PlaceID `json:"depths,omitzero"`
}

// House is what a loop asks of its house.
type House interface {
	Plan() *alarms.House
	// Position is the one in which a selector is, by its place in the plan; nil: not known.
	Position(selector int) *alarms.Position
	// Place is one whose air the loop moves; piped: at the end of a pipe.
	Place(id alarms.PlaceID, piped bool) Place
	// Stream is one that shows something of the loop, nil for none.
	Stream(id alarms.ProbeID, q alarms.Quantity) Stream
	// Alarm makes an alarm of the house, at a place of it or, with "", of the whole.
	Alarm(a lifecycle.Alarm, of lifecycle.Rule, at alarms.PlaceID) *lifecycle.Alarm
	// Midnight is the next one after a moment.
	Midnight(after timing.Instant) timing.Instant
	// Leap is due, or from when on the calendar matters of a house that sleeps.
	Leap(due timing.Instant) timing.Instant
}

// Place is a place as a loop sees it.
type Place interface {
	Name() string
	// Air is what is believed of it now.
	Air() ground.Air
	// Stale reports whether no temperature of it is new enough to judge by.
	Stale(now timing.Instant) bool
}

// Stream is what a probe says of one quantity.
type Stream interface {
	// Live returns its value of the present, ok where it may be used.
	Live() (v float64, ok bool)
}

// New returns the loop of h, nil where the plan has none.
func New(h House, panel *lifecycle.Panel) *Loop {
	plan := h.Plan().Loop
	if plan == nil {
		return nil
	}
	l := &Loop{plan: plan, house: h, panel: panel, ways: waysOf(h.Plan()), Settable: h.Plan().SetsLoop()}
	l.from = h.Place(plan.House, false)
	l.runs = h.Stream(plan.Runs.Probe, plan.Runs.Quantity)
	l.power = h.Stream(plan.FanPower, alarms.Power)
	l.sample = panel.Timers.Build(l.sampleLoop)
	l.midnight = panel.Timers.Build(l.endDay)
	l.log = h.Alarm(lifecycle.Alarm{
		ID: alarms.AlarmID(h.Plan().ID) + "/ground-loop", Kind: alarms.RuleLoop, Priority: lifecycle.Always(alarms.Low),
		Because: func(alarms.Move, timing.Instant) alarms.Reason { return l.tells },
	}, lifecycle.Log{}, "")
	for i := range plan.Pipes {
		l.pipes = append(l.pipes, l.buildPipe(&plan.Pipes[i]))
	}
	return l
}

func (l *Loop) buildPipe(plan *alarms.Pipe) *pipe {
	p := &pipe{plan: plan, loop: l, outlet: l.house.Place(plan.Outlet, true)}
	p.By = p.fingerprint()
	p.damper = l.house.Stream(plan.Damper.Probe, plan.Damper.Quantity)
	one := func(what alarms.LoopWhat, q alarms.Quantity, pr alarms.Priority) *lifecycle.Alarm {
		return l.house.Alarm(lifecycle.Alarm{
			ID: alarms.AlarmID(l.house.Plan().ID) + "/" + alarms.AlarmID(plan.Outlet) + "/" + alarms.AlarmID(what), Kind: alarms.RuleLoop, Quantity: q,
			Priority: lifecycle.Always(pr), Because: func(_ alarms.Move, due timing.Instant) alarms.Reason { return p.whyPipe(what, due) },
		}, p, plan.Outlet)
	}
	p.noFlow, p.wet = one(alarms.NoFlow, alarms.Temperature, l.plan.Priority), one(alarms.WetPipe, alarms.Humidity, alarms.Low)
	p.declining = one(alarms.Declining, alarms.Temperature, alarms.Low)
	return p
}

// House is whose loop l is.
func (l *Loop) House() alarms.HouseID { return l.house.Plan().ID }

// Start sets the deadlines of l at the first moment ever seen.
func (l *Loop) Start(now timing.Instant) {
	l.DayFrom = now
	l.hand = l.byHand()
	l.By = l.hand.key()
	l.panel.Timers.Set(l.sample, nextSample(now))
	l.panel.Timers.Set(l.midnight, l.house.Midnight(now))
}

// Midnight lets the day of l, of which the wall clock leapt over the end, end now, or
// later than it was due.
func (l *Loop) Midnight(over bool, next, now timing.Instant) {
	switch {
	case l.midnight.Due == 0:
	case over:
		l.endDay(now)
	default:
		l.panel.Timers.Set(l.midnight, next)
	}
}

// Idle reports whether nothing of l is kept that the next days could end.
func (l *Loop) Idle() bool {
	if l.loopState.Day.Run != 0 || l.loopState.Day.Watched != 0 { // which goes into the log
		return false
	}
	return !slices.ContainsFunc(l.pipes, func(p *pipe) bool { return p.Decline.Days != 0 })
}

// Replan brings what is on to a new plan.
func (l *Loop) Replan(due timing.Instant) {
	l.Turn(due)
	l.forgetWays()
	for _, p := range l.pipes {
		if p.anew {
			p.noFlow.Found(false, due)
			p.wet.Found(false, due)
			p.declining.Found(false, due)
		}
	}
}

// LikeHouse says of how many pipes, and of how many there are, air leaves as it came.
func (l *Loop) LikeHouse() (alike, of int) {
	for _, p := range l.pipes {
		if p.noFlow.Condition != alarms.Within {
			alike++
		}
	}
	return alike, len(l.pipes)
}

// Ends reports whether a pipe of l ends at a place.
func (l *Loop) Ends(at alarms.PlaceID) bool { return l.number(at) > 0 }

// Save returns what Load goes on from.
func (l *Loop) Save() Saved {
	s := Saved{loopState: l.loopState, SampleDue: l.sample.Due, MidnightDue: l.midnight.Due, Pipes: map[alarms.PlaceID]pipeState{}}
	for _, p := range l.pipes {
		s.Pipes[p.plan.Outlet] = p.pipeState
	}
	s.Named.Best, s.Named.Passing = l.outlet(l.Best), l.outlet(l.Passing)
	s.Named.Depths = l.depthNames()
	s.Best, s.Passing, s.Depths = 0, 0, [3]int{}
	return s
}

// Load lets l go on from s, under another plan if it is replanned.
func (l *Loop) Load(s Saved, replanned bool) {
	l.loopState = s.loopState
	l.panel.Timers.Set(l.sample, s.SampleDue)
	if !replanned { // else there may be another midnight
		l.panel.Timers.Set(l.midnight, s.MidnightDue)
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
	if l.hand = l.byHand(); !replanned {
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
