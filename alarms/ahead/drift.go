package ahead

import (
	"math"
	"time"

	"telltale/alarms"
	"telltale/alarms/drift"
	"telltale/alarms/lifecycle"
	"telltale/alarms/tape"
	"telltale/alarms/thermal"
	"telltale/alarms/timing"
)

const (
	aDay   = 24 * time.Hour
	silent = 36 * time.Hour // a day that took longer was not heard
)

// watched are the figures whose drift is told. Package loop holds the pipes of a ground
// loop against the ground, which says more of it.
var watched = [...]thermal.Kind{thermal.Warming, thermal.Loss, thermal.Exchange, thermal.Heating}

// drifts follows what a house is like, from day to day.
type drifts struct {
	house   *House
	figures [len(watched)]figure
	driftState
}

// driftState is what is known of the day that is seen.
type driftState struct {
	Day    timing.Instant `json:"day"`    // its beginning
	Basis  uint64         `json:"basis"`  // of what was found before
	Probes uint64         `json:"probes"` // likewise
	Mixed  bool           `json:"mixed,omitempty"`

	Since   [len(watched)]timing.Instant `json:"since"` // when it was first told; 0: it is as usual
	Courses []byte                       `json:"courses"`
}

// figure is one of them.
type figure struct {
	lifecycle.Plain
	of     *drifts
	i      int
	course drift.Course
	alarm  *lifecycle.Alarm // made when first needed
	order  int              // of its timers
	ended  alarms.DriftEnd  // why it ends that is being ended
}

func (d *drifts) build(h *House) {
	d.house = h
	for i := range d.figures {
		d.figures[i] = figure{of: d, i: i, order: h.panel.Timers.Reserve(lifecycle.TimerCount)}
	}
}

// step goes on to now.
func (d *drifts) step(now timing.Instant) {
	if d.Day == 0 {
		d.Day, d.Basis, d.Probes = now, d.house.host.Basis(), d.house.host.Probes()
	}
	if basis := d.house.host.Basis(); basis != d.Basis {
		d.anew(now)
	}
	d.Mixed = d.Mixed || d.house.host.Probes() != d.Probes
	for i := range d.figures {
		f := &d.figures[i]
		switch {
		case f.alarm == nil || f.alarm.Condition == alarms.Within:
		case f.course.State != drift.Lasting: // what was learned is lost
			f.end(alarms.DriftOther, now)
		case f.alarm.State == alarms.Acknowledged:
			f.course.Accept()
			f.end(alarms.DriftTaken, now)
		}
	}
	if now.Since(d.Day) >= aDay {
		d.endDay(now)
	}
}

// anew begins a new reference, as what was found before was of another house.
func (d *drifts) anew(now timing.Instant) {
	d.Basis, d.Probes, d.Day, d.Mixed = d.house.host.Basis(), d.house.host.Probes(), now, false
	for i := range d.figures {
		f := &d.figures[i]
		f.course.Begin()
		f.end(alarms.DriftOther, now)
	}
}

func (d *drifts) endDay(now timing.Instant) {
	found, passed, mixed := d.house.model.Day(), now.Since(d.Day), d.Mixed
	d.Day, d.Mixed = now, false
	switch {
	case d.house.host.Probes() != d.Probes:
		d.anew(now)
		return
	case mixed || passed > silent:
		return
	}
	for _, one := range found {
		for i := range d.figures {
			if f := &d.figures[i]; watched[i] == one.Kind {
				was, worse := f.course.State, one.Kind.Worse()
				f.course.Day(math.Copysign(1, worse)*math.Log(one.Value), math.Abs(worse))
				f.follow(was, now)
			}
		}
	}
}

// follow tells what a day has changed.
func (f *figure) follow(was drift.State, now timing.Instant) {
	switch state := f.course.State; {
	case state == was:
	case state == drift.Usual:
		f.end(alarms.DriftBack, now)
	case state == drift.Apart:
		f.of.Since[f.i] = now
		f.make()
		f.alarm.Write(now)
	default:
		f.alarm.Found(true, now)
	}
}

// end tells that what was told is over.
func (f *figure) end(why alarms.DriftEnd, now timing.Instant) {
	if f.alarm == nil || f.of.Since[f.i] == 0 && f.alarm.Condition == alarms.Within {
		return
	}
	f.ended = why
	if f.alarm.Condition == alarms.Within { // it was only in the log
		f.alarm.Write(now)
	}
	f.alarm.Found(false, now)
	f.ended, f.of.Since[f.i] = "", 0
}

func (f *figure) name() string { return figures[watched[f.i]].name }

func (f *figure) id() alarms.AlarmID {
	return alarms.AlarmID(f.of.house.host.Plan().ID) + "/" + alarms.AlarmID(f.name()) + "/drift"
}

func (f *figure) make() {
	if f.alarm == nil {
		f.alarm = f.of.house.host.Alarm(lifecycle.Alarm{
			ID: f.id(), Kind: alarms.RuleDrift, Priority: lifecycle.Always(alarms.Low), Because: f.why, Order: f.order,
		}, f)
	}
}

// why says what it was, and what it is now.
func (f *figure) why(_ alarms.Move, _ timing.Instant) alarms.Reason {
	value := func(v float64) float64 {
		return math.Round(1000*math.Exp(math.Copysign(1, watched[f.i].Worse())*v)) / 1000
	}
	r := alarms.DriftReason{Figure: f.name(), Ended: f.ended}
	if f.ended != alarms.DriftOther {
		r.Was, r.Is = value(f.course.Was()), value(f.course.Now())
	}
	return alarms.Reason{Since: f.of.house.panel.Clock.At(f.of.Since[f.i]), Drift: &r}
}

// Title says which figure an alarm is about.
func (f *figure) Title(_ *lifecycle.Alarm, s *alarms.Subject) { s.Figure = f.name() }

// Recall makes those alarms, else made when first needed, that saved has.
func (h *House) Recall(saved func(alarms.AlarmID) bool) {
	for i := range h.drifts.figures {
		if f := &h.drifts.figures[i]; saved(f.id()) {
			f.make()
		}
	}
}

// pass is the one order in which the figures are written and read.
func (d *drifts) pass(t *tape.Tape) {
	for i := range d.figures {
		d.figures[i].course.Pass(t)
	}
}

func (d *drifts) save() *driftState {
	if d.Day == 0 {
		return nil
	}
	var t tape.Tape
	d.pass(&t)
	s := d.driftState
	s.Courses = t.Data
	return &s
}

// load goes on from s, which may be nil. What cannot be read begins anew.
func (d *drifts) load(s *driftState) {
	if s == nil {
		return
	}
	t := tape.Read(s.Courses)
	d.driftState = *s
	d.pass(&t)
	whole := !t.Bad && len(t.Data) == 0
	for i := range d.figures {
		if f := &d.figures[i]; !whole || f.alarm == nil && f.course.State != drift.Usual {
			f.course.Begin()
			d.Since[i] = 0
		}
	}
	d.Courses = nil
}
