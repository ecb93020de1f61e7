package engine

import (
	"encoding/json"
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/ahead"
	"telltale/alarms/lifecycle"
	"telltale/alarms/thermostat"
	"telltale/alarms/timing"
)

// aheads are the outlooks of a house, in the order of its places: what is expected of
// each, and what is told of that.
type aheads struct {
	plainPart
	h      *house
	places []*ahead.Place // nil: its temperature has no limit
	bulb   *place         // where the bulb of its thermostats hangs; nil: none does
	air    *ahead.House   // there; nil with rests
	built  string         // what of the plan the model of its air rests on
}

// buildAhead makes the outlook of each place with a limit of its temperature.
func (h *house) buildAhead() {
	h.aheads.h = h
	for _, p := range h.places {
		if pt := p.point(alarms.Temperature); pt != nil && pt.banded && len(pt.streams) > 0 {
			p.ahead = ahead.New(aheadPlace{p, pt}, &h.e.panel)
		}
		h.aheads.places = append(h.aheads.places, p.ahead)
	}
	if h.bulb = h.bulbPlace(); h.bulb != nil {
		h.air = ahead.NewHouse(aheadHouse{h}, &h.e.panel)
		built, err := json.Marshal([]any{h.plan.Latitude, h.plan.Longitude, h.plan.Controls, h.plan.Drives, h.plan.Selectors, h.plan.Loop})
		if err == nil { // else cannot be: a plan is plain data
			h.built = string(built)
		}
	}
}

// bulbPlace is where the exhaust fan's thermostat feels the air, else one that warms;
// nil for none whose temperature has a limit.
func (h *house) bulbPlace() *place {
	if h.fanned != nil && h.fanned.ahead != nil {
		return h.fanned
	}
	for i := range h.plan.Controls {
		c := &h.plan.Controls[i]
		warms := slices.ContainsFunc(c.Stages, func(s alarms.Stage) bool { return s.Mode == alarms.Heating })
		if p := h.place(c.Place); warms && p != nil && p.ahead != nil {
			return p
		}
	}
	return nil
}

// all are the places that are followed.
func (as *aheads) all() []*ahead.Place {
	return slices.DeleteFunc(slices.Clone(as.places), func(p *ahead.Place) bool { return p == nil })
}

func (as *aheads) save(s *snapshot) {
	saved := map[alarms.PlaceID]*ahead.Saved{}
	for _, p := range as.all() {
		if one := p.Save(); one != nil {
			saved[p.ID()] = one
		}
	}
	if len(saved) > 0 {
		s.Ahead[as.h.plan.ID] = saved
	}
	if as.air != nil {
		if one := as.air.Save(); one != nil {
			s.Airs[as.h.plan.ID] = savedAir{as.bulb.plan.ID, one}
		}
	}
}

// savedAir is the model of a house in a snapshot, and at which place it felt the air.
type savedAir struct {
	Place alarms.PlaceID    `json:"place"`
	Air   *ahead.SavedHouse `json:"air"`
}

// has reports whether s has something of an alarm.
func (s *snapshot) has(id alarms.AlarmID) bool {
	_, ok := s.Alarms[id]
	return ok
}

func (as *aheads) recall(s *snapshot) {
	for _, p := range as.all() {
		p.Recall(s.has)
	}
	if as.air != nil {
		as.air.Recall(s.has)
	}
}

func (as *aheads) load(s *snapshot, _ bool) {
	for _, p := range as.all() {
		p.Load(s.Ahead[as.h.plan.ID][p.ID()])
	}
	if one := s.Airs[as.h.plan.ID]; as.air != nil && one.Place == as.bulb.plan.ID {
		as.air.Load(one.Air)
	}
}

func (as *aheads) replan(due timing.Instant) {
	for _, p := range as.all() {
		p.Replan(due)
	}
}

func (as *aheads) draw(hp *alarms.HousePicture) {
	for i, p := range as.places {
		if p != nil {
			hp.Places[i].Outlook = p.Picture()
			if as.air != nil && p == as.bulb.ahead {
				as.air.Draw(p, hp.Places[i].Outlook)
			}
		}
	}
}

