package past

import (
	"cmp"
	"context"
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/alarms/walk"
	"telltale/gateway/page/service"
)

// Year implements service.Reports. It rests on values of 10 minutes, as a season does.
func (a *Archive) Year(ctx context.Context, house alarms.HouseID, s tally.Span) (y tally.Year, err error) {
	h := a.house(house)
	if h == nil {
		return y, fmt.Errorf("there is no house %q", house)
	}
	y = tally.Year{Span: s, Made: a.now(), Counted: s.Within(tally.Span{From: s.From, To: a.now()}), ByHand: h.SetsLoop()}
	lines, err := a.store.Log.Told(ctx, h.ID, s.From.Add(-tally.Lead), y.Counted.To.Add(1), mostLines)
	if err != nil {
		return y, err
	}
	b := yearOf{a, h, y.Counted, a.zone(), tally.Distrusted(lines, y.Counted.To)}
	if y.Warmth, y.Moisture, y.Felt, err = b.climate(ctx, s); err != nil {
		return y, err
	}
	if y.Fans, err = b.fans(ctx, s); err != nil {
		return y, err
	}
	if h.Loop != nil {
		y.Soil = h.Loop.Soil
		y.Depths, err = b.depths(ctx, s)
	}
	return y, cmp.Or(err, ctx.Err())
}

// zone is the one whose days count.
func (a *Archive) zone() *time.Location { return cmp.Or(a.plan.Words.Zone, time.UTC) }

// yearOf reads the year of one house.
type yearOf struct {
	*Archive
	house    *alarms.House
	over     tally.Span // what of the year is over
	in       *time.Location
	distrust []tally.Distrust
}

// asked has a cell for each month of the year.
func (y yearOf) asked(s tally.Span) tally.Asked {
	return tally.Asked{Span: y.over, Cells: tally.Months(s, y.in), Days: tally.Days(y.over, y.in), Base: tally.GrowingBase}
}

func (y yearOf) climate(ctx context.Context, s tally.Span) (warmth, moisture *tally.Measure, at tally.Felt, err error) {
	p, at := tally.FeltPlace(y.house)
	if p == nil {
		return nil, nil, "", nil
	}
	for q, to := range map[alarms.Quantity]**tally.Measure{alarms.Temperature: &warmth, alarms.Humidity: &moisture} {
		if !p.Sees(q) {
			continue
		}
		all, err := y.series(ctx, p, q, y.over, y.distrust)
		if err != nil {
			return nil, nil, at, err
		}
		m := tally.MeasureOf(p.ID, q, y.asked(s), all)
		*to = &m
	}
	return warmth, moisture, at, nil
}

// blowing are the kinds of drive whose hours are told.
var blowing = []alarms.DriveKind{alarms.ExhaustFan, alarms.LoopFan, alarms.CirculatingFan}

func (y yearOf) fans(ctx context.Context, s tally.Span) (out []tally.YearFan, err error) {
	months := tally.Months(s, y.in)
	var cuts []time.Time
	for _, m := range months {
		if m = m.Within(y.over); m.Len() > 0 {
			cuts = append(cuts, m.From)
		}
	}
	if len(cuts) == 0 {
		return nil, nil
	}
	drives, err := y.RunCells(ctx, y.house.ID, append(cuts, y.over.To))
	if err != nil {
		return nil, err
	}
	for _, kind := range blowing {
		f := tally.YearFan{Kind: kind, Months: make([]tally.FanMonth, len(months))}
		for _, d := range drives {
			if y.house.Drive(d.ID).Kind != kind {
				continue
			}
			f.Number++
			for i, c := range d.Cells {
				f.Ran, f.Inferred = f.Ran+c.Ran, f.Inferred+c.Inferred
				f.Months[i].Ran += c.Ran
				f.Months[i].Known = f.Months[i].Known || c.Known
			}
		}
		if f.Number > 0 {
			out = append(out, f)
		}
	}
	return out, nil
}

// depths are those of the pipes, the shallowest first; pipes of one depth together.
func (y yearOf) depths(ctx context.Context, s tally.Span) (out []tally.YearDepth, err error) {
	l := y.house.Loop
	ran, err := y.ranFan(ctx)
	if err != nil {
		return nil, err
	}
	all := map[float64][]tally.Series{}
	for _, pipe := range l.Pipes {
		open := ran
		if pipe.Damper.Probe != "" {
			shown, err := y.shown(ctx, pipe.Damper)
			if err != nil {
				return nil, err
			}
			open = both(ran, shown, y.over)
		}
		series, err := y.series(ctx, y.house.Place(pipe.Outlet), alarms.Temperature, y.over, y.distrust)
		if err != nil {
			return nil, err
		}
		for _, one := range series {
			one.Samples = whole(one.Samples, open)
			one.Hold = min(cmp.Or(one.Hold, sumWidth), sumWidth)
			all[pipe.Depth] = append(all[pipe.Depth], one)
		}
	}
	for depth, series := range all {
		out = append(out, tally.DepthOf(depth, l.Soil, tally.MeasureOf("", alarms.Temperature, y.asked(s), series), y.in))
	}
	slices.SortFunc(out, func(a, b tally.YearDepth) int { return cmp.Compare(a.Depth, b.Depth) })
	return out, nil
}

// ranFan is when the loop fan ran: by the log of switchings, or by what shows it.
func (y yearOf) ranFan(ctx context.Context) ([]tally.Span, error) {
	d := y.house.Drive(y.house.Loop.Fan)
	if d == nil {
		return y.shown(ctx, y.house.Loop.Runs)
	}
	runs, err := y.runs(ctx, y.house, d, y.over)
	return tally.Joined(walk.Each(runs, func(r tally.Run) tally.Span { return r.Span }), y.over), err
}

// shown is when a piece of evidence showed all the time what it stands for.
func (y yearOf) shown(ctx context.Context, ev alarms.Evidence) ([]tally.Span, error) {
	buckets, err := y.buckets(ctx, ev.Probe, ev.Quantity, y.over.From, y.over.To)
	if err != nil {
		return nil, err
	}
	hold := max(sumWidth, holds(y.house)[ev.Probe])
	var out []tally.Span
	for i, b := range buckets {
		if !ev.Shows(b.Min) || !ev.Shows(b.Max) {
			continue
		}
		end := b.Start.Add(max(b.Width, hold))
		if i+1 < len(buckets) {
			end = service.Earlier(end, buckets[i+1].Start)
		}
		out = append(out, tally.Span{From: b.Start, To: end})
	}
	return tally.Joined(out, y.over), nil
}

// both is when both hold.
func both(a, b []tally.Span, within tally.Span) []tally.Span {
	neither := append(within.Without(a), within.Without(b)...)
	return within.Without(neither)
}

// whole are the samples that lie in one of spans from beginning to end.
func whole(samples []tally.Sample, spans []tally.Span) (out []tally.Sample) {
	for _, x := range samples {
		for len(spans) > 0 && !spans[0].To.After(x.At) {
			spans = spans[1:]
		}
		if len(spans) == 0 {
			break
		}
		if !x.At.Before(spans[0].From) && !x.At.Add(x.Width).After(spans[0].To) {
			out = append(out, x)
		}
	}
	return out
}
