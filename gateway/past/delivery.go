package past

import (
	"context"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/alarms/walk"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// deliveriesFor is for how long the deliveries are handed out again: to look at
// a week of readings costs more than anything else that the page does.
const deliveriesFor = 20 * time.Second

// Deliveries implements service.Tending.
func (a *Archive) Deliveries(ctx context.Context) (map[alarms.ProbeID]service.Delivery, error) {
	a.mu.Lock()
	defer a.mu.Unlock()
	if a.heard != nil && time.Since(a.asked) < deliveriesFor {
		return a.heard, nil
	}
	now := a.now()
	away, err := a.away(ctx, now.AddDate(0, 0, -7), now)
	if err != nil {
		return nil, err
	}
	all := map[alarms.ProbeID]service.Delivery{}
	for _, h := range a.picture().Houses {
		for _, pl := range h.Places {
			for _, p := range pl.Probes {
				if all[p.ID], err = a.delivery(ctx, p, away, now); err != nil {
					return nil, err
				}
			}
		}
	}
	a.heard, a.asked = all, time.Now()
	return all, nil
}

// away lists when the watch itself was away.
func (a *Archive) away(ctx context.Context, from, to time.Time) ([]tally.Span, error) {
	ts, err := a.store.Log.Transitions(ctx, store.LogQuery{From: from, To: to, Alarm: "watch/restart", Limit: 1000})
	return walk.Each(ts, func(t alarms.Transition) tally.Span { return tally.Span{From: t.Reason.Since, To: t.Due} }), err
}

// delivery counts by the quantity that p measures first of those that are not
// about itself.
func (a *Archive) delivery(ctx context.Context, p alarms.ProbePicture, away []tally.Span, now time.Time) (d service.Delivery, err error) {
	q := mainQuantity(p)
	if q == "" {
		return d, nil
	}
	from := now.AddDate(0, 0, -7)
	week, err := a.store.History.Gaps(ctx, p.ID, q, from, now)
	if err != nil {
		return d, err
	}
	day, err := a.store.History.Gaps(ctx, p.ID, q, now.AddDate(0, 0, -1), now)
	if err != nil {
		return d, err
	}
	isNew, err := a.isNew(ctx, p.ID, q, from, week)
	if err != nil {
		return d, err
	}
	if isNew {
		from, d.Since = week.First, week.First
	}
	d.Kept = day.Median
	d.Longest, d.LongestFrom = week.Longest, week.LongestFrom
	if running := now.Sub(week.Last); week.N > 0 && running > d.Longest {
		d.Longest, d.LongestFrom = running, week.Last
	}
	d.Day = received(day.N, service.Later(from, now.AddDate(0, 0, -1)), now, away, p.Interval)
	d.Week = received(week.N, from, now, away, p.Interval)
	for _, one := range away {
		d.Away += one.Within(tally.Span{From: from, To: now}).Len()
	}
	return d, nil
}

// isNew reports whether a probe was first heard within the week from from on:
// it was not heard at its begin, nor on the day before.
func (a *Archive) isNew(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from time.Time, week store.Gaps) (bool, error) {
	if week.N == 0 || week.First.Sub(from) < 3*week.Median {
		return false, nil
	}
	before, err := a.store.History.Gaps(ctx, p, q, from.AddDate(0, 0, -1), from)
	return before.N == 0, err
}

// received counts how many of the readings that should have come did. What
// was sent while the watch was away is not asked for.
func received(got int, from, to time.Time, away []tally.Span, every time.Duration) service.Received {
	r := service.Received{Got: got}
	if every <= 0 {
		return r
	}
	whole := tally.Span{From: from, To: to}
	asked := whole.Len()
	for _, a := range away {
		asked -= a.Within(whole).Len()
	}
	r.Want = int(asked / every)
	return r
}

// mainQuantity is what a probe is for.
func mainQuantity(p alarms.ProbePicture) alarms.Quantity {
	for _, v := range p.Values {
		if v.Quantity.Facts().Of != alarms.OfProbe {
			return v.Quantity
		}
	}
	return ""
}