// aheadPlace is a place, as its outlook sees it.
type aheadPlace struct {
	*place
	air *point // its temperature
}

func (p aheadPlace) Plan() *alarms.Place { return p.plan }

func (p aheadPlace) House() *alarms.House { return p.house.plan }

func (p aheadPlace) side(of alarms.Side) *side {
	if of == alarms.LowSide {
		return p.air.low
	}
	return p.air.high
}

// Temperature is the median of the probes that are believed, so that one of several
// that is wrong, and not yet known to be, counts for little.
func (p aheadPlace) Temperature() (middle, low, high float64, ok bool) {
	var buf [8]float64
	all := buf[:0]
	for _, st := range p.air.streams {
		if st.usable() {
			all = append(all, st.Value)
		}
	}
	n := len(all)
	if n == 0 {
		return 0, 0, 0, false
	}
	slices.Sort(all)
	return (all[n/2] + all[(n-1)/2]) / 2, all[0], all[n-1], true
}

func (p aheadPlace) Limit(of alarms.Side, l alarms.Level) alarms.Limit {
	outer, inner := p.side(of).limits()
	if l == alarms.Inner {
		return inner
	}
	return outer
}

func (p aheadPlace) Next(of alarms.Side, l alarms.Level, within time.Duration) (limit alarms.Limit, at timing.Instant) {
	h := p.house
	if !p.air.turns {
		return limit, 0
	}
	due := h.calendar.change.Due
	switch {
	case h.Settling:
		at = h.SettledDue
	case due != 0:
		at = due.Add(max(h.calendar.Settle, 0))
	}
	if at == 0 || at.Since(h.e.panel.Now) > within {
		return limit, 0
	}
	part := h.Daypart
	if !h.Settling {
		part = h.calendar.PartAt(h.e.panel.Clock.At(due))
	}
	band, _ := p.plan.InForce(alarms.Temperature, h.Season, part)
	return band.At(of, l), at
}

func (p aheadPlace) LimitAt(of alarms.Side, at timing.Instant) alarms.Limit {
	part := p.house.calendar.PartAt(p.house.e.panel.Clock.At(at))
	band, _ := p.plan.InForce(alarms.Temperature, p.house.Season, part)
	return band.First(of)
}

func (p aheadPlace) LimitAlarm(of alarms.Side) *lifecycle.Alarm { return &p.side(of).alarm.Alarm }

func (p aheadPlace) Alarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm {
	return &p.house.e.lateAlarm(&alarm{Alarm: a, of: of, house: p.house, place: p.place}).Alarm
}

// Against is an exhaust fan where it gets warm, a heater where it gets cold.
func (p aheadPlace) Against(of alarms.Side) (alarms.DriveID, time.Time) {
	kind := alarms.ExhaustFan
	if of == alarms.LowSide {
		kind = alarms.Heater
	}
	drives, _ := p.house.drawDrives()
	for _, d := range drives {
		if d.Kind == kind && d.State == alarms.DriveRunning && !d.Since.IsZero() {
			return d.ID, d.Since
		}
	}
	return "", time.Time{}
}

func (p aheadPlace) Rate(of alarms.Side) *float64 { return p.air.slopeNow(of) }

func (p aheadPlace) First(r *alarms.Reason, f *alarms.First) { p.lookFirst(r, f) }

func (p aheadPlace) Present(of alarms.Side) alarms.Present { return p.side(of).Present(nil) }

func (p aheadPlace) Trials() []alarms.Trial { return p.house.trials() }

// foretell gives a reading of p to its outlook.
func (p *place) foretell(now timing.Instant) {
	if p.ahead != nil {
		p.ahead.Reading(now)
	}
	if p == p.house.bulb && p.house.air.Reading(now) {
		p.house.hasten(now)
	}
}

// hasten lets what is acknowledged of drives that do not do their work end with the time
// in hand.
func (h *house) hasten(now timing.Instant) {
	for _, m := range h.thermostats {
		thermostat.Hasten(m, now)
	}
	for _, n := range h.nodes {
		if n.isCircuit() {
			n.alarm.Hasten(now)
		}
	}
}

