package alarms

import (
	"cmp"
	"slices"

	"telltale/alarms/tongue"
)

// Bounds of the figures on a dial. A differential outside is no thermostat's.
const (
	LeastStep, MostStep = 0.05, 30.0 // of differential and tolerance, K or %
)

// SetPoints are the lowest and the highest set point of a dial that feels q.
func SetPoints(q Quantity) (lo, hi float64) {
	if q == Humidity {
		return 5, 100
	}
	return -30, 70
}

func (f *housed) control(at Path, c *Control) {
	if len(c.Stages) == 0 {
		f.fail(at, "has no stage: add one, for example %s", at.to("stage", "hot"))
	}
	f.bulb(at.to("place"), at, c)
	for i := range c.Stages {
		s := &c.Stages[i]
		f.stage(at.to("stage", s.called()), s)
		for j := range c.Stages[:i] {
			f.pair(at, &c.Stages[j], s)
		}
	}
}

// bulb demands that what the stages of c feel is measured where its bulb hangs.
func (f *housed) bulb(at, control Path, c *Control) {
	p := f.placeNamed(at, c.Place)
	if p == nil {
		return
	}
	for _, felt := range []struct {
		q    Quantity
		text tongue.Text
	}{{Temperature, "must have a temperature probe, or the thermostat cannot be judged (got %q)"},
		{Humidity, "must have a humidity probe, or the humidistat cannot be judged (got %q)"}} {
		i := slices.IndexFunc(c.Stages, func(s Stage) bool { return s.Mode.Quantity() == felt.q })
		if i >= 0 && !p.Sees(felt.q) {
			f.fail(at, felt.text, c.Place).
				rests(control.to("stage", c.Stages[i].called(), "mode"))
		}
	}
}

// called is the stage's name as in withDefaults.
func (s *Stage) called() string { return cmp.Or(s.Name, s.Mode.String()) }

func (f *housed) stage(at Path, s *Stage) {
	q := s.Mode.Quantity()
	lo, hi := SetPoints(q)
	f.within(at.to("set-point"), Amount{q, s.SetPoint, false}, Amount{q, lo, false}, Amount{q, hi, false})
	if n := s.SetPointNight; n.Set {
		f.within(at.to("set-point-night"), Amount{q, n.Value, false}, Amount{q, lo, false}, Amount{q, hi, false})
	}
	for i, v := range []float64{s.Differential, s.Tolerance} {
		if v != 0 {
			f.within(at.to([]string{"differential", "tolerance"}[i]), Amount{q, v, true}, Amount{q, LeastStep, true}, Amount{q, MostStep, true})
		}
	}
	if len(s.Drives) == 0 {
		f.fail(at.to("drives"), "drives nothing: name what it switches")
	}
	f.drivesNamed(at, "drives", s.Drives)
	for i, id := range s.Drives {
		if d := f.house.Drive(id); d != nil && slices.Contains(unfit[d.Kind], s.Mode) {
			f.fail(at.nth("drives", i), "is of kind %s, which a %s stage does not drive (got %q)", d.Kind, s.Mode.String(), id).
				rests(at.to("mode"), f.at.to("drive", string(id), "kind"))
		}
	}
	f.seasons(at, "seasons", s.Seasons)
}

// unfit are the modes that no stage which drives such a drive is of. Heat dries, and
// mist cools.
var unfit = map[DriveKind][]Mode{
	Heater:        {Cooling, Moistening},
	ExhaustFan:    {Heating, Moistening},
	IntakeShutter: {Heating, Moistening},
	Misting:       {Heating, Drying},
}

// pair demands that two stages of one thermostat, of which b comes later, do not work
// against each other.
func (f *housed) pair(control Path, a, b *Stage) {
	if a.called() == b.called() {
		f.fail(control.to("stage", b.called()), "is the name of two stages of this control: names must differ")
	}
	q := a.Mode.Quantity()
	if a.Mode == b.Mode || q != b.Mode.Quantity() || !meet(a.Seasons, b.Seasons) {
		return
	}
	cold, hot := a, b
	if cold.Mode.Above() {
		cold, hot = b, a
	}
	for _, night := range []bool{false, true} {
		from, on, key := cold.At(night), hot.At(night), "set-point"
		if night && b.SetPointNight.Set {
			key = "set-point-night"
		}
		off := from + cold.differential()
		if off < on {
			continue
		}
		var text tongue.Text = "crosses: stage %s heats from %s up to %s, yet stage %s cools from %s"
		if q == Humidity {
			text = "crosses: stage %s moistens from %s up to %s, yet stage %s dries from %s"
		}
		p := f.fail(control.to("stage", b.called(), key), text, cold.called(), Amount{q, from, false}, Amount{q, off, false}, hot.called(), Amount{q, on, false})
		for _, s := range []*Stage{a, b} {
			at := control.to("stage", s.called())
			p.rests(at.to("mode"), at.to("set-point"), at.to("set-point-night"), at.to("differential"))
		}
		return
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
