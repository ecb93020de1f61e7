package control

import (
	"math"
	"slices"
	"time"

	"telltale/alarms/timing"
)

// driveState is what is known of a drive.
type driveState struct {
	shown
	Call      Call    `json:"call,omitempty"`
	Fell      bool    `json:"fell,omitempty"` // in its last run it did at least half of what the dial asks
	RanInCall bool    `json:"ranInCall,omitempty"`
	Missed    call    `json:"missed"` // the call of DidNotStart
	Open      openRun `json:"open,omitzero"`
	Gates     gates   `json:"gates"`
	Starts    starts  `json:"starts,omitempty"`
	drawState
	Turns     turns          `json:"turns,omitzero"`
	Timer     lead           `json:"timer,omitzero"`
	TestUntil timing.Instant `json:"testUntil,omitempty"`
	record
	Guessed openRun `json:"guessed,omitzero"` // an inferred run that goes on
}

// drive is one drive, with what it hangs together with.
type drive struct {
	driveState
	index         int
	spec          *DriveSpec
	around        *air
	told          *Told
	asked         demand
	meters        meters
	drawn         drawing
	with, without []*drive
	opens         []*drive // that must not run without it
	witness       *stage   // whose switch points it shows, nil for none
}

func newDrive(index int, spec *DriveSpec, around *air, told *Told) *drive {
	d := &drive{index: index, spec: spec, around: around, told: told}
	d.Evidence, d.Source = make([]said, len(spec.Evidence)), -1
	d.meters = meters{&d.shown, spec.Evidence}
	d.drawn = drawing{&d.drawState, slices.IndexFunc(spec.Evidence, func(e EvidenceSpec) bool { return e.What.electric() }), nil}
	if d.drawn.index >= 0 {
		d.drawn.spec = &spec.Evidence[d.drawn.index]
	}
	return d
}

// join makes known what it must and must not run with.
func (d *drive) join(all []*drive) {
	for _, w := range d.spec.With {
		d.with = append(d.with, all[w])
		all[w].opens = append(all[w].opens, d)
		all[w].asked.opens = append(all[w].asked.opens, &d.asked)
	}
	for _, w := range d.spec.Without {
		d.without = append(d.without, all[w])
	}
}

// hang makes known which stages call it.
func (d *drive) hang(all []*stage, bulbs []series) {
	q := &d.asked
	q.all = all
	for _, s := range all {
		own := slices.Contains(s.spec.Drives, d.index)
		if own {
			q.own = append(q.own, s)
		}
		if own || slices.ContainsFunc(d.opens, func(f *drive) bool { return slices.Contains(s.spec.Drives, f.index) }) {
			q.stages = append(q.stages, s)
		}
	}
	first := slices.IndexFunc(q.stages, func(s *stage) bool { return !s.spec.Mode.Humid() })
	if len(q.stages) > 0 {
		q.bulb = q.stages[max(first, 0)].spec.Bulb
	}
	q.home = &bulbs[q.bulb]
}

// firstShown returns the first of list that is shown so, nil for none.
func firstShown(list []*drive, shown Shown) *drive {
	if i := slices.IndexFunc(list, func(d *drive) bool { return d.State == shown }); i >= 0 {
		return list[i]
	}
	return nil
}

// allShown reports whether all of list are shown so.
func allShown(list []*drive, shown Shown) bool {
	return !slices.ContainsFunc(list, func(d *drive) bool { return d.State != shown })
}

// by is the stage that the run which goes on was called by, nil for none.
func (d *drive) by() *stage {
	if d.Open.Started == 0 {
		return nil
	}
	return d.asked.at(d.Open.Call.Stage)
}

// felt is what is felt where the stage hangs that called its run.
func (d *drive) felt() *series { return d.asked.felt(d.by()) }