// inHand is the time in hand of those drives that fail, some of them among those.
func (as *aheads) inHand(among func(*alarms.Drive) bool) (h lifecycle.Hand) {
	if as.air == nil {
		return h
	}
	return as.air.Left(as.bulb.ahead, among)
}

// InHand is the time in hand of what stands with the circuit of n.
func (n *node) InHand(*lifecycle.Alarm, timing.Instant) (h lifecycle.Hand) {
	if !n.isCircuit() {
		return h
	}
	house := n.alarm.house
	return house.inHand(func(d *alarms.Drive) bool { return house.rests(d, n.alarm.circuit) })
}

// drivesMoved tells the model of a house that what shows its drives was heard.
func (as *aheads) drivesMoved(now timing.Instant) {
	if as.air != nil {
		as.air.Look(now)
	}
}

// aheadHouse is a house, as the model of its air sees it.
type aheadHouse struct{ *house }

func (h aheadHouse) Plan() *alarms.House { return h.plan }

func (h aheadHouse) Air() float64 { return h.bulb.temperature() }

func (h aheadHouse) Outside() float64 { return h.outsideNow() }

func (h aheadHouse) of(d *alarms.Drive) *thermostat.Thermostat {
	i := slices.IndexFunc(h.thermostats, func(m *thermostat.Thermostat) bool { return slices.Contains(m.Drives(), d) })
	if i < 0 {
		return nil
	}
	return h.thermostats[i]
}

func (h aheadHouse) Share(d *alarms.Drive) float64 {
	if m := h.of(d); m != nil {
		return thermostat.Share(m, d.ID)
	}
	return math.NaN()
}

func (h aheadHouse) Wanted(d *alarms.Drive) bool {
	m := h.of(d)
	return m != nil && m.Wanted(d)
}

// Fails reports whether a verdict, or the loss of its circuit, says that d does not do its work.
func (h aheadHouse) Fails(d *alarms.Drive) bool {
	if m := h.of(d); m != nil && thermostat.Fails(m, d) {
		return true
	}
	n := h.feed(d)
	return n.lost() && !h.seenRunning(d, n)
}

func (h aheadHouse) Alarm(a lifecycle.Alarm, of lifecycle.Rule) *lifecycle.Alarm {
	return &h.e.lateAlarm(&alarm{Alarm: a, of: of, house: h.house}).Alarm
}

func (h aheadHouse) Basis() uint64 {
	f := printed
	f.add(h.aheads.built)
	f.add(string(h.Season))
	for i := range h.plan.Selectors {
		f.add(h.Selected[h.plan.Selectors[i].ID])
	}
	return uint64(f)
}

func (h aheadHouse) Probes() uint64 {
	f := printed
	for _, p := range []*place{h.bulb, h.house.outside} {
		if p == nil || p.point(alarms.Temperature) == nil {
			continue
		}
		for _, st := range p.point(alarms.Temperature).streams {
			if st.usable() {
				f.add(string(st.probe.plan.ID))
				f.bits(math.Float64bits(st.offset()))
			}
		}
	}
	return uint64(f)
}

// fingerprint tells one thing from another: FNV-1a of 64 bits (RFC 9923).
type fingerprint uint64

const printed fingerprint = 14695981039346656037

func (f *fingerprint) add(s string) {
	for i := range len(s) {
		*f = (*f ^ fingerprint(s[i])) * 1099511628211
	}
	f.bits(uint64(len(s)))
}

func (f *fingerprint) bits(v uint64) {
	for ; v != 0; v >>= 8 {
		*f = (*f ^ fingerprint(v&0xff)) * 1099511628211
	}
}

// limitMoved tells the outlook of a's place that a, of a limit of the temperature, moved.
func (a *alarm) limitMoved(due timing.Instant) {
	if a.Kind == alarms.RuleLimit && a.Quantity == alarms.Temperature && a.place.ahead != nil {
		a.place.ahead.LimitMoved(a.Side, due)
	}
}
