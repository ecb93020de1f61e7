package alarms

import (
	"slices"
	"time"

	"telltale/alarms/control"
)

// MostAnswer is the longest that a drive may take until its evidence shows it, and by
// which its timer may be off.
const MostAnswer = 2 * time.Hour

func (f *housed) drive(at Path, d *Drive) {
	oneOf(f.checker, at.to("kind"), d.Kind, DriveKinds)
	f.drivesNamed(at, "with", d.With)
	f.drivesNamed(at, "never-with", d.Never)
	f.together(at, d)
	for _, one := range []struct {
		key string
		v   time.Duration
	}{{"start-within", d.Start}, {"stop-within", d.Stop}, {"timer-tolerance", d.TimerTolerance}} {
		if one.v < 0 && one.key != "timer-tolerance" || one.v > MostAnswer {
			f.fail(at.to(one.key), "must be above 0 and at most %s (got %s)", MostAnswer, one.v)
		}
	}
	if d.MaxStarts < 0 {
		f.fail(at.to("max-starts-per-hour"), "must be above 0 (got %d)", d.MaxStarts)
	}
	f.circuit(at.to("circuit"), d.Circuit)
	f.seasons(at, "barred", d.Barred)
	f.runs(at, d)
	for i, e := range d.Evidence {
		f.evidence(at.nth("evidence", i), e)
		for j, b := range d.Evidence[:i] {
			if b.Probe == e.Probe && b.Quantity == e.Quantity && e.Probe != "" && e.Quantity != "" {
				f.fail(at.nth("evidence", i), "%s of probe %s is evidence of this drive already (%s)", e.Quantity, e.Probe, at.nth("evidence", j))
			}
		}
	}
	switched := slices.ContainsFunc(f.house.Selectors, func(s Selector) bool {
		return slices.ContainsFunc(s.Positions, func(p Position) bool { return slices.Contains(p.On, d.ID) })
	})
	if !f.follows(d.ID) && !switched {
		f.fail(at, "is driven by nothing: name it in a stage of a control, under \"with\" of another drive, say what the seasons want under runs, or at which hours its timer runs it").
			rests(at.to("runs"), at.to("hours"))
	}
}

// together checks what d must run with, and what never.
func (f *housed) together(at Path, d *Drive) {
	for _, list := range []struct {
		key string
		ids []DriveID
	}{{"with", d.With}, {"never-with", d.Never}} {
		if i := slices.Index(list.ids, d.ID); i >= 0 {
			f.fail(at.nth(list.key, i), "must name another drive (got %q, which is this one)", d.ID)
		}
	}
	for i, id := range d.With {
		if other := f.house.Drive(id); other != nil && id != d.ID {
			f.with(at.nth("with", i), d, other)
		}
	}
}

// with demands that other can run whenever d does.
func (f *housed) with(at Path, d, other *Drive) {
	beside := f.at.to("drive", string(other.ID))
	if slices.Contains(d.Never, other.ID) || slices.Contains(other.Never, d.ID) {
		f.fail(at, "must not be named under never-with too (got %q)", other.ID)
	}
	for _, r := range other.Runs {
		wanted := slices.ContainsFunc(d.Runs, func(own Run) bool { return own.Season == r.Season && own.On })
		if by := f.driver(d.ID, r.Season); !r.On && (wanted || by != nil) {
			f.fail(at, "%s must rest in %s (runs, %s), so it could not run with %s then", other.ID, r.Season, beside, d.ID)
		}
	}
	for _, s := range other.Barred {
		if !slices.Contains(d.Barred, s) {
			f.fail(at, "%s is barred in %s (%s), so it could not run with %s then: bar both or neither", other.ID, s, beside.to("barred"), d.ID)
		}
	}
}

// runs checks what the seasons want of a drive.
func (f *housed) runs(at Path, d *Drive) {
	for i, r := range d.Runs {
		at, bar := at.to("runs", string(r.Season)), at.to("barred")
		switch by := f.driver(d.ID, r.Season); {
		case !oneOf(f.checker, at, r.Season, Seasons):
		case slices.ContainsFunc(d.Runs[:i], func(o Run) bool { return o.Season == r.Season }):
			f.fail(at, "is said twice")
		case r.On && slices.Contains(d.Barred, r.Season):
			f.fail(at, "wants it to run, yet it is barred in %s (%s)", r.Season, bar)
		case by != nil:
			f.fail(at, "[%s] drives it in %s already (%s): give that stage the other seasons, or leave this out", by.String(), r.Season, by)
		}
		if (r.OnFor != 0 || r.OffFor != 0) && !(r.On && r.OnFor > 0 && r.OffFor > 0) {
			f.fail(at, "running by turns needs a time on and a time off (got %s and %s)", r.OnFor, r.OffFor)
		}
		f.hours(at, &r)
	}
	timed := slices.ContainsFunc(d.Runs, func(r Run) bool { return len(r.Hours) > 0 })
	if d.TimerTolerance != 0 && d.TimerTolerance != defaultTimer && !timed {
		f.fail(at.to("timer-tolerance"), "is of a timer: say at which hours the drive runs, for example hours = [\"05:30-09:00\"]").rests(at.to("hours"))
	}
}

