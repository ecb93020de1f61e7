package gateway

import (
	"cmp"
	"context"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page"
	"telltale/gateway/store"
)

// Runs implements page.Course: what the log of switchings has, what goes on
// now, and where nothing could be known.
func (c *course) Runs(ctx context.Context, house alarms.HouseID, from, to time.Time) ([]page.DriveRuns, error) {
	h := c.house(house)
	var out []page.DriveRuns
	for i := range h.Drives {
		d := &h.Drives[i]
		if !c.tells(h, d) {
			continue
		}
		r := page.DriveRuns{DriveName: nameOf(d)}
		end := earliest(to, c.Now())
		known, err := c.known(ctx, h, d, from, end)
		if err != nil {
			return nil, err
		}
		logged, err := c.store.Runs(ctx, house, d.ID, from, to)
		if err != nil {
			return nil, err
		}
		for _, l := range logged {
			r.Runs = append(r.Runs, ranOf(l, known, from))
		}
		if since, on := c.runningSince(house, d.ID); on && since.Before(end) {
			r.Runs = append(r.Runs, page.Ran{Stretch: page.Stretch{From: since, To: end}, StillRunning: true})
		}
		r.Unknown = rest(page.Stretch{From: from, To: end}, known, r.Runs)
		out = append(out, r)
	}
	return out, nil
}

// tells reports whether anything can be known of d: by evidence, or by the
// temperature at its thermostat.
func (c *course) tells(h *alarms.House, d *alarms.Drive) bool {
	return len(c.shows(h, d)) > 0
}

// ranOf is a line of the log. An end that was not seen lies at the edge of what
// was known then.
func ranOf(l store.Run, known []page.Stretch, from time.Time) page.Ran {
	r := page.Ran{Stretch: page.Stretch{From: l.From, To: l.To}, Inferred: l.Inferred, FromUnseen: l.From.IsZero(), ToUnseen: l.To.IsZero()}
	in := func(at time.Time) page.Stretch {
		for _, k := range known {
			if !at.Before(k.From) && !at.After(k.To) {
				return k
			}
		}
		return page.Stretch{From: at, To: at}
	}
	if r.FromUnseen {
		r.From = in(l.To).From
		if r.From.Before(from) {
			r.From = from
		}
	}
	if r.ToUnseen {
		r.To = earliest(in(l.From).To, l.Due)
		if r.To.Before(r.From) {
			r.To = r.From
		}
	}
	return r
}

func (c *course) runningSince(house alarms.HouseID, drive alarms.DriveID) (time.Time, bool) {
	for _, h := range c.Picture().Houses {
		for _, d := range h.Drives {
			if h.ID == house && d.ID == drive {
				return d.Since, d.State == alarms.DriveRunning && !d.Since.IsZero()
			}
		}
	}
	return time.Time{}, false
}

// shower is a stream by which a drive is known.
type shower struct {
	probe    alarms.ProbeID
	quantity alarms.Quantity
	every    time.Duration
}

// shows are the evidence of d; of a drive without any the temperatures at
// the thermostat that drives it, from which an exhaust fan is inferred.
func (c *course) shows(h *alarms.House, d *alarms.Drive) (out []shower) {
	every := map[alarms.ProbeID]time.Duration{}
	var felt []shower
	for _, p := range h.Places {
		hangs := slices.ContainsFunc(h.Controls, func(k alarms.Control) bool {
			return k.Place == p.ID && slices.ContainsFunc(k.Stages, func(s alarms.Stage) bool { return slices.Contains(s.Drives, d.ID) })
		})
		for _, pr := range p.Probes {
			every[pr.ID] = time.Duration(float64(pr.Every) * cmp.Or(pr.MissesAllowed, 3))
			if hangs && measures(&pr, alarms.Temperature) {
				felt = append(felt, shower{pr.ID, alarms.Temperature, every[pr.ID]})
			}
		}
	}
	for _, e := range d.Evidence {
		out = append(out, shower{e.Probe, e.Quantity, every[e.Probe]})
	}
	if len(out) == 0 && d.Kind == alarms.ExhaustFan {
		return felt
	}
	return out
}

