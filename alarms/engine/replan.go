package engine

import (
	"encoding/json"
	"hash/fnv"
	"maps"
	"slices"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// When the plan is changed, what is known goes on under the new one as far as it
// is named there. The rest of this file is what must not: an alarm that nothing
// would ever end, a doubt or a hold of before that would keep back what begins
// now. It happens with the first input after Restore, as of the last moment seen
// under the old plan; until then the engine is the snapshot it came from.

// former is what was saved under another plan, until the first input.
type former struct {
	saved []byte
	gone  []goneAlarm                        // what was not normal, and the plan does not name
	moved map[alarms.ProbeID]lifecycle.Saved // silence alarms, at their old place, of probes out of service
}

// print tells one plan from another.
func (e *Engine) print() string {
	if e.printed == "" {
		zones := []string{zoneName(e.plan.Words.Zone)} // of which the encoding says nothing
		for i := range e.plan.Houses {
			zones = append(zones, zoneName(e.plan.Houses[i].Day.Zone))
		}
		b, err := json.Marshal(struct {
			Plan  alarms.Plan
			Zones []string
		}{e.plan, zones})
		if err != nil {
			b = []byte(err.Error()) // cannot be: a plan is plain data
		}
		sum := fnv.New64a()
		sum.Write(b) //nolint:errcheck // never fails
		e.printed = strconv.FormatUint(sum.Sum64(), 16)
	}
	return e.printed
}

func zoneName(z *time.Location) string {
	if z == nil {
		return ""
	}
	return z.String()
}

// remember notes what of s the plan of e does not name.
func (e *Engine) remember(s *snapshot, saved []byte) {
	f := &former{saved: slices.Clone(saved), moved: map[alarms.ProbeID]lifecycle.Saved{}}
	for _, id := range slices.Sorted(maps.Keys(s.Alarms)) {
		a := s.Alarms[id]
		if e.alarms[id] != nil {
			continue
		}
		e.panel.Counts[id] = a.Count
		if a.State != alarms.Normal {
			f.gone = append(f.gone, goneAlarm{a, id})
		}
		if p := e.probes[a.Of.Probe.ID]; p != nil && p.Out && a.State == alarms.OutOfService && a.Of.Rule == alarms.RuleSilent {
			f.moved[p.plan.ID] = a
		}
	}
	e.former = f
}

// reviseStreams takes what was loaded of the streams of h to the new plan,
// before their silences are counted. It returns those that h has come by and
// that belong to what was unwatched.
func (h *house) reviseStreams(s *snapshot) (dark []*stream) {
	var fresh []*stream
	silent := map[*node]bool{} // something below was silent, and is there yet
	for _, st := range h.streams {
		saved, known := s.Streams[st.key()]
		if at := s.Probes[st.probe.plan.ID].At; !known || at != "" && at != st.probe.place.key() {
			fresh = append(fresh, st)
			st.arrive()
		} else if st.Silent && st.leaf && !st.probe.Out {
			for n := st.node; n != nil; n = n.parent {
				silent[n] = true
			}
		}
		h.e.reconsider(st, saved, s.Now)
	}
	for _, st := range fresh {
		if !st.leaf || st.Silent || st.probe.Out {
			continue
		}
		for n := st.node; n != nil; n = n.parent {
			if silent[n] && s.Nodes[n.alarm.ID].Told {
				st.join(s.Now)
			}
		}
		if a := s.Alarms[st.probe.place.unwatched.ID]; !st.Silent && a.Condition != alarms.Within && a.Why != nil && slices.Contains(a.Why.Quantities, st.plan.Quantity) {
			st.join(s.Now)
			dark = append(dark, st)
		}
	}
	return dark
}

// join lets st, which was not there before, share the silence that it came
// into, until it is heard: a probe that is added to a silent circuit, or to an
// unwatched place, does not by that end the alarm.
func (st *stream) join(now timing.Instant) { st.Silent, st.SilentAt = true, now }

// reviseSilences tells nothing of a node that is not silent in the new plan, and
// gives those that joined the dark a time to be heard.
func (sl *silences) reviseSilences(dark []*stream, now timing.Instant) {
	for _, n := range sl.nodes {
		if n.Dead || n.shown != nil {
			n.weigh(sl.h.e, now)
		}
		if n.Told && !n.silent() {
			n.wake(now)
		}
	}
	for _, st := range dark {
		for _, n := range st.probe.nodes {
			if n.silent() && n.told() == nil && n.Spare.From == 0 {
				n.spare(now)
			}
		}
	}
}

func (p *place) key() string { return string(p.house.plan.ID) + "/" + string(p.plan.ID) }

// arrive forgets what st measured at another place.
func (st *stream) arrive() {
	st.forgetPresent()
	st.Has, st.Held = false, false
	st.outlier.Load(timing.LatchState{})
	st.fault(faultOutlier, false)
}

// reconsider drops what the new plan would never end of st, and what would keep
// back what st says from now on.
func (e *Engine) reconsider(st *stream, s streamState, now timing.Instant) {
	if by := st.point.siblings(); by == "" || s.Siblings != "" && s.Siblings != by {
		st.outlier.Load(timing.LatchState{})
		st.fault(faultOutlier, false)
	}
	st.Spikes = nil
	e.panel.Timers.Set(st.spiking, 0)
	st.fault(faultSpikes, false)
	st.Jumped = false
	if st.Bad > 0 || st.Faults.sick() {
		st.Good = badInARow - 1 // one good reading will do
	}
	if st.plan.StuckFor <= 0 {
		st.fault(faultStuck, false)
		st.fault(faultPinned, false)
	}
	if !st.plan.Weak.Set {
		st.fault(faultBattery, false)
		st.fault(faultSignal, false)
	}
	if by := st.plan.Offset - s.Offset; by != 0 && s.Taken > 0 {
		st.move(by)
	}
	switch due := st.deadline.Due; {
	case !st.leaf:
		st.Silent = false
		e.panel.Timers.Set(st.deadline, 0)
	case due != 0 && st.Wait.From != 0: // it may be awaited more, or less, often
		again := st.Wait.From.Add(st.patience())
		if again < due {
			again = max(again, min(due, now.Add(firstAllowed)))
		}
		e.panel.Timers.Set(st.deadline, again)
	}
}

// replan brings what is on to the new plan.
func (e *Engine) replan(now timing.Instant) {
	f, due := e.former, e.panel.Now
	e.former = nil
	e.panel.Now = now // noticed
	e.panel.Actor = lifecycle.Actor{Note: alarms.NoteReplanned}
	e.replanning = true
	f.endGone(e, due)
	for _, h := range e.houses {
		h.replanHouse(f, due)
	}
	e.settle(due)
	e.replanning, e.panel.Actor = false, lifecycle.Actor{}
	e.calmAll(due)
	e.panel.Now = due
}

// replanHouse brings every alarm of h to what its rule finds now.
func (h *house) replanHouse(f *former, due timing.Instant) {
	for _, p := range h.places {
		for _, pt := range p.points {
			pt.follows(h.e, due)
		}
		for _, pr := range p.probes {
			if a, ok := f.moved[pr.plan.ID]; ok && pr.node.alarm.State != alarms.OutOfService {
				pr.node.alarm.By, pr.node.alarm.Note = a.By, a.Note
				pr.node.alarm.Move(alarms.Out, alarms.OutOfService, due)
			}
		}
	}
	for _, one := range h.parts {
		one.replan(due)
	}
	h.review()
}

// follows brings the alarms of pt to their latches.
func (pt *point) follows(e *Engine, due timing.Instant) {
	if pt.banded {
		pt.low.sideChanged(e)
		pt.high.sideChanged(e)
	}
	if pt.rate != nil {
		pt.falling.alarm.Found(pt.falling.latch.On, due)
		pt.rising.alarm.Found(pt.rising.latch.On, due)
	}
	if pt.differ != nil {
		pt.disagree.Found(pt.differ.On, due)
	}
}

// calmAll ends every hold of chatter.
func (e *Engine) calmAll(due timing.Instant) {
	for _, a := range slices.Clone(e.order) {
		a.SettleDown(due)
	}
}

// endSettlingAll lets the limits of the new plan hold at once, also where day
// and night changed while the watch was away.
func (e *Engine) endSettlingAll(now timing.Instant) {
	for _, h := range e.houses {
		if h.Settling {
			h.SettledDue = now
			h.endSettling(e, now)
		}
	}
}

// completed fills in what an early snapshot did not keep, from the reason.
func completed(o alarms.Names, r *alarms.Reason) alarms.Names {
	if o.Rule != "" || r == nil {
		return o
	}
	same := func(id string) alarms.Named { return alarms.Named{ID: id, Name: id} }
	o = alarms.Names{Rule: r.Rule, Quantity: r.Quantity, Side: r.Side, Priority: alarms.High, House: same(string(r.House)),
		Place: same(string(r.Place)), Probe: alarms.NamedProbe{ID: r.Probe, Name: string(r.Probe)}, Drive: same(string(r.Drive))}
	if r.Probe == "" {
		o.Circuit = same(string(r.Circuit))
	}
	return o
}

// goneAlarm was not normal, and the plan does not name it any more.
type goneAlarm struct {
	lifecycle.Saved
	id alarms.AlarmID
}

// endGone reports that what the plan does not name any more has ended.
func (f *former) endGone(e *Engine, due timing.Instant) {
	for _, a := range f.gone {
		id, o := a.id, completed(a.Of, a.Why)
		e.panel.Counts[id]++
		t := alarms.Transition{ID: lifecycle.TransitionID(id, e.panel.Counts[id]), Alarm: id, Move: alarms.Return, From: a.State, To: alarms.Normal, Level: alarms.Within,
			Priority: o.Priority, Due: e.panel.Clock.At(due), Noticed: e.panel.Clock.At(e.panel.Now), Core: due.UTC(), Reason: goneReason(o, a.Saved, due)}
		gone := e.whatOfPlan(o)
		gone.Told = a.LastTold()
		t.Background = &alarms.Background{Of: alarms.Subject{Alarm: id, Rule: o.Rule, House: t.Reason.House, Place: t.Reason.Place, Probe: t.Reason.Probe,
			Quantity: o.Quantity, Side: o.Side}, Gone: &gone}
		e.panel.Tell(&t)
	}
}

func goneReason(o alarms.Names, a lifecycle.Saved, due timing.Instant) alarms.Reason {
	r := alarms.Reason{}
	if a.Why != nil {
		r = *a.Why
	}
	r.Rule, r.Quantity, r.Side = o.Rule, o.Quantity, o.Side
	r.House, r.Place, r.Probe, r.Check, r.Cause = alarms.HouseID(o.House.ID), alarms.PlaceID(o.Place.ID), o.Probe.ID, "", ""
	if a.Raised != 0 && a.State.Active() {
		r.Lasted = due.Since(a.Raised)
	}
	r.Note = alarms.NoteReplanned
	return r
}

// whatOfPlan says what of the old plan the new one does not have.
func (e *Engine) whatOfPlan(o alarms.Names) (g alarms.Gone) {
	g.Names = o
	h := e.house(alarms.HouseID(o.House.ID))
	switch {
	case h == nil, o.Place.ID != "" && h.place(alarms.PlaceID(o.Place.ID)) == nil:
		g.What = alarms.GonePlace
	case o.Probe.ID != "":
		g.What = alarms.GoneReading
		if p := e.probes[o.Probe.ID]; p == nil {
			g.What = alarms.GoneProbe
		} else if p.place.key() != o.House.ID+"/"+o.Place.ID {
			g.What, g.House, g.Place = alarms.GoneMoved, p.place.house.plan.ID, p.place.plan.ID
		}
	case o.Circuit.ID != "":
		if g.What = alarms.GoneCircuit; h.circuit(alarms.CircuitID(o.Circuit.ID)) != nil {
			g.What = alarms.GoneFew
		}
	case o.Drive.ID != "":
		if g.What = alarms.OtherDrive; h.plan.Drive(alarms.DriveID(o.Drive.ID)) == nil {
			g.What = alarms.GoneDrive
		}
	case o.Control.ID != "":
		g.What = alarms.OtherControl
	default:
		g.What = alarms.GoneRule
	}
	return g
}

// goneOf says why a ended when the plan was changed.
func (e *Engine) goneOf(a *alarm, t *alarms.Transition) *alarms.Gone {
	g := alarms.Gone{Names: a.Names()}
	switch {
	case a.Kind == alarms.RuleUnwatched:
		g.What = alarms.GoneBands
	case a.Kind == alarms.RuleFault && a.probe != nil:
		if g.What = alarms.FaultAnew; t.Reason.Fault == alarms.FaultOutlier {
			g.What = alarms.OtherBeside
		}
		return &g
	case a.Kind == alarms.RuleControl:
		g = e.whatOfPlan(g.Names)
	default:
		g.What = alarms.GoneRule
	}
	g.Told = a.LastTold()
	return &g
}