const wholeDay = 24 * time.Hour

// hours checks the hours of a timer.
func (f *housed) hours(at Path, r *Run) {
	if len(r.Hours) > 0 && (!r.On || r.OnFor != 0 || r.OffFor != 0) {
		f.fail(at, "hours of a timer are of running, and not by turns besides")
	}
	for i, h := range r.Hours {
		at := at.nth("hours", i)
		if h.From < 0 || h.From >= wholeDay || h.To <= 0 || h.To > wholeDay || h.From == h.To {
			f.fail(at, "must begin and end at two times of the day, from 00:00 on and at 24:00 at the latest (got %q)", h.String())
		}
		for _, before := range r.Hours[:i] {
			if h.meets(before) {
				f.fail(at, "overlaps or touches other hours: a pause belongs between them (got %q and %q)", before.String(), h.String())
			}
		}
	}
}

// meets reports whether h and o overlap or touch.
func (h Hours) meets(o Hours) bool {
	length := func(from, to time.Duration) time.Duration { return (to - from + wholeDay) % wholeDay }
	return length(h.From, o.From) <= length(h.From, h.To) || length(o.From, h.From) <= length(o.From, o.To)
}

func (h Hours) String() string { return ofDay(h.From) + "-" + ofDay(h.To) }

// driver is where the first stage is that drives a drive in a season, nil for none.
func (f *housed) driver(id DriveID, in Season) Path {
	for i := range f.house.Controls {
		for _, s := range f.house.Controls[i].Stages {
			if slices.Contains(s.Drives, id) && meet(s.Seasons, []Season{in}) {
				return f.at.to("control", string(f.house.Controls[i].ID), "stage", s.called())
			}
		}
	}
	return nil
}

// follows reports whether a thermostat, another drive or a season wants a drive to run.
func (f *housed) follows(id DriveID) bool {
	driven := slices.ContainsFunc(Seasons, func(s Season) bool { return f.driver(id, s) != nil })
	return driven || slices.ContainsFunc(f.house.Drives, func(o Drive) bool {
		return slices.Contains(o.With, id) || o.ID == id && slices.ContainsFunc(o.Runs, func(r Run) bool { return r.On })
	})
}

// evidence checks what shows that something runs, or is open.
func (f *housed) evidence(at Path, e Evidence) {
	f.measuredBy(at, e.Probe, e.Quantity)
	q := e.Quantity
	if !oneOf(f.checker, at.to("quantity"), q, Showing) {
		return
	}
	for _, one := range []struct {
		key string
		l   Limit
	}{{"above", e.Above}, {"usual-low", e.UsualLow}, {"usual-high", e.UsualHigh}} {
		at := at.to(one.key)
		switch usual := one.key != "above"; {
		case !one.l.Set || q == Contact && one.l == At(control.Closed) && !usual:
		case q == Contact:
			f.fail(at, "is not for a contact: closed means that the drive runs, or open with inverted = true")
		case usual && q == Temperature:
			f.fail(at, "is for current and power; no temperature is usual while a drive runs")
		case usual && (q == Speed || q == Opening):
			f.fail(at, "is for current and power; a speed or a position shows that a drive runs, not what it draws")
		default:
			f.within(at, Amount{q, one.l.Value, false}, Amount{q, q.Facts().Lowest, false}, Amount{q, q.Facts().Highest, false})
		}
	}
	if q != Contact {
		f.figures(at, e)
	}
}

// figures demands that the figures of evidence part running from standing still.
func (f *housed) figures(at Path, e Evidence) {
	q, above, low, high := e.Quantity, e.Above, e.UsualLow, e.UsualHigh
	if q != Current && q != Power {
		low, high = Limit{}, Limit{}
	}
	said := func(l Limit) Amount { return Amount{q, l.Value, false} }
	switch {
	case !above.Set:
		f.fail(at.to("above"), "is missing: give the %s from which the drive counts as running", q)
	case above.Value <= 0 && q != Temperature:
		f.fail(at.to("above"), "must be above 0, or the drive would count as running while it rests (got %s)", said(above))
	case low.Set && high.Set && high.Value <= low.Value:
		f.fail(at.to("usual-high"), "must be above usual-low (got %s, usual-low is %s)", said(high), said(low))
	case low.Set && !e.Inverted && low.Value < above.Value:
		f.fail(at.to("usual-low"), "is what is usual while the drive runs, so it must not be below %q (got %s, above is %s)", "above", said(low), said(above))
	case high.Set && e.Inverted && high.Value > above.Value:
		f.fail(at.to("usual-high"), "is what is usual while the drive runs, so with inverted it must not be higher than %q (got %s, above is %s)", "above",
			said(high), said(above))
	}
}