// known are the stretches over which a drive's shows were heard. Readings
// hold until the next, or as long as their probe may be silent.
func (c *course) known(ctx context.Context, h *alarms.House, d *alarms.Drive, from, to time.Time) ([]page.Stretch, error) {
	const pieces = 1450
	var all []page.Stretch
	for _, w := range c.shows(h, d) {
		buckets, err := c.store.Buckets(ctx, w.probe, w.quantity, from, to, pieces)
		if err != nil {
			return nil, err
		}
		holds := w.every
		if holds == 0 {
			holds = 3 * usualStep(buckets)
		}
		for _, b := range buckets {
			all = append(all, page.Stretch{From: b.Start, To: b.Start.Add(max(b.Width, holds))})
		}
	}
	return joined(all, page.Stretch{From: from, To: to}), nil
}

func usualStep(buckets []store.Bucket) time.Duration {
	var steps []time.Duration
	for i := 1; i < len(buckets); i++ {
		steps = append(steps, buckets[i].Start.Sub(buckets[i-1].Start))
	}
	if len(steps) == 0 {
		return 0
	}
	slices.Sort(steps)
	return steps[len(steps)/2]
}

// joined makes stretches that touch one, within whole.
func joined(all []page.Stretch, whole page.Stretch) (out []page.Stretch) {
	slices.SortFunc(all, func(a, b page.Stretch) int { return a.From.Compare(b.From) })
	for _, s := range all {
		s.From, s.To = latest(s.From, whole.From), earliest(s.To, whole.To)
		if !s.From.Before(s.To) {
			continue
		}
		if n := len(out); n > 0 && !s.From.After(out[n-1].To) {
			out[n-1].To = latest(out[n-1].To, s.To)
			continue
		}
		out = append(out, s)
	}
	return out
}

// rest is what neither known nor a run covers.
func rest(whole page.Stretch, known []page.Stretch, runs []page.Ran) (out []page.Stretch) {
	covered := slices.Clone(known)
	for _, r := range runs {
		covered = append(covered, r.Stretch)
	}
	from := whole.From
	for _, k := range joined(covered, whole) {
		if k.From.After(from) {
			out = append(out, page.Stretch{From: from, To: k.From})
		}
		from = k.To
	}
	if from.Before(whole.To) {
		out = append(out, page.Stretch{From: from, To: whole.To})
	}
	return out
}

// RunCells implements page.Course.
func (c *course) RunCells(ctx context.Context, house alarms.HouseID, cuts []time.Time) ([]page.DriveCells, error) {
	h := c.house(house)
	var out []page.DriveCells
	for i := range h.Drives {
		d := &h.Drives[i]
		if !c.tells(h, d) {
			continue
		}
		sums, half, err := c.store.RunSums(ctx, house, d.ID, cuts)
		if err != nil {
			return nil, err
		}
		r := page.DriveCells{DriveName: nameOf(d), Cells: make([]page.RanInCell, len(sums))}
		for k, s := range sums {
			r.Cells[k] = page.RanInCell{Ran: s.Ran, Inferred: s.Inferred, Starts: s.Starts, Known: s.Ran > 0}
		}
		if since, on := c.runningSince(house, d.ID); on {
			addTo(r.Cells, cuts, page.Stretch{From: since, To: c.Now()})
		}
		for _, l := range half {
			known, err := c.known(ctx, h, d, l.Due.Add(-halfWithin), l.Due)
			if err != nil {
				return nil, err
			}
			addTo(r.Cells, cuts, ranOf(l, known, l.Due.Add(-halfWithin)).Stretch)
		}
		if err := c.markKnown(ctx, h, d, cuts, r.Cells); err != nil {
			return nil, err
		}
		out = append(out, r)
	}
	return out, nil
}

// halfWithin is how far back the beginning of a run is looked for that nobody
// saw begin.
const halfWithin = 48 * time.Hour

// addTo adds a run of which not both ends were seen to the cells it touches.
func addTo(cells []page.RanInCell, cuts []time.Time, run page.Stretch) {
	for k := range cells {
		if ran := earliest(run.To, cuts[k+1]).Sub(latest(run.From, cuts[k])); ran > 0 {
			cells[k].Ran += ran
			cells[k].Known = true
		}
	}
}

// markKnown marks the cells in which something that shows d was heard.
func (c *course) markKnown(ctx context.Context, h *alarms.House, d *alarms.Drive, cuts []time.Time, cells []page.RanInCell) error {
	for _, w := range c.shows(h, d) {
		buckets, err := c.store.Cells(ctx, w.probe, w.quantity, cuts)
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

func earliest(a, b time.Time) time.Time {
	if b.Before(a) {
		return b
	}
	return a
}

func latest(a, b time.Time) time.Time {
	if b.After(a) {
		return b
	}
	return a
}
