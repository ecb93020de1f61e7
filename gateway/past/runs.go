package past

import (
	"context"
	"slices"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// Runs implements service.Course: what the log of switchings has, what goes on
// now, and where nothing could be known.
func (a *Archive) Runs(ctx context.Context, house alarms.HouseID, from, to time.Time) ([]service.DriveRuns, error) {
	h := a.house(house)
	if h == nil {
		return nil, nil
	}
	var out []service.DriveRuns
	for i := range h.Drives {
		d := &h.Drives[i]
		if !a.tells(h, d) {
			continue
		}
		r := service.DriveRuns{DriveName: nameOf(d)}
		whole := tally.Span{From: from, To: service.Earlier(to, a.now())}
		covered, err := a.known(ctx, h, d, whole)
		if err != nil {
			return nil, err
		}
		runs, err := a.runs(ctx, h, d, whole)
		if err != nil {
			return nil, err
		}
		for _, x := range runs {
			covered = append(covered, x.Span)
			r.Runs = append(r.Runs, service.Ran{Span: x.Span, Inferred: x.Inferred,
				FromUnseen: x.FromUnseen, ToUnseen: x.ToUnseen, StillRunning: x.Open})
		}
		r.Unknown = whole.Without(covered)
		out = append(out, r)
	}
	return out, nil
}

// tells reports whether anything can be known of d: by evidence, or by the
// temperature at its thermostat.
func (a *Archive) tells(h *alarms.House, d *alarms.Drive) bool {
	return len(a.shows(h, d)) > 0
}

// runs are the runs of d that touch s, oldest first, with the one that goes on.
func (a *Archive) runs(ctx context.Context, h *alarms.House, d *alarms.Drive, s tally.Span) (out []tally.Run, err error) {
	logged, err := a.store.Log.Runs(ctx, h.ID, d.ID, s.From, s.To)
	if err != nil {
		return nil, err
	}
	for _, l := range logged {
		r, err := a.ran(ctx, h, d, l)
		if err != nil {
			return nil, err
		}
		if r.Len() > 0 {
			out = append(out, r)
		}
	}
	if r, on := a.running(h.ID, d.ID); on && r.From.Before(s.To) {
		r.To = service.Earlier(r.To, s.To)
		out = append(out, r)
	}
	return out, nil
}

// halfWithin is how far back the beginning of a run is looked for that nobody
// saw begin.
const halfWithin = 48 * time.Hour

// ran is a line of the log. An end that was not seen lies at the edge of what
// was known then.
func (a *Archive) ran(ctx context.Context, h *alarms.House, d *alarms.Drive, l store.Run) (tally.Run, error) {
	r := tally.Run{Drive: d.ID, Span: tally.Span{From: l.From, To: l.To}, Inferred: l.Inferred, FromUnseen: l.From.IsZero(), ToUnseen: l.To.IsZero()}
	if !r.FromUnseen && !r.ToUnseen {
		return r, nil
	}
	if r.FromUnseen {
		r.From = l.Due.Add(-halfWithin)
	}
	if r.ToUnseen {
		r.To = l.Due
	}
	known, err := a.known(ctx, h, d, r.Span)
	end := l.To
	if r.ToUnseen {
		end = l.From
	}
	edge := tally.Span{From: end, To: end}
	for _, k := range known {
		if !end.Before(k.From) && !end.After(k.To) {
			edge = k
		}
	}
	if r.FromUnseen {
		r.From = edge.From
	}
	if r.ToUnseen {
		r.To = edge.To
	}
	return r, err
}

// running is the run of a drive that goes on.
func (a *Archive) running(house alarms.HouseID, drive alarms.DriveID) (r tally.Run, on bool) {
	for _, h := range a.picture().Houses {
		for _, d := range h.Drives {
			if h.ID == house && d.ID == drive && d.State == alarms.DriveRunning && !d.Since.IsZero() {
				return tally.Run{Drive: drive, Span: tally.Span{From: d.Since, To: a.now()}, Open: true}, true
			}
		}
	}
	return r, false
}

// shower is a stream by which a drive is known.
type shower struct {
	probe    alarms.ProbeID
	quantity alarms.Quantity
	hold     time.Duration
}

// shows are the evidence of d; of a drive without any the temperatures at
// the thermostat that drives it, from which an exhaust fan is inferred.
func (a *Archive) shows(h *alarms.House, d *alarms.Drive) (out []shower) {
	holds := holds(h)
	var felt []shower
	for _, p := range h.Places {
		hangs := slices.ContainsFunc(h.Controls, func(k alarms.Control) bool {
			return k.Place == p.ID && slices.ContainsFunc(k.Stages, func(s alarms.Stage) bool { return slices.Contains(s.Drives, d.ID) })
		})
		for _, pr := range p.Probes {
			if hangs && pr.Gives(alarms.Temperature) {
				felt = append(felt, shower{pr.ID, alarms.Temperature, holds[pr.ID]})
			}
		}
	}
	for _, e := range d.Evidence {
		out = append(out, shower{e.Probe, e.Quantity, holds[e.Probe]})
	}
	if len(out) == 0 && d.Kind == alarms.ExhaustFan {
		return felt
	}
	return out
}

// known are the stretches of whole over which a drive's shows were heard.
func (a *Archive) known(ctx context.Context, h *alarms.House, d *alarms.Drive, whole tally.Span) ([]tally.Span, error) {
	const pieces = 1450
	var all []tally.Span
	for _, w := range a.shows(h, d) {
		buckets, err := a.store.History.Buckets(ctx, w.probe, w.quantity, whole.From.Add(-w.hold), whole.To, pieces)
		if err != nil {
			return nil, err
		}
		heard := tally.Series{Samples: samplesOf(buckets), Hold: w.hold}
		all = append(all, heard.Stands()...)
	}
	return tally.Joined(all, whole), nil
}

// RunCells implements service.Course.
func (a *Archive) RunCells(ctx context.Context, house alarms.HouseID, cuts []time.Time) ([]service.DriveCells, error) {
	h := a.house(house)
	if h == nil {
		return nil, nil
	}
	var out []service.DriveCells
	for i := range h.Drives {
		d := &h.Drives[i]
		if !a.tells(h, d) {
			continue
		}
		sums, half, err := a.store.Log.RunSums(ctx, house, d.ID, cuts)
		if err != nil {
			return nil, err
		}
		cells := service.DriveCells{DriveName: nameOf(d), Cells: make([]service.RanInCell, len(sums))}
		for k, s := range sums {
			cells.Cells[k] = service.RanInCell{Ran: s.Ran, Inferred: s.Inferred, Starts: s.Starts, Known: s.Ran > 0}
		}
		if r, on := a.running(house, d.ID); on {
			addTo(cells.Cells, cuts, r)
		}
		for _, l := range half {
			r, err := a.ran(ctx, h, d, l)
			if err != nil {
				return nil, err
			}
			addTo(cells.Cells, cuts, r)
		}
		if err := a.markKnown(ctx, h, d, cuts, cells.Cells); err != nil {
			return nil, err
		}
		out = append(out, cells)
	}
	return out, nil
}

// addTo adds a run that is not in the sums to the cells it touches.
func addTo(cells []service.RanInCell, cuts []time.Time, r tally.Run) {
	for k := range cells {
		cell := tally.Span{From: cuts[k], To: cuts[k+1]}
		ran := r.Within(cell).Len()
		if ran <= 0 {
			continue
		}
		c := &cells[k]
		c.Ran, c.Known = c.Ran+ran, true
		if r.Inferred {
			c.Inferred += ran
		}
		if !r.FromUnseen && !r.From.Before(cell.From) {
			c.Starts++
		}
	}
}

// markKnown marks the cells in which something that shows d was heard.
func (a *Archive) markKnown(ctx context.Context, h *alarms.House, d *alarms.Drive, cuts []time.Time, cells []service.RanInCell) error {
	for _, w := range a.shows(h, d) {
		buckets, err := a.store.History.Cells(ctx, w.probe, w.quantity, cuts)
		if err != nil {
			return err
		}
		for _, b := range buckets {
			if i, found := slices.BinarySearchFunc(cuts, b.Start, time.Time.Compare); found && i < len(cells) {
				cells[i].Known = true
			}
		}
	}
	return nil
}
