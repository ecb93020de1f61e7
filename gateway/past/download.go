package past

import (
	"cmp"
	"context"
	"iter"
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
)

// Streams implements service.Downloads.
func (a *Archive) Streams(house alarms.HouseID) (out []service.DownloadStream) {
	h := a.house(house)
	if h == nil {
		return nil
	}
	for _, p := range h.Places {
		for _, pr := range p.Probes {
			for _, st := range pr.Streams {
				out = append(out, service.DownloadStream{House: h.ID, Place: p.ID, PlaceName: cmp.Or(p.Name, string(p.ID)), Probe: pr.ID, Quantity: st.Quantity})
			}
		}
	}
	return out
}

// Samples implements service.Downloads.
func (a *Archive) Samples(ctx context.Context, of []service.DownloadStream, from, to time.Time) iter.Seq2[service.DownloadSample, error] {
	return func(yield func(service.DownloadSample, error) bool) {
		to := service.Earlier(to, a.now().Add(time.Second))
		if began, err := a.store.History.Began(ctx); err == nil && !began.IsZero() {
			from = service.Later(from, began)
		}
		for at := from; at.Before(to); {
			next := service.Earlier(at.Truncate(24*time.Hour).Add(24*time.Hour), to)
			day, err := a.day(ctx, of, at, next)
			if err != nil {
				yield(service.DownloadSample{}, err)
				return
			}
			for _, x := range day {
				if !yield(x, nil) {
					return
				}
			}
			at = next
		}
	}
}

// day reads one piece of all streams, by time and then by stream.
func (a *Archive) day(ctx context.Context, of []service.DownloadStream, from, to time.Time) (all []service.DownloadSample, err error) {
	for i, st := range of {
		rs, err := a.store.History.Readings(ctx, st.Probe, st.Quantity, from, to, math.MaxInt32)
		if err != nil {
			return nil, err
		}
		for _, r := range rs {
			all = append(all, service.DownloadSample{Stream: i, At: r.At, Min: r.Value, Mean: r.Value, Max: r.Value})
		}
		if len(rs) > 0 {
			continue
		}
		sums, err := a.buckets(ctx, st.Probe, st.Quantity, from, to)
		if err != nil {
			return nil, err
		}
		for _, b := range sums {
			if !b.Start.Before(from) && b.Start.Before(to) {
				all = append(all, service.DownloadSample{Stream: i, At: b.Start, Sum: true, Min: b.Min, Mean: b.Mean, Max: b.Max})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b service.DownloadSample) int {
		switch c := a.At.Compare(b.At); {
		case c != 0 || a.Sum == b.Sum:
			return c
		case a.Sum:
			return 1
		}
		return -1
	})
	return all, nil
}
