package past

import (
	"context"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/air"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// History implements service.Watch: the probes of a place together, derived
// quantities from temperature and humidity.
func (a *Archive) History(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity,
	from, to time.Time, maxPoints int) ([]service.Point, error) {
	p := a.place(house, place)
	if p == nil {
		return nil, nil
	}
	if !q.Derived() {
		return a.measured(ctx, p, q, from, to, maxPoints)
	}
	t, err := a.measured(ctx, p, alarms.Temperature, from, to, maxPoints)
	if err != nil {
		return nil, err
	}
	h, err := a.measured(ctx, p, alarms.Humidity, from, to, maxPoints)
	if err != nil {
		return nil, err
	}
	return derive(q, p.LeafBelow(), t, h), nil
}

func (a *Archive) measured(ctx context.Context, p *alarms.Place, q alarms.Quantity, from, to time.Time, maxPoints int) ([]service.Point, error) {
	return joined(p, q, func(pr alarms.ProbeID) ([]store.Bucket, error) {
		return a.store.History.Buckets(ctx, pr, q, from, to, maxPoints)
	})
}

// joined is the course of what the probes of a place that give q have.
func joined(p *alarms.Place, q alarms.Quantity, read func(alarms.ProbeID) ([]store.Bucket, error)) ([]service.Point, error) {
	sums := map[time.Time]*store.Bucket{}
	for _, pr := range p.Probes {
		if !pr.Gives(q) {
			continue
		}
		buckets, err := read(pr.ID)
		if err != nil {
			return nil, err
		}
		join(sums, buckets)
	}
	points := make([]service.Point, 0, len(sums))
	for at, b := range sums {
		points = append(points, service.Point{At: at, Value: b.Mean, Min: b.Min, Max: b.Max})
	}
	slices.SortFunc(points, func(x, y service.Point) int { return x.At.Compare(y.At) })
	return points, nil
}

// join adds one probe's buckets to those of its siblings, by their middle.
func join(sums map[time.Time]*store.Bucket, buckets []store.Bucket) {
	for _, b := range buckets {
		mid := b.Start.Add(b.Width / 2)
		s, ok := sums[mid]
		if !ok {
			sums[mid] = &b
			continue
		}
		n := float64(s.N + b.N)
		s.Mean = (s.Mean*float64(s.N) + b.Mean*float64(b.N)) / n
		s.Min, s.Max, s.N = min(s.Min, b.Min), max(s.Max, b.Max), s.N+b.N
	}
}

func derive(q alarms.Quantity, leafBelow float64, t, h []service.Point) []service.Point {
	humidity := map[time.Time]float64{}
	for _, p := range h {
		humidity[p.At] = p.Value
	}
	var out []service.Point
	for _, p := range t {
		rh, ok := humidity[p.At]
		if !ok || rh <= 0 {
			continue
		}
		v := air.VPD(p.Value, rh) / 1000
		if q == alarms.DewMargin {
			v = air.LeafEstimate(p.Value, leafBelow) - air.DepositPoint(p.Value, rh)
		}
		out = append(out, service.Point{At: p.At, Value: v, Min: v, Max: v})
	}
	return out
}

// Readings implements service.Tending.
func (a *Archive) Readings(ctx context.Context, probe alarms.ProbeID, q alarms.Quantity, from, to time.Time) ([]service.Point, error) {
	rs, err := a.store.History.Readings(ctx, probe, q, from, to, 10_000)
	points := make([]service.Point, 0, len(rs))
	for _, r := range rs {
		points = append(points, service.Point{At: r.At, Value: r.Value, Min: r.Value, Max: r.Value})
	}
	return points, err
}