// near returns the reading next to a moment, of those that are kept, if it is
// fresh.
func (d *drive) near(happened timing.Instant) (celsius float64, known bool) {
	t, nearest := d.asked.home, fresh
	for i := range t.N {
		if off := max(happened-t.When[i], t.When[i]-happened).Since(0); off <= nearest {
			celsius, known, nearest = t.Last[i], true, off
		}
	}
	return celsius, known
}

// draws returns the reading of what it draws, if there is one.
func (d *drive) draws() (e said, known bool) {
	if d.drawn.index < 0 {
		return said{}, false
	}
	e = d.Evidence[d.drawn.index]
	return e, e.Known
}

// account adds up the time since it was last done. It must be called before a
// state or call changes.
func (d *drive) account() { d.record = d.accounted() }

// accounted is its record up to now.
func (d *drive) accounted() record {
	r, blind := d.record, len(d.Evidence) > 0 && d.State == Unknown
	r.account(d.around.now, d.State == Running, d.Call == Called && d.asked.want.Wish == Follow && !blind)
	return r
}

// works reports whether it does by its kind what it was called for: a fan cools, a
// heater heats, misting moistens. Where no stage is known to have called it, it does.
func (d *drive) works() bool {
	by := d.by()
	switch d.spec.Kind {
	case ExhaustFan:
		return by == nil || by.spec.Mode == Cooling
	case Heater:
		return by == nil || by.spec.Mode == Heating
	case Misting:
		return by != nil && by.spec.Mode == Moistening
	}
	return false
}

// answers reports whether the air must yet answer to this run.
func (d *drive) answers() bool {
	r := &d.Open
	return d.spec.Effect > 0 && d.works() && r.Started != 0 && r.TempKnown && !r.Checked
}

// part reports whether it runs at a part of its speed, as far as that shows.
func (d *drive) part() bool {
	if d.asked.more() {
		return true
	}
	if e, known := d.meters.moves(); known {
		return e.Value < partly*e.Top
	}
	e, known := d.draws()
	return known && e.Runs && d.drawn.part(e.Value)
}

// speeds reports whether the temperature can tell another speed from a
// fault: it is expected to answer, and what is usual was learned of one speed,
// or several stages drive it.
func (d *drive) speeds() bool {
	cools := d.spec.Kind == ExhaustFan || d.spec.Kind == Heater
	if d.spec.Effect <= 0 || !cools || !d.works() || !d.felt().Known || d.drawn.index < 0 {
		return false
	}
	return d.asked.contacts() > 1 || !d.drawn.bounded() && !d.held()
}

// held reports whether it draws as much as a held rotor.
func (d *drive) held() bool { return d.drawn.held(d.Evidence[d.drawn.index].Value) }

// drawGrace is how long it must draw otherwise before that is told.
func (d *drive) drawGrace() time.Duration {
	if d.speeds() {
		return d.spec.Effect
	}
	return drawsFor
}

// mostStarts is how many starts an hour are not too many: a cycle timer makes starts of
// its own.
func (d *drive) mostStarts() int {
	most, w := d.spec.MaxStarts, &d.asked.want
	if w.Wish == ByTurns && w.OnFor+w.OffFor > 0 {
		most = max(most, int(math.Ceil(turnsSlack*float64(time.Hour)/float64(w.OnFor+w.OffFor))))
	}
	return most
}

// signs are what is known about it now, beside what the house needs.
func (d *drive) signs() Sign {
	s := d.meters.signs() | d.asked.needs(d.around.cold == Called)
	if e, known := d.draws(); known {
		s |= d.drawn.signs(e.Value, d.speeds() && !d.Gates[DrawsMore].On && !d.Gates[DrawsLess].On)
	}
	if firstShown(d.with, Standing) != nil {
		s |= CompanionStill
	}
	if len(d.opens) > 0 && allShown(d.opens, Standing) {
		s |= DriverStill
	}
	if d.asked.want.Wish == ByHours {
		s |= Timed
	}
	return s
}
