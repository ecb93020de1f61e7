package past

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/alarms/walk"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// measure sums up one quantity of one place: of the readings themselves over a
// short span, of 10-minute values over a long one, so that a season costs
// little more than a week.
func (a *Archive) measure(ctx context.Context, p *alarms.Place, q alarms.Quantity, rep *tally.Report,
	held []alarms.Held, distrust []tally.Distrust) (tally.Measure, error) {
	zone := a.zone()
	ask := tally.Asked{Span: rep.Counted, Bands: p.Steps(q, held), Days: tally.Days(rep.Counted, zone), Base: tally.GrowingBase}
	if ask.Cells = ask.Days; len(ask.Days) <= 2 {
		ask.Cells = tally.Hours(rep.Span)
	}
	var all []tally.Series
	var err error
	if q.Derived() {
		all, err = a.derived(ctx, p, q, rep.Counted, distrust)
	} else {
		all, err = a.series(ctx, p, q, rep.Counted, distrust)
	}
	if err != nil {
		return tally.Measure{}, err
	}
	return tally.MeasureOf(p.ID, q, ask, all), nil
}

// series reads what each probe of p measured of q.
func (a *Archive) series(ctx context.Context, p *alarms.Place, q alarms.Quantity, s tally.Span, distrust []tally.Distrust) (out []tally.Series, err error) {
	for i := range p.Probes {
		pr := &p.Probes[i]
		for _, st := range pr.Streams {
			if st.Quantity != q {
				continue
			}
			one := tally.Series{Hold: holdOf(pr), Out: outOf(pr.ID, q, distrust)}
			if st.Min.Set && st.Max.Set {
				one.Least, one.Most = st.Min.Value, st.Max.Value
			}
			if one.Samples, err = a.samples(ctx, pr.ID, q, s); err != nil {
				return nil, err
			}
			out = append(out, one)
		}
	}
	return out, nil
}

// holds is how long a value of each probe of h holds.
func holds(h *alarms.House) map[alarms.ProbeID]time.Duration {
	all := map[alarms.ProbeID]time.Duration{}
	for _, p := range h.Places {
		for i := range p.Probes {
			all[p.Probes[i].ID] = holdOf(&p.Probes[i])
		}
	}
	return all
}

// holdOf is how long a reading stands before its probe counts as silent; 0
// where its interval is learned.
func holdOf(p *alarms.Probe) time.Duration {
	misses := cmp.Or(p.MissesAllowed, 3)
	return time.Duration(float64(p.Every) * (misses + 0.1))
}

func outOf(p alarms.ProbeID, q alarms.Quantity, all []tally.Distrust) (out []tally.Span) {
	for _, d := range all {
		if d.Probe == p && (d.Quantity == "" || d.Quantity == q) {
			out = append(out, d.Span)
		}
	}
	return out
}

// samples reads what one probe measured of one quantity, and a little of before.
func (a *Archive) samples(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, s tally.Span) ([]tally.Sample, error) {
	from := s.From.Add(-longestHold)
	if s.Len() > rawSpan {
		return a.sums(ctx, p, q, from, s.To)
	}
	rs, err := a.store.History.Readings(ctx, p, q, from, s.To, 0)
	if err != nil {
		return nil, err
	}
	raw := walk.Each(rs, func(x store.Reading) tally.Sample { return tally.Reading(x.At, x.Value) })
	first := s.To // readings are thrown away from the oldest on, by whole days
	if len(raw) > 0 {
		first = raw[0].At
	}
	if first.Sub(from) < sumWidth {
		return raw, nil
	}
	older, err := a.sums(ctx, p, q, from, first.Truncate(sumWidth))
	return append(older, raw...), err
}

// sums reads 10-minute values.
func (a *Archive) sums(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time) ([]tally.Sample, error) {
	buckets, err := a.buckets(ctx, p, q, from, to)
	return samplesOf(buckets), err
}

func samplesOf(buckets []store.Bucket) []tally.Sample {
	return walk.Each(buckets, func(b store.Bucket) tally.Sample {
		return tally.Sample{At: b.Start, Width: b.Width, Min: b.Min, Mean: b.Mean, Max: b.Max}
	})
}

func (a *Archive) buckets(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time) ([]store.Bucket, error) {
	from, to = from.Truncate(sumWidth), to.Add(sumWidth-1).Truncate(sumWidth)
	if !from.Before(to) {
		return nil, nil
	}
	var cuts []time.Time
	for at := from; !at.After(to); at = at.Add(sumWidth) {
		cuts = append(cuts, at)
	}
	return a.store.History.Cells(ctx, p, q, cuts)
}

// derived makes a series of 10-minute means of temperature and humidity, of all
// probes of p that are believed.
func (a *Archive) derived(ctx context.Context, p *alarms.Place, q alarms.Quantity, s tally.Span, distrust []tally.Distrust) ([]tally.Series, error) {
	var means [2][]service.Point
	for i, of := range []alarms.Quantity{alarms.Temperature, alarms.Humidity} {
		sums := map[time.Time]*store.Bucket{}
		for _, pr := range p.Probes {
			if !pr.Gives(of) {
				continue
			}
			out := outOf(pr.ID, of, distrust)
			buckets, err := a.buckets(ctx, pr.ID, of, s.From, s.To)
			if err != nil {
				return nil, err
			}
			join(sums, slices.DeleteFunc(buckets, func(b store.Bucket) bool {
				return slices.ContainsFunc(out, func(o tally.Span) bool { return b.Start.Before(o.To) && b.Start.Add(b.Width).After(o.From) })
			}))
		}
		for mid, b := range sums {
			means[i] = append(means[i], service.Point{At: mid.Add(-sumWidth / 2), Value: b.Mean})
		}
		slices.SortFunc(means[i], func(x, y service.Point) int { return x.At.Compare(y.At) })
	}
	one := tally.Series{Hold: sumWidth}
	for _, d := range derive(q, p.LeafBelow(), means[0], means[1]) {
		if !math.IsNaN(d.Value) {
			one.Samples = append(one.Samples, tally.Sample{At: d.At, Width: sumWidth, Min: d.Value, Mean: d.Value, Max: d.Value})
		}
	}
	return []tally.Series{one}, nil
}
