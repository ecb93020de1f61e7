package engine

import (
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/thermostat"
	"telltale/alarms/timing"
)

// controls are the thermostats of a house and their drives.
type controls struct {
	h           *house
	midnight    *timing.Timer            // end of the day of the switchings
	turn        *timing.Timer            // next moment at which the clock wants something else of drives
	thermostats []*thermostat.Thermostat // thermostats with the drives they share
}

// start sets what depends on the first moment ever seen.
func (w *controls) start(now timing.Instant) {
	if len(w.thermostats) == 0 {
		return
	}
	w.arrange(now)
	w.h.e.panel.Timers.Set(w.midnight, w.h.midnightAfter(now))
}

// beginDay tells the judges of the house that a new day begins.
func (w *controls) beginDay(due timing.Instant) {
	if from := w.h.leap(due); from != due {
		w.h.e.panel.Timers.Set(w.midnight, w.h.midnightAfter(from))
		return
	}
	w.h.proposeSeason(due)
	for _, m := range w.thermostats {
		m.Day(due)
	}
	w.h.e.panel.Timers.Set(w.midnight, w.h.midnightAfter(due))
}

// feed gives st's new value to all that it is evidence of.
func (e *Engine) feed(st *stream, now timing.Instant) {
	if len(st.probe.place.house.plan.Selectors) > 0 {
		st.readSelectors(e, now)
	}
	if !st.usable() { // what is sick shows nothing
		return
	}
	for _, ev := range st.evidence {
		ev.Take(st.Value, now)
	}
	if len(st.evidence) > 0 {
		st.probe.place.house.drivesMoved(now)
	}
	for _, o := range st.opens {
		o.moveOpening(e, opens(o.plan, st.Value), now)
	}
}

// feel gives the temperature of p to the thermostats that hang there, and to
// those that weigh it as the outside.
func (p *place) feel(e *Engine, now timing.Instant) {
	if p.house.outside == p {
		p.house.Outdoors.breathe(p.temperature())
	}
	if p == p.house.fanned {
		p.house.warm(p.temperature(), now)
	}
	for _, m := range p.house.thermostats {
		m.Feel(thermostatPlace{p}, alarms.Temperature, now)
		m.Infer(thermostatPlace{p}, p.temperature(), p.house.outsideNow(), now)
		if p.house.outside == p {
			m.Outside(p.temperature(), now)
		}
	}
	for _, o := range p.house.openings {
		if o.place == p || p.house.outside == p {
			o.judgeOpening(e, now)
		}
	}
}

// feelHumid gives the humidity of p to the humidistats that hang there.
func (p *place) feelHumid(e *Engine, now timing.Instant) {
	for _, m := range p.house.thermostats {
		m.Feel(thermostatPlace{p}, alarms.Humidity, now)
	}
}

// loseControls tells the thermostats of p's house what of p is not known any more.
func (p *place) loseControls(e *Engine, now timing.Instant) {
	if len(p.house.thermostats) == 0 {
		return
	}
	for _, pr := range p.probes {
		for _, st := range pr.streams {
			if len(st.evidence) == 0 || st.usable() {
				continue
			}
			for _, ev := range st.evidence {
				ev.Take(math.NaN(), now)
			}
		}
	}
	if math.IsNaN(p.temperature()) {
		p.feel(e, now)
	}
	if math.IsNaN(p.Mean(alarms.Humidity)) {
		p.feelHumid(e, now)
	}
}

// blind tells every judge of the house that nothing is known any more.
func (w *controls) blind(now timing.Instant) {
	for _, m := range w.thermostats {
		m.Blind(now)
	}
}

// arrange tells every judge of the house, and its loop, what season and selectors want now.
func (w *controls) arrange(now timing.Instant) {
	for _, m := range w.thermostats {
		m.Arrange(now)
	}
	w.awaitTurn(now)
	if w.h.loop != nil && w.h.loop.Settable {
		w.h.loop.Turn(now)
	}
}

// turnDrives tells the judges of the house that something else is wanted by the clock.
func (w *controls) turnDrives(due timing.Instant) {
	if from := w.h.leap(due); from != due {
		w.awaitTurn(from)
		return
	}
	w.arrange(due)
}

// awaitTurn sets the deadline of the next such moment after now.
func (w *controls) awaitTurn(now timing.Instant) {
	w.h.e.panel.Timers.Set(w.turn, w.h.e.panel.Clock.Core(thermostat.NextTurn(w.h.plan, &w.h.calendar.Days, w.h.e.panel.Clock.At(now))))
}

func (w *controls) save(s *snapshot) {
	for _, m := range w.thermostats {
		s.Thermostats[m.Key()] = m.Save()
	}
}

func (w *controls) recall(s *snapshot) {
	for _, m := range w.thermostats {
		m.Recall(m.SavedIn(s.Thermostats))
	}
}

func (w *controls) load(s *snapshot, _ bool) {
	for _, m := range w.thermostats {
		m.Load(m.SavedIn(s.Thermostats))
	}
}

func (w *controls) replan(due timing.Instant) {
	for _, m := range w.thermostats {
		m.Replan(due)
	}
}

func (w *controls) draw(p *alarms.HousePicture) {
	p.Trials = w.trials()
	p.Drives, p.Dials = w.drawDrives()
}

// needs is what the house needs now, air or warmth, by its dials and its limits.
func (w *controls) needs() (s control.Sign) {
	for _, m := range w.thermostats {
		s |= m.Needs()
	}
	for _, p := range w.h.places {
		if pt := p.point(alarms.Temperature); pt != nil && pt.banded && p != w.h.outside {
			if pt.high.alarm.Condition != alarms.Within {
				s |= control.NeedsAir
			}
			if pt.low.alarm.Condition != alarms.Within {
				s |= control.NeedsWarmth
			}
		}
	}
	return s
}

