package thermostat

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/infer"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// Thermostat is one or more thermostats and humidistats that share drives, or of which the drives
// must or must not run together, with these drives at work; or the drives that no
// thermostat has to do with. It holds what happens against the dials.
type Thermostat struct {
	house    House
	panel    *lifecycle.Panel
	controls []*alarms.Control
	place    Place  // whose temperature the first of them feels; nil: none does
	dials    []dial // the judge's stages
	bulbs    []bulb // what the dials feel
	drives   []*alarms.Drive
	judge    *control.Judge
	timer    *timing.Timer
	follows  *timing.Timer // end of the time in which a shutter may follow its fan
	sense    *infer.Sense  // infers whether the exhaust fan runs; nil: evidence shows it
	guess    int           // the drive it infers
	found    map[foundKey]*finding
	order    []*finding  // in the order in which they were first found
	log      []*driveLog // by drive: carries its switchings

	reserved int  // of the timers of its verdicts
	adopted  bool // a state of another plan: alarms are to follow it
	Restated bool // to be looked at who speaks for whom: see House.Restate
}

// dial is a stage of a thermostat by day or, where it has a set point of its own
// then, by night.
type dial struct {
	*alarms.Stage
	control *alarms.Control
	nth     int // of the control's dials
	bulb    int
	night   bool
}

// bulb is what a dial feels.
type bulb struct {
	place    Place
	quantity alarms.Quantity
}

// foundKey names a verdict: of a drive, or with drive -1 of a stage.
type foundKey struct {
	kind  control.FindingKind
	drive int
	stage int
}

// finding is a verdict that was found at least once.
type finding struct {
	lifecycle.Plain
	m     *Thermostat
	key   foundKey
	alarm *lifecycle.Alarm
	last  control.Finding
}

// at returns what the wall clock shows at a moment of the judge.
func (m *Thermostat) at(t timing.Instant) time.Time { return m.panel.Clock.At(t) }

// Restate lets it be looked at again who speaks for the verdicts of m.
func (m *Thermostat) Restate() {
	if !m.Restated {
		m.Restated = true
		m.house.Restate(m)
	}
}

// buildSense infers where nothing shows whether the exhaust fan runs.
func (m *Thermostat) buildSense() {
	for i, d := range m.drives {
		if m.place != nil && d.Kind == alarms.ExhaustFan && len(d.Evidence) == 0 {
			s := infer.New(infer.Options{Latitude: m.house.Plan().Latitude})
			m.sense, m.guess = &s, i
			return
		}
	}
}

// spec puts the plan into the judge's plain numbers.
func (m *Thermostat) spec() control.Spec {
	var s control.Spec
	for _, d := range m.dials {
		s.Stages = append(s.Stages, d.spec(m))
	}
	s.Turns = turns(m.dials)
	for _, d := range m.drives {
		s.Drives = append(s.Drives, m.driveSpec(d))
	}
	return s
}

// setDials adds the dials of c's stages, those of the night last, and their bulbs.
func (m *Thermostat) setDials(c *alarms.Control) {
	nth := 0
	for _, night := range []bool{false, true} {
		for i := range c.Stages {
			s := &c.Stages[i]
			if night && !s.SetPointNight.Set {
				continue
			}
			b := bulb{m.house.Place(c.Place), s.Mode.Quantity()}
			at := slices.Index(m.bulbs, b)
			if at < 0 {
				at, m.bulbs = len(m.bulbs), append(m.bulbs, b)
			}
			m.dials = append(m.dials, dial{s, c, nth, at, night})
			nth++
		}
	}
}

// value is what is measured where b hangs, NaN for not known.
func (b bulb) value() float64 { return b.place.Mean(b.quantity) }

// turns are the pairs of dials that take turns.
func turns(dials []dial) (pairs [][2]int) {
	for n, night := range dials {
		for d, day := range dials[:n] {
			if day.Stage == night.Stage {
				pairs = append(pairs, [2]int{d, n})
			}
		}
	}
	return pairs
}

func (st dial) spec(m *Thermostat) control.StageSpec {
	on := st.At(st.night)
	s := control.StageSpec{Mode: dialModes[st.Mode], On: on, Off: on - st.Differential, Tolerance: st.Tolerance, Bulb: st.bulb}
	if !s.Mode.Above() {
		s.Off = on + st.Differential
	}
	s.Drives = m.indices(st.Drives)
	return s
}

// indices finds drives among those of m; others are left out.
func (m *Thermostat) indices(ids []alarms.DriveID) []int {
	var all []int
	for _, id := range ids {
		for i, d := range m.drives {
			if d.ID == id {
				all = append(all, i)
			}
		}
	}
	return all
}

