package thermostat

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/alarms/lifecycle"
	"telltale/alarms/timing"
)

// verdict is f as data, with what is so at this moment.
func (m *Thermostat) verdict(f *control.Finding) *alarms.Verdict {
	v := &alarms.Verdict{Kind: f.Kind, On: f.On, Stands: f.Stands, Timer: f.Timer, Stage: m.dialName(f.Stage), OtherStage: m.dialName(f.OtherStage),
		Several: len(m.controls) > 1, Due: m.at(f.Due), Since: m.at(f.Since), Called: m.at(f.Called), CalledTemp: f.CalledTemp,
		Quantity: m.quantityOf(f), Value: f.Value, Limit: f.Limit, Spread: f.Spread, Count: f.Count, Season: m.house.Season(),
		Observed: m.observed(f)}
	if f.TempKnown {
		felt := f.Temp
		v.Felt, v.FeltAt = &felt, m.at(f.TempAt)
	}
	if f.Other >= 0 {
		v.Other = m.drives[f.Other].ID
	}
	if f.Drive < 0 {
		return v
	}
	d := m.drives[f.Drive]
	v.Drive, v.State = d.ID, m.judge.Proof(f.Drive).State
	want := m.want(d, m.panel.Now)
	v.SwitchOff, v.OnFor = want.Wish == control.Rest, want.OnFor
	if f.Evidence >= 0 && f.Evidence < len(d.Evidence) {
		v.Draws = d.Evidence[f.Evidence].Quantity
	}
	v.ByCover, _ = m.house.Cover(d.ID)
	return v
}

// dialName names the i-th dial of m, nil for none.
func (m *Thermostat) dialName(i int) *alarms.StageName {
	if i < 0 || i >= len(m.dials) {
		return nil
	}
	d := m.dials[i]
	s := &alarms.StageName{Control: d.control.ID, Night: d.night, Humid: d.Mode.Quantity() == alarms.Humidity}
	if len(d.control.Stages) > 1 {
		s.Stage = d.Name
	}
	return s
}

// observed is what shows together with a verdict.
func (m *Thermostat) observed(f *control.Finding) control.Observed {
	o := control.Observed{Kind: f.Kind}
	if f.Drive >= 0 {
		d := m.drives[f.Drive]
		o.Drive, o.Signs = driveKinds[d.Kind], m.judge.Signs(f.Drive)
		o.Signs |= m.house.Needs()
		if known, on := m.house.Cover(d.ID); known && on {
			o.Signs |= control.Covered
		}
		if m.house.Lost(d) {
			o.Signs |= control.FeedLost
		}
		if d.Kind == alarms.LoopFan {
			o.Signs |= m.house.Outlets()
		}
	}
	return o
}

// bulbOf is what is felt where f's stage hangs, or by what f's drive is judged
// where no stage is meant; ok is false where there is none.
func (m *Thermostat) bulbOf(f *control.Finding) (b bulb, ok bool) {
	if len(m.bulbs) == 0 {
		return bulb{}, false
	}
	return m.bulbs[m.judge.Bulb(max(f.Drive, 0), f.Stage)], true
}

// quantityOf is what is measured there.
func (m *Thermostat) quantityOf(f *control.Finding) alarms.Quantity {
	if b, ok := m.bulbOf(f); ok {
		return b.quantity
	}
	return alarms.Temperature
}

// quantityAt is what a stage feels; the temperature where there is none.
func (m *Thermostat) quantityAt(stage int) alarms.Quantity {
	if stage >= 0 && stage < len(m.dials) {
		return m.dials[stage].Mode.Quantity()
	}
	return alarms.Temperature
}

// Title is the verdict.
func (v *finding) Title(_ *lifecycle.Alarm, s *alarms.Subject) { s.Verdict = v.m.verdict(&v.last) }

// Names are those of the thermostat and the drive.
func (v *finding) Names(_ *lifecycle.Alarm, o *alarms.Names) {
	v.m.names(o)
	if v.key.drive >= 0 {
		d := v.m.drives[v.key.drive]
		o.Drive = alarms.Named{ID: string(d.ID), Name: d.Name}
	}
}

// names fills in that of the first thermostat.
func (m *Thermostat) names(o *alarms.Names) {
	if len(m.controls) > 0 {
		o.Control = alarms.Named{ID: string(m.controls[0].ID), Name: m.controls[0].Name}
	}
}

// Facts are the verdict as it is told, where that is not the newest.
func (v *finding) Facts(_ *lifecycle.Alarm, t *alarms.Transition, f *alarms.Background) {
	if told := v.toldFor(t.Move, timing.At(t.Core)); told != v.last {
		f.Verdict = v.m.verdict(&told)
	}
}

// Directions are those of the drive, and of where the thermostat hangs.
func (v *finding) Directions(*lifecycle.Alarm) (most []string) {
	if v.last.Drive >= 0 {
		most = append(most, v.m.drives[v.last.Drive].Directions)
	}
	if b, ok := v.m.bulbOf(&v.last); ok {
		most = append(most, b.place.Plan().Directions)
	}
	return most
}

// Present is the temperature, or the humidity, where the thermostat hangs.
func (v *finding) Present(*lifecycle.Alarm) alarms.Present {
	var p alarms.Present
	if b, ok := v.m.bulbOf(&v.last); ok {
		p = b.place.Present(b.quantity)
	}
	if f := v.last; f.TempKnown {
		p.First, p.FirstAt = &f.Temp, v.m.at(f.Due)
	}
	return p
}

// Show is the verdict as of now.
func (v *finding) Show(_ *lifecycle.Alarm, f *alarms.Background) {
	f.Verdict = v.m.verdict(v.m.present(&v.last))
}

// InHand is the time in hand where v says that its drive does not do its work.
func (v *finding) InHand(*lifecycle.Alarm, timing.Instant) (h lifecycle.Hand) {
	if v.undone() {
		return v.m.house.InHand(v.m.drives[v.key.drive])
	}
	return h
}

// undone reports whether v says now that its drive does not do its work.
func (v *finding) undone() bool {
	return v.key.drive >= 0 && v.alarm.Condition != alarms.Within && slices.Contains(control.WithoutWork, v.key.kind)
}

// Fails reports whether m finds that d does not do its work.
func Fails(m *Thermostat, d *alarms.Drive) bool {
	return slices.ContainsFunc(m.order, func(v *finding) bool { return v.undone() && m.drives[v.key.drive] == d })
}

// Hasten lets what is acknowledged of the verdicts of m end with the time in hand.
func Hasten(m *Thermostat, now timing.Instant) {
	for _, v := range m.order {
		v.alarm.Hasten(now)
	}
}

// Aside lets be looked at again what v speaks for.
func (v *finding) Aside(*lifecycle.Alarm, timing.Instant) { v.restate() }
