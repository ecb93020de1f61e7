package alarms

import (
	"math"
	"slices"
)

// fitting is what the checks of one house's control know.
type fitting struct {
	*checker
	house  *House
	where  string
	drives map[DriveID]*Drive
	reads  map[streamKey]bool
	taken  map[DriveID]SelectorID // drives that hang on a selector
}

// controls checks controls, drives and selectors of h against each other and
// against its probes.
func (c *checker) controls(h *House) {
	f := &fitting{checker: c, house: h, where: string(h.ID), drives: map[DriveID]*Drive{},
		reads: map[streamKey]bool{}, taken: map[DriveID]SelectorID{}}
	for _, p := range h.Places {
		for _, pr := range p.Probes {
			for _, st := range pr.Streams {
				f.reads[streamKey{pr.ID, st.Quantity}] = true
			}
		}
	}
	for i := range h.Drives {
		d := &h.Drives[i]
		f.claimPart("a drive", string(d.ID))
		f.drives[d.ID] = d
	}
	for i := range h.Controls {
		f.control(&h.Controls[i])
	}
	for i := range h.Selectors {
		f.selector(&h.Selectors[i])
	}
	for i := range h.Drives {
		f.drive(&h.Drives[i])
	}
	for i := range h.Openings {
		f.opening(&h.Openings[i])
	}
}

// claimPart takes a name that alarms are named after.
func (f *fitting) claimPart(what, id string) {
	f.claim(f.where+"/"+id, what+" of "+f.where)
	if id == "" || id == "season" || id == "silent" {
		f.fail("%s: %s needs a name, and not \"season\" or \"silent\" (got %q)", f.where, what, id)
	}
}

// known demands that every one of ids is a drive of the house, named once.
func (f *fitting) known(who string, ids ...DriveID) {
	for i, id := range ids {
		if f.drives[id] == nil {
			f.fail("%s: %s names drive %q, which the house does not have", f.where, who, id)
		}
		if slices.Contains(ids[:i], id) {
			f.fail("%s: %s names drive %s twice", f.where, who, id)
		}
	}
}

func (f *fitting) seasons(who string, seasons []Season) {
	for i, s := range seasons {
		if !slices.Contains(Seasons, s) {
			f.fail("%s: %s names season %q, want one of %q", f.where, who, s, Seasons)
		}
		if slices.Contains(seasons[:i], s) {
			f.fail("%s: %s names season %s twice", f.where, who, s)
		}
	}
}

func (f *fitting) control(c *Control) {
	f.claimPart("a control", string(c.ID))
	who := "control " + string(c.ID)
	if len(c.Stages) == 0 {
		f.fail("%s: %s has no stage", f.where, who)
	}
	for i := range c.Stages {
		s := &c.Stages[i]
		f.stage(who+", stage "+s.called(), s)
		if q := s.Mode.Quantity(); !f.feels(c.Place, q) {
			f.fail("%s: %s needs a place of the house with a %s probe (got %q)", f.where, who, q, c.Place)
		}
		for j := range c.Stages[:i] {
			f.pair(who, &c.Stages[j], s)
		}
	}
}

// unitOf is what a stage of a mode is set in.
func unitOf(m Mode) string {
	if m.Quantity() == Humidity {
		return "%"
	}
	return "°C"
}

// called is the stage's name as in withDefaults.
func (s *Stage) called() string { return orName(s.Name, s.Mode.String()) }

// feels reports whether a quantity is measured at a place of the house.
func (f *fitting) feels(id PlaceID, q Quantity) bool {
	for _, p := range f.house.Places {
		for _, pr := range p.Probes {
			if p.ID == id && f.reads[streamKey{pr.ID, q}] {
				return true
			}
		}
	}
	return false
}

// A differential outside is no thermostat's, K.
const leastDifferential, mostDifferential = 0.01, 50.0

func (f *fitting) stage(who string, s *Stage) {
	if math.IsNaN(s.SetPoint) || s.SetPoint < -50 || s.SetPoint > 100 {
		f.fail("%s: %s: the set point must be from -50 to 100 (got %g)", f.where, who, s.SetPoint)
	}
	if n := s.SetPointNight; n.Set && !(n.Value >= -50 && n.Value <= 100) {
		f.fail("%s: %s: the set point by night must be from -50 to 100 °C (got %g)", f.where, who, n.Value)
	}
	if d := s.Differential; d != 0 && !(d >= leastDifferential && d <= mostDifferential) {
		f.fail("%s: %s: the differential must be from %g to %g K (got %g)", f.where, who, leastDifferential, mostDifferential, d)
	}
	if !(s.Tolerance >= 0 && s.Tolerance <= mostDifferential) {
		f.fail("%s: %s: the tolerance must be from 0 to %g K (got %g)", f.where, who, mostDifferential, s.Tolerance)
	}
	if len(s.Drives) == 0 {
		f.fail("%s: %s drives nothing", f.where, who)
	}
	f.known(who, s.Drives...)
	f.seasons(who, s.Seasons)
}

// pair demands that two stages of one thermostat do not work against each other.
func (f *fitting) pair(who string, a, b *Stage) {
	if a.called() == b.called() {
		f.fail("%s: %s has two stages called %s", f.where, who, a.called())
	}
	if a.Mode == b.Mode || a.Mode.Quantity() != b.Mode.Quantity() || !meet(a.Seasons, b.Seasons) {
		return
	}
	cold, hot := a, b
	if cold.Mode.Above() {
		cold, hot = b, a
	}
	for _, night := range []bool{false, true} {
		off, on := cold.At(night)+cold.differential(), hot.At(night)
		if off >= on {
			f.fail("%s: %s: stage %s %s up to %g %s, but stage %s %s from %g %s", f.where, who,
				cold.called(), cold.Mode.Does(), off, unitOf(cold.Mode), hot.called(), hot.Mode.Does(), on, unitOf(cold.Mode))
			return
		}
	}
}

// At is where the stage switches on by day or by night, °C.
func (s *Stage) At(night bool) float64 {
	if night && s.SetPointNight.Set {
		return s.SetPointNight.Value
	}
	return s.SetPoint
}

// meet reports whether two lists of seasons, where empty means all, share one.
func meet(a, b []Season) bool {
	return len(a) == 0 || len(b) == 0 || slices.ContainsFunc(a, func(s Season) bool { return slices.Contains(b, s) })
}