// outletSigns says whether air from the loop's pipes is like that of the house.
func (w *controls) outletSigns() control.Sign {
	if w.h.loop == nil {
		return 0
	}
	switch alike, of := w.h.loop.LikeHouse(); alike {
	case 0:
		return 0
	case of:
		return control.AllOutletsLikeHouse
	}
	return control.OneOutletLikeHouse
}

// drawDrives draws the drives of the house in the order of the plan, and the dials.
func (w *controls) drawDrives() (all []alarms.DrivePicture, dials []alarms.Dial) {
	drawn := map[alarms.DriveID]alarms.DrivePicture{}
	for _, m := range w.thermostats {
		drives, found := m.Picture()
		for _, d := range drives {
			drawn[d.ID] = d
		}
		dials = append(dials, found...)
	}
	for i := range w.h.plan.Drives {
		if p, ok := drawn[w.h.plan.Drives[i].ID]; ok {
			all = append(all, p)
		}
	}
	return all, dials
}

// rests reports whether d has its power through c.
func (w *controls) rests(d *alarms.Drive, c *alarms.Circuit) bool {
	return c.Powers(w.h.circuit(d.Circuit))
}

// seenRunning reports whether something that does not itself hang on n shows that
// d runs.
func (w *controls) seenRunning(d *alarms.Drive, n *node) bool {
	for _, m := range w.thermostats {
		if !m.Runs(d.ID) {
			continue
		}
		for _, ev := range d.Evidence {
			st := w.h.e.streams[streamKey{ev.Probe, ev.Quantity}]
			if st != nil && st.usable() && !w.h.under(st.probe, n) {
				return true
			}
		}
	}
	return false
}

// wantedNow reports whether season and selectors let d run.
func (w *controls) wantedNow(d *alarms.Drive) bool {
	return slices.ContainsFunc(w.thermostats, func(m *thermostat.Thermostat) bool { return m.Wanted(d) })
}

// trials lists who tries what in h.
func (w *controls) trials() []alarms.Trial {
	var all []alarms.Trial
	for _, m := range w.thermostats {
		all = append(all, m.Trials()...)
	}
	return all
}

// thermostatHouse is a house, as its thermostats see it.
type thermostatHouse struct{ *house }

func (h thermostatHouse) Plan() *alarms.House { return h.plan }

func (h thermostatHouse) All() []*thermostat.Thermostat { return h.thermostats }

func (h thermostatHouse) Season() alarms.Season { return h.houseState.Season }

func (h thermostatHouse) Position(i int) *alarms.Position { return h.position(i) }

func (h thermostatHouse) Cover(of alarms.DriveID) (known, on bool) { return h.coverOf(of) }

func (h thermostatHouse) Place(id alarms.PlaceID) thermostat.Place {
	return thermostatPlace{h.place(id)}
}

// About reports whether it is day, and whether it is night, at a moment or so
// shortly before or after it.
func (h thermostatHouse) About(now timing.Instant, within time.Duration) (day, night bool) {
	t := h.wall.At(now)
	for _, by := range [...]time.Duration{-within, 0, within} {
		part := h.calendar.PartAt(t.Add(by))
		day, night = day || part == alarms.Day, night || part == alarms.Night
	}
	return day, night
}

func (h thermostatHouse) Needs() control.Sign { return h.needs() }

func (h thermostatHouse) Outlets() control.Sign { return h.outletSigns() }

func (h thermostatHouse) Lost(d *alarms.Drive) bool { return h.feed(d).lost() }

func (h thermostatHouse) Unfed(d *alarms.Drive, now timing.Instant) (by alarms.AlarmID, starts timing.Instant) {
	if by := h.lostFeed(d); by != nil {
		return by.alarm.ID, 0
	}
	for n := h.feed(d); n != nil; n = n.feeding() {
		if starts := n.Back.Add(d.Start); n.Back != 0 && now < starts && !n.Mute && !n.alarm.State.Aside() {
			return n.alarm.ID, starts
		}
	}
	return "", 0
}

func (h thermostatHouse) InHand(d *alarms.Drive) lifecycle.Hand {
	return h.inHand(func(other *alarms.Drive) bool { return other == d })
}

func (h thermostatHouse) Every(id alarms.ProbeID) time.Duration {
	if p := h.e.probes[id]; p != nil {
		return p.plan.Every
	}
	return 0
}

func (h thermostatHouse) Show(id alarms.ProbeID, q alarms.Quantity, ev thermostat.Evidence) {
	if st := h.e.streams[streamKey{id, q}]; st != nil {
		st.evidence = append(st.evidence, ev)
	}
}

func (h thermostatHouse) Alarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm {
	return &h.e.newAlarm(&alarm{Alarm: a, house: h.house, of: of}).Alarm
}

func (h thermostatHouse) LateAlarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm {
	return &h.e.lateAlarm(&alarm{Alarm: a, house: h.house, of: of}).Alarm
}

func (h thermostatHouse) Restate(m *thermostat.Thermostat) { h.e.restated = append(h.e.restated, m) }

// thermostatPlace is a place, as thermostats see it.
type thermostatPlace struct{ *place }

func (p thermostatPlace) Plan() *alarms.Place { return p.plan }

func (p thermostatPlace) Present(q alarms.Quantity) alarms.Present {
	if pt := p.point(q); pt != nil {
		return presentValue(p.house.e, pt, alarms.NoSide).Present
	}
	return alarms.Present{}
}
