package alarms

import (
	"slices"
	"time"
)

func (f *fitting) drive(d *Drive) {
	who := "drive " + string(d.ID)
	if !slices.Contains(DriveKinds, d.Kind) {
		f.fail("%s: %s is of kind %q, want one of %q", f.where, who, d.Kind, DriveKinds)
	}
	f.known(who, d.With...)
	f.known(who, d.Never...)
	if slices.Contains(d.With, d.ID) || slices.Contains(d.Never, d.ID) {
		f.fail("%s: %s cannot be bound to itself", f.where, who)
	}
	for _, id := range d.With {
		if other := f.drives[id]; other != nil {
			f.with(who, d, other)
		}
	}
	if d.Start < 0 || d.Stop < 0 {
		f.fail("%s: %s: the times to start and to stop must be above 0 (got %s and %s)", f.where, who, d.Start, d.Stop)
	}
	if d.TimerTolerance > 2*time.Hour {
		f.fail("%s: %s: its timer may be off by at most 2 h (got %s)", f.where, who, d.TimerTolerance)
	}
	if d.MaxStarts < 0 {
		f.fail("%s: %s: the starts allowed in an hour must be above 0 (got %d)", f.where, who, d.MaxStarts)
	}
	if d.Circuit != "" && f.house.circuit(d.Circuit) == nil {
		f.fail("%s: %s is on circuit %q, which the house does not have", f.where, who, d.Circuit)
	}
	f.seasons(who, d.Barred)
	f.runs(who, d)
	for i, e := range d.Evidence {
		f.evidence(who, e, d.Evidence[:i])
	}
	if !f.called(d) {
		f.fail("%s: %s is driven by nothing: no stage, no other drive, no selector and no season wants it", f.where, who)
	}
}

// with checks that other can run whenever d does.
func (f *fitting) with(who string, d, other *Drive) {
	if slices.Contains(d.Never, other.ID) || slices.Contains(other.Never, d.ID) {
		f.fail("%s: %s must run with drive %s and must not", f.where, who, other.ID)
	}
	for _, r := range other.Runs {
		wanted := slices.ContainsFunc(d.Runs, func(own Run) bool { return own.Season == r.Season && own.On })
		if !r.On && (wanted || f.driver(d.ID, r.Season) != "") {
			f.fail("%s: %s must run with drive %s, which must rest in season %s", f.where, who, other.ID, r.Season)
		}
	}
	for _, s := range other.Barred {
		if !slices.Contains(d.Barred, s) {
			f.fail("%s: %s must run with drive %s, which alone is barred in season %s", f.where, who, other.ID, s)
		}
	}
}

// runs checks what the seasons want of a drive.
func (f *fitting) runs(who string, d *Drive) {
	var named []Season
	for _, r := range d.Runs {
		named = append(named, r.Season)
		if (r.OnFor != 0 || r.OffFor != 0) && !(r.On && r.OnFor > 0 && r.OffFor > 0) {
			f.fail("%s: %s: running by turns needs a time on and a time off (got %s and %s)", f.where, who, r.OnFor, r.OffFor)
		}
		f.hours(who, &r)
		if r.On && slices.Contains(d.Barred, r.Season) {
			f.fail("%s: %s is barred in season %s and shall run then", f.where, who, r.Season)
		}
		if c := f.driver(d.ID, r.Season); c != "" {
			f.fail("%s: %s follows control %s in season %s, so the season cannot say how it runs", f.where, who, c, r.Season)
		}
	}
	f.seasons(who, named)
}

// hours checks the hours of a timer.
func (f *fitting) hours(who string, r *Run) {
	const whole = 24 * time.Hour
	if len(r.Hours) > 0 && (!r.On || r.OnFor != 0 || r.OffFor != 0) {
		f.fail("%s: %s: hours of a timer are of running, and not by turns besides", f.where, who)
	}
	for i, h := range r.Hours {
		if h.From < 0 || h.From >= whole || h.To <= 0 || h.To > whole || h.From == h.To {
			f.fail("%s: %s: hours are from 00:00 on and to 24:00 at most, and no whole day (got %s to %s)", f.where, who, h.From, h.To)
		}
		for _, before := range r.Hours[:i] {
			if h.Meets(before) {
				f.fail("%s: %s: hours need a pause between them (got %s to %s and %s to %s)", f.where, who, before.From, before.To, h.From, h.To)
			}
		}
	}
}

// Meets reports whether h and o overlap or touch.
func (h Hours) Meets(o Hours) bool {
	const whole = 24 * time.Hour
	length := func(from, to time.Duration) time.Duration { return (to - from + whole) % whole }
	return length(h.From, o.From) <= length(h.From, h.To) || length(o.From, h.From) <= length(o.From, o.To)
}

// driver is the first control with a stage that drives a drive in a season.
func (f *fitting) driver(id DriveID, in Season) ControlID {
	for i := range f.house.Controls {
		for _, s := range f.house.Controls[i].Stages {
			if slices.Contains(s.Drives, id) && meet(s.Seasons, []Season{in}) {
				return f.house.Controls[i].ID
			}
		}
	}
	return ""
}

func (f *fitting) evidence(who string, e Evidence, before []Evidence) {
	what := who + ", evidence " + string(e.Probe) + " " + string(e.Quantity)
	if !f.reads[streamKey{e.Probe, e.Quantity}] {
		f.fail("%s: %s: no probe of the house measures that", f.where, what)
	}
	if slices.ContainsFunc(before, func(b Evidence) bool { return b.Probe == e.Probe && b.Quantity == e.Quantity }) {
		f.fail("%s: %s is named twice", f.where, what)
	}
	switch {
	case !slices.Contains(Showing, e.Quantity):
		f.fail("%s: %s: what shows that a drive runs is one of %q", f.where, what, Showing)
	case e.Quantity == Contact && (e.Above.Set && e.Above != At(closedContact) || e.UsualLow.Set || e.UsualHigh.Set):
		f.fail("%s: %s: a contact is open or closed and takes no figures", f.where, what)
	case e.Quantity != Contact && !e.Above.Set:
		f.fail("%s: %s needs the value from which the drive runs", f.where, what)
	case e.Quantity == Temperature && (e.UsualLow.Set || e.UsualHigh.Set):
		f.fail("%s: %s: no temperature is usual while a drive runs", f.where, what)
	case (e.Quantity == Speed || e.Quantity == Opening) && (e.UsualLow.Set || e.UsualHigh.Set):
		f.fail("%s: %s: a speed or a position shows that a drive runs, not what it draws: leave out what is usual", f.where, what)
	case e.UsualLow.Set && e.UsualHigh.Set && e.UsualLow.Value >= e.UsualHigh.Value:
		f.fail("%s: %s: what is usual must rise from low to high (got %g and %g)", f.where, what, e.UsualLow.Value, e.UsualHigh.Value)
	}
}

// called reports whether anything ever wants d to run.
func (f *fitting) called(d *Drive) bool {
	for i := range f.house.Controls {
		for _, s := range f.house.Controls[i].Stages {
			if slices.Contains(s.Drives, d.ID) {
				return true
			}
		}
	}
	for _, s := range f.house.Selectors {
		for _, p := range s.Positions {
			if slices.Contains(p.On, d.ID) {
				return true
			}
		}
	}
	withAnother := slices.ContainsFunc(f.house.Drives, func(o Drive) bool { return slices.Contains(o.With, d.ID) })
	return withAnother || slices.ContainsFunc(d.Runs, func(r Run) bool { return r.On })
}
