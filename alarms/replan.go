package alarms

import (
	"encoding/json"
	"hash/fnv"
	"maps"
	"slices"
	"strconv"
	"time"
)

// When the plan is changed, what is known goes on under the new one as far as it
// is named there. The rest of this file is what must not: an alarm that nothing
// would ever end, a doubt or a hold of before that would keep back what begins
// now. It happens with the first input after Restore, as of the last moment seen
// under the old plan; until then the engine is the snapshot it came from.

// former is what was saved under another plan, until the first input.
type former struct {
	saved []byte
	gone  []goneAlarm            // what was not normal, and the plan does not name
	moved map[ProbeID]savedAlarm // silence alarms, at their old place, of probes out of service
}

// print tells one plan from another.
func (e *Engine) print() string {
	if e.printed == "" {
		zones := []string{zoneName(e.plan.Words.Zone)} // of which the encoding says nothing
		for i := range e.plan.Houses {
			zones = append(zones, zoneName(e.plan.Houses[i].Day.Zone))
		}
		b, err := json.Marshal(struct {
			Plan  Plan
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
	f := &former{saved: slices.Clone(saved), moved: map[ProbeID]savedAlarm{}}
	for _, id := range slices.Sorted(maps.Keys(s.Alarms)) {
		a := s.Alarms[id]
		if e.alarms[id] != nil {
			continue
		}
		e.counts[id] = a.Count
		if a.State != Normal {
			f.gone = append(f.gone, goneAlarm{a, id})
		}
		if p := e.probes[a.Of.Probe.ID]; p != nil && p.Out && a.State == OutOfService && a.Of.Rule == RuleSilent {
			f.moved[p.plan.ID] = a
		}
	}
	e.former = f
}

// reviseStreams takes what was loaded of the streams of h to the new plan,
// before their silences are counted. It returns those that h has come by and
// that belong to what was unwatched.
func (e *Engine) reviseStreams(h *house, s *snapshot) (dark []*stream) {
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
		e.reconsider(st, saved, s.Now)
	}
	for _, st := range fresh {
		if !st.leaf || st.Silent || st.probe.Out {
			continue
		}
		for n := st.node; n != nil; n = n.parent {
			if silent[n] && s.Nodes[n.alarm.id].Told {
				st.join(s.Now)
			}
		}
		if a := s.Alarms[st.probe.place.unwatched.id]; !st.Silent && a.Condition != Within && a.Why != nil && slices.Contains(a.Why.Quantities, st.plan.Quantity) {
			st.join(s.Now)
			dark = append(dark, st)
		}
	}
	return dark
}

// join lets st, which was not there before, share the silence that it came
// into, until it is heard: a probe that is added to a silent circuit, or to an
// unwatched place, does not by that end the alarm.
func (st *stream) join(now instant) { st.Silent, st.SilentAt = true, now }

// reviseSilences tells nothing of a node that is not silent in the new plan, and
// gives those that joined the dark a time to be heard.
func (e *Engine) reviseSilences(h *house, dark []*stream, now instant) {
	for _, n := range h.nodes {
		if n.Dead || n.shown != nil {
			e.weigh(n, now)
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
	st.outlier.load(latchState{})
	st.fault(faultOutlier, false)
}

// reconsider drops what the new plan would never end of st, and what would keep
// back what st says from now on.
func (e *Engine) reconsider(st *stream, s streamState, now instant) {
	if by := st.point.siblings(); by == "" || s.Siblings != "" && s.Siblings != by {
		st.outlier.load(latchState{})
		st.fault(faultOutlier, false)
	}
	st.Spikes = nil
	e.timers.set(st.spiking, 0)
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
	switch due := st.deadline.due; {
	case !st.leaf:
		st.Silent = false
		e.timers.set(st.deadline, 0)
	case due != 0 && st.Wait.From != 0: // it may be awaited more, or less, often
		again := st.Wait.From.add(st.patience())
		if again < due {
			again = max(again, min(due, now.add(firstAllowed)))
		}
		e.timers.set(st.deadline, again)
	}
}

// replan brings what is on to the new plan.
func (e *Engine) replan(now instant) {
	f, due := e.former, e.now
	e.former = nil
	e.now = now // noticed
	e.actor = actor{note: "the config was changed"}
	e.replanning = true
	e.endGone(f, due)
	for _, h := range e.houses {
		e.replanHouse(h, f, due)
	}
	e.settle(due)
	e.replanning, e.actor = false, actor{}
	e.calmAll(due)
	e.now = due
}

// replanHouse brings every alarm of h to what its rule finds now.
func (e *Engine) replanHouse(h *house, f *former, due instant) {
	for _, p := range h.places {
		for _, pt := range p.points {
			e.follows(pt, due)
		}
		for _, x := range p.exposures {
			e.levels(x.alarm, x.meter.Reached, due)
		}
		for _, pr := range p.probes {
			if a, ok := f.moved[pr.plan.ID]; ok && pr.node.alarm.State != OutOfService {
				pr.node.alarm.By, pr.node.alarm.Note = a.By, a.Note
				e.move(pr.node.alarm, Out, OutOfService, due)
			}
		}
	}
	if h.loop != nil {
		e.turnLoop(h, due)
		h.loop.forgetWays()
		for _, p := range h.loop.pipes {
			if p.anew {
				e.found(p.noFlow, false, due)
				e.found(p.wet, false, due)
				e.found(p.declining, false, due)
			}
		}
	}
	if h.outside == nil {
		h.Outdoors = outdoors{At: h.Outdoors.At, Inside: h.Outdoors.Inside}
	}
	if h.outside == nil && h.fanned == nil {
		h.Proposed = ""
		e.levels(h.due, false, due)
	}
	for _, o := range h.openings {
		e.rejudgeOpening(o, due)
	}
	for _, m := range h.mechanisms {
		m.respeak(due)
		m.adopted = false
	}
	e.review(h)
}

// follows brings the alarms of pt to their latches.
func (e *Engine) follows(pt *point, due instant) {
	if pt.banded {
		e.sideChanged(pt.low)
		e.sideChanged(pt.high)
	}
	if pt.rate != nil {
		e.levels(pt.falling.alarm, pt.falling.latch.On, due)
		e.levels(pt.rising.alarm, pt.rising.latch.On, due)
	}
	if pt.differ != nil {
		e.levels(pt.disagree, pt.differ.On, due)
	}
}

// levels applies what a rule without levels finds, if that is new.
func (e *Engine) levels(a *alarm, on bool, due instant) {
	if on != (a.Condition != Within) {
		e.found(a, on, due)
	}
}

// calmAll ends every hold of chatter.
func (e *Engine) calmAll(due instant) {
	for _, a := range slices.Clone(e.order) {
		if a.Chatters {
			e.stayNoisy(a)
			a.calm()
			if a.State.Active() && a.Condition == Within {
				e.end(a, due)
			}
		}
		a.Passes = nil
	}
}

// endSettlingAll lets the limits of the new plan hold at once, also where day
// and night changed while the watch was away.
func (e *Engine) endSettlingAll(now instant) {
	for _, h := range e.houses {
		if h.Settling {
			h.SettledDue = now
			e.endSettling(h, now)
		}
	}
}
