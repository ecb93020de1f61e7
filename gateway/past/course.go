package past

import (
	"cmp"
	"context"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// MainPlace implements service.Course: where the thermostat hangs, or the first
// place with a band.
func (a *Archive) MainPlace(id alarms.HouseID) alarms.PlaceID {
	h := a.house(id)
	if h == nil {
		return ""
	}
	if len(h.Controls) > 0 {
		return h.Controls[0].Place
	}
	for _, banded := range []bool{true, false} {
		for i := range h.Places {
			p := &h.Places[i]
			if (len(p.Bands) > 0 || !banded) && len(p.Probes) > 0 {
				return p.ID
			}
		}
	}
	return ""
}

// Cells implements service.Course.
func (a *Archive) Cells(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, cuts []time.Time) ([]service.Point, error) {
	p := a.place(house, place)
	if p == nil || len(cuts) < 2 {
		return nil, nil
	}
	if q.Derived() {
		return a.derivedCells(ctx, house, place, q, cuts)
	}
	return joined(p, q, func(pr alarms.ProbeID) ([]store.Bucket, error) {
		buckets, err := a.store.History.Cells(ctx, pr, q, cuts)
		for i := range buckets {
			buckets[i].Width = 0 // joined by their beginning
		}
		return buckets, err
	})
}

// derivedCells sums up what is derived from two quantities: their lowest and
// highest do not come together, so it is derived from short means first.
func (a *Archive) derivedCells(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, cuts []time.Time) ([]service.Point, error) {
	const shortMeans = 9000
	points, err := a.History(ctx, house, place, q, cuts[0], cuts[len(cuts)-1], shortMeans)
	if err != nil {
		return nil, err
	}
	var out []service.Point
	n, cell := 0, 0
	for _, p := range points {
		for cell+2 < len(cuts) && !p.At.Before(cuts[cell+1]) {
			cell++
		}
		if p.At.Before(cuts[cell]) {
			continue
		}
		last := len(out) - 1
		if last < 0 || !out[last].At.Equal(cuts[cell]) {
			out, n = append(out, service.Point{At: cuts[cell], Value: p.Value, Min: p.Min, Max: p.Max}), 1
			continue
		}
		o := &out[last]
		n++
		o.Value += (p.Value - o.Value) / float64(n)
		o.Min, o.Max = min(o.Min, p.Min), max(o.Max, p.Max)
	}
	return out, nil
}

// Held implements service.Course. Seasons are those of the log.
func (a *Archive) Held(ctx context.Context, house alarms.HouseID, from, to time.Time) ([]alarms.Held, error) {
	h := a.house(house)
	if h == nil {
		return nil, nil
	}
	seasons, err := a.Seasons(ctx, house)
	if err != nil {
		return nil, err
	}
	return h.Course(seasons, from, to), nil
}

// Bands implements service.Course.
func (a *Archive) Bands(house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity, held []alarms.Held) []alarms.BandStep {
	if p := a.place(house, place); p != nil {
		return p.Steps(q, held)
	}
	return nil
}

// Told implements service.Course.
func (a *Archive) Told(ctx context.Context, house alarms.HouseID, from, to time.Time, limit int) ([]alarms.Transition, error) {
	return a.store.Log.Told(ctx, house, from, to, limit)
}

// nameOf is how a drive is called.
func nameOf(d *alarms.Drive) service.DriveName {
	return service.DriveName{ID: d.ID, Name: cmp.Or(d.Name, string(d.ID)), Inferred: len(d.Evidence) == 0, Opens: d.Kind == alarms.IntakeShutter}
}