var dialModes = map[alarms.Mode]control.Mode{alarms.Cooling: control.Cooling, alarms.Heating: control.Heating, alarms.Drying: control.Drying, alarms.Moistening: control.Moistening}

var driveKinds = map[alarms.DriveKind]control.DriveKind{
	alarms.ExhaustFan: control.ExhaustFan, alarms.IntakeShutter: control.IntakeShutter, alarms.LoopFan: control.LoopFan,
	alarms.Heater: control.Heater, alarms.CirculatingFan: control.CirculatingFan, alarms.GrowLight: control.GrowLight, alarms.Misting: control.Misting,
}

var evidenceKinds = map[alarms.Quantity]control.What{
	alarms.Contact: control.Contact, alarms.Current: control.Current, alarms.Power: control.Power, alarms.Speed: control.Moving, alarms.Opening: control.Moving, alarms.Temperature: control.Duct,
}

func (m *Thermostat) driveSpec(d *alarms.Drive) control.DriveSpec {
	s := control.DriveSpec{
		Kind: driveKinds[d.Kind], Start: d.Start, Stop: d.Stop, Effect: d.Effect, MaxStarts: d.MaxStarts,
		With: m.indices(d.With), Without: m.indices(d.Never),
	}
	for _, ev := range d.Evidence {
		what := evidenceKinds[ev.Quantity]
		if d.Kind == alarms.IntakeShutter && what == control.Contact {
			what = control.EndSwitch
		}
		s.Evidence = append(s.Evidence, control.EvidenceSpec{
			What: what, Every: m.house.Every(ev.Probe), Above: ev.Above.Value, Inverted: ev.Inverted, UsualLow: ev.UsualLow.Value, UsualHigh: ev.UsualHigh.Value,
		})
	}
	return s
}

// arrangement is what season, selectors and hours want of m's drives.
func (m *Thermostat) arrangement(now timing.Instant) control.Arrangement {
	var a control.Arrangement
	day, night := true, false
	if hasNights(m.house.Plan()) {
		day, night = m.house.About(now, turnSlack)
	}
	for _, st := range m.dials {
		acts := len(st.Seasons) == 0 || slices.Contains(st.Seasons, m.house.Season()) || m.opened(st.Stage)
		if st.SetPointNight.Set && (st.night && !night || !st.night && !day) {
			acts = false
		}
		a.Acts = append(a.Acts, acts)
	}
	for _, d := range m.drives {
		a.Wants = append(a.Wants, m.want(d, now))
	}
	return a
}

// want is what is wanted of d: the cover on its vent first, where that is known,
// else the season's bar, then the selectors, then the season's running, then the
// thermostat.
func (m *Thermostat) want(d *alarms.Drive, now timing.Instant) control.Want {
	if known, on := m.house.Cover(d.ID); on || !known && slices.Contains(d.Barred, m.house.Season()) {
		return control.Want{Wish: control.Barred}
	}
	for i := range m.house.Plan().Selectors {
		if pos := m.house.Position(i); pos != nil {
			switch {
			case slices.Contains(pos.Off, d.ID):
				return control.Want{Wish: control.Rest}
			case slices.Contains(pos.On, d.ID):
				return control.Want{Wish: control.Run}
			case slices.Contains(pos.Follow, d.ID):
				return control.Want{Wish: control.Follow}
			}
		}
	}
	for _, r := range d.Runs {
		if r.Season != m.house.Season() {
			continue
		}
		switch {
		case len(r.Hours) > 0:
			return m.byHours(d, r.Hours, now)
		case r.OnFor > 0:
			return control.Want{Wish: control.ByTurns, OnFor: r.OnFor, OffFor: r.OffFor}
		case r.On:
			return control.Want{Wish: control.Run}
		}
		return control.Want{Wish: control.Barred}
	}
	if !m.driven(d) {
		return control.Want{Wish: control.Free}
	}
	return control.Want{Wish: control.Follow}
}

// opened reports whether st cools or dries by a vent whose cover is known to be off: then it
// acts in whatever season somebody set.
func (m *Thermostat) opened(st *alarms.Stage) bool {
	return st.Mode.Above() && slices.ContainsFunc(st.Drives, func(id alarms.DriveID) bool {
		known, on := m.house.Cover(id)
		return known && !on
	})
}

// driven reports whether a stage drives d, or a drive that it must run with.
func (m *Thermostat) driven(d *alarms.Drive) bool {
	return slices.ContainsFunc(m.dials, func(st dial) bool {
		return slices.Contains(st.Drives, d.ID) || slices.ContainsFunc(st.Drives, func(id alarms.DriveID) bool {
			other := m.house.Plan().Drive(id)
			return other != nil && slices.Contains(other.With, d.ID)
		})
	})
}
