package gateway

import (
	"cmp"
	"context"
	"iter"
	"math"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page"
)

// downloads gives out the history from the store, a UTC day at a time: whole
// days are what the store throws away, so that a day has readings of a stream
// or its sums.
type downloads struct{ *reports }

var _ page.Downloads = downloads{}

// Streams implements page.Downloads.
func (d downloads) Streams(house alarms.HouseID) (out []page.DownloadStream) {
	h := d.house(house)
	if h == nil {
		return nil
	}
	for _, p := range h.Places {
		for _, pr := range p.Probes {
			for _, st := range pr.Streams {
				out = append(out, page.DownloadStream{House: h.ID, Place: p.ID, PlaceName: cmp.Or(p.Name, string(p.ID)), Probe: pr.ID, Quantity: st.Quantity})
			}
		}
	}
	return out
}

// Samples implements page.Downloads.
func (d downloads) Samples(ctx context.Context, of []page.DownloadStream, from, to time.Time) iter.Seq2[page.DownloadSample, error] {
	return func(yield func(page.DownloadSample, error) bool) {
		to := earliest(to, d.now().Add(time.Second))
		if began, err := d.store.Began(ctx); err == nil && !began.IsZero() {
			from = latest(from, began)
		}
		for at := from; at.Before(to); {
			next := earliest(at.Truncate(24*time.Hour).Add(24*time.Hour), to)
			day, err := d.day(ctx, of, at, next)
			if err != nil {
				yield(page.DownloadSample{}, err)
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
func (d downloads) day(ctx context.Context, of []page.DownloadStream, from, to time.Time) (all []page.DownloadSample, err error) {
	for i, st := range of {
		rs, err := d.store.Readings(ctx, st.Probe, st.Quantity, from, to, math.MaxInt32)
		if err != nil {
			return nil, err
		}
		for _, r := range rs {
			all = append(all, page.DownloadSample{Stream: i, At: r.At, Min: r.Value, Mean: r.Value, Max: r.Value})
		}
		if len(rs) > 0 {
			continue
		}
		sums, err := d.buckets(ctx, st.Probe, st.Quantity, from, to)
		if err != nil {
			return nil, err
		}
		for _, b := range sums {
			if !b.Start.Before(from) && b.Start.Before(to) {
				all = append(all, page.DownloadSample{Stream: i, At: b.Start, Sum: true, Min: b.Min, Mean: b.Mean, Max: b.Max})
			}
		}
	}
	slices.SortStableFunc(all, func(a, b page.DownloadSample) int {
		return cmp.Or(a.At.Compare(b.At), boolOrder(a.Sum, b.Sum))
	})
	return all, nil
}

func boolOrder(a, b bool) int {
	switch {
	case a == b:
		return 0
	case a:
		return 1
	}
	return -1
}
