package gateway

import (
	"context"
	"errors"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/gateway/page"
	"telltale/gateway/store"
)

// tending implements page.Tending.
type tending struct {
	*watch

	mu    sync.Mutex
	known map[alarms.ProbeID]page.Delivery
	asked time.Time // real time
}

// deliveriesFor is for how long the deliveries are handed out again: to look at
// a week of readings costs more than anything else that the page does.
const deliveriesFor = 20 * time.Second

// Deliveries implements page.Tending.
func (t *tending) Deliveries(ctx context.Context) (map[alarms.ProbeID]page.Delivery, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	if t.known != nil && time.Since(t.asked) < deliveriesFor {
		return t.known, nil
	}
	now := t.Now()
	away, err := t.away(ctx, now.AddDate(0, 0, -7), now)
	if err != nil {
		return nil, err
	}
	all := map[alarms.ProbeID]page.Delivery{}
	for _, h := range t.Picture().Houses {
		for _, pl := range h.Places {
			for _, p := range pl.Probes {
				if all[p.ID], err = t.delivery(ctx, p, away, now); err != nil {
					return nil, err
				}
			}
		}
	}
	t.known, t.asked = all, time.Now()
	return all, nil
}

// stretch is a time from and to.
type stretch struct{ from, to time.Time }

// of returns how much of s lies between from and to.
func (s stretch) of(from, to time.Time) time.Duration {
	if s.from.After(from) {
		from = s.from
	}
	if s.to.Before(to) {
		to = s.to
	}
	return max(to.Sub(from), 0)
}

// away lists when the watch itself was away.
func (t *tending) away(ctx context.Context, from, to time.Time) ([]stretch, error) {
	ts, err := t.store.Transitions(ctx, store.LogQuery{From: from, To: to, Alarm: "watch/restart", Limit: 1000})
	var all []stretch
	for _, one := range ts {
		all = append(all, stretch{one.Reason.Since, one.Due})
	}
	return all, err
}

// delivery counts by the quantity that p measures first of those that are not
// about itself.
func (t *tending) delivery(ctx context.Context, p alarms.ProbePicture, away []stretch, now time.Time) (d page.Delivery, err error) {
	q := mainQuantity(p)
	if q == "" {
		return d, nil
	}
	from := now.AddDate(0, 0, -7)
	week, err := t.store.Gaps(ctx, p.ID, q, from, now)
	if err != nil {
		return d, err
	}
	day, err := t.store.Gaps(ctx, p.ID, q, now.AddDate(0, 0, -1), now)
	if err != nil {
		return d, err
	}
	isNew, err := t.isNew(ctx, p.ID, q, from, week)
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
	d.Day = received(day.N, latest(from, now.AddDate(0, 0, -1)), now, away, p.Interval)
	d.Week = received(week.N, from, now, away, p.Interval)
	for _, a := range away {
		d.Away += a.of(from, now)
	}
	return d, nil
}

// isNew reports whether a probe was first heard within the week from from on:
// it was not heard at its begin, nor on the day before.
func (t *tending) isNew(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from time.Time, week store.Gaps) (bool, error) {
	if week.N == 0 || week.First.Sub(from) < 3*week.Median {
		return false, nil
	}
	before, err := t.store.Gaps(ctx, p, q, from.AddDate(0, 0, -1), from)
	return before.N == 0, err
}

// received counts how many of the readings that should have come did. What
// was sent while the watch was away is not asked for.
func received(got int, from, to time.Time, away []stretch, every time.Duration) page.Received {
	r := page.Received{Got: got}
	if every <= 0 {
		return r
	}
	span := to.Sub(from)
	for _, a := range away {
		span -= a.of(from, to)
	}
	r.Want = int(span / every)
	return r
}

// mainQuantity is what a probe is for.
func mainQuantity(p alarms.ProbePicture) alarms.Quantity {
	for _, v := range p.Values {
		switch v.Quantity {
		case alarms.Battery, alarms.Signal, alarms.Voltage:
		default:
			return v.Quantity
		}
	}
	return ""
}

// Readings implements page.Tending.
func (t *tending) Readings(ctx context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time) ([]page.Point, error) {
	rs, err := t.store.Readings(ctx, p, q, from, to, 10_000)
	points := make([]page.Point, 0, len(rs))
	for _, r := range rs {
		points = append(points, page.Point{At: r.At, Value: r.Value, Min: r.Value, Max: r.Value})
	}
	return points, err
}

// Calibrate implements page.Tending.
func (t *tending) Calibrate(ctx context.Context, in alarms.Input) error {
	made, err := t.perform(ctx, in)
	if err != nil {
		return err
	}
	for _, one := range made {
		if one.Move == alarms.Note && one.Reason.Probe == in.Probe && one.Reason.Rule == alarms.RulePerson {
			if one.Reason.Value == nil {
				return page.Refusal(one.Reason.Note)
			}
			return nil
		}
	}
	return page.Refusal("not calibrated: the probe measures no " + in.Quantity.Word())
}

// Hearers implements page.Tending.
func (t *tending) Hearers() (people, channels []string) {
	for _, p := range t.rules.People {
		people = append(people, p.Name)
	}
	follows := map[string]bool{}
	for _, c := range t.rules.Follow {
		follows[c] = true
	}
	for _, c := range t.rules.Channels {
		if !follows[c] {
			channels = append(channels, c)
		}
	}
	return people, channels
}

// Search implements page.Tending.
func (t *tending) Search(ctx context.Context, q page.LogQuery) (page.LogFound, error) {
	kind, ok := map[page.LogKind]store.Kind{page.LogAny: store.AnyKind, page.LogAlarms: store.OfAlarms, page.LogPeople: store.OfPeople,
		page.LogDrives: store.OfDrives, page.LogWatch: store.OfWatch}[q.Kind]
	if !ok {
		return page.LogFound{}, errors.New("there is no such part of the log")
	}
	f, err := t.store.Search(ctx, store.SearchQuery{From: store.Mark(q.From), House: q.House, Kind: kind,
		Priority: q.Priority, Words: q.Words, Limit: q.Limit})
	return page.LogFound{Lines: f.Transitions, More: f.More, Next: page.LogMark(f.Next), Back: f.Back}, err
}

// AlarmLog implements page.Tending.
func (t *tending) AlarmLog(ctx context.Context, id alarms.AlarmID, limit int) ([]alarms.Transition, error) {
	if id == "" {
		return nil, nil
	}
	return t.store.Transitions(ctx, store.LogQuery{Alarm: id, Limit: limit})
}

// LoopDays implements page.Tending.
func (t *tending) LoopDays(ctx context.Context, house alarms.HouseID, from time.Time) ([]page.LoopDay, error) {
	ts, err := t.store.Transitions(ctx, store.LogQuery{From: from, Alarm: alarms.AlarmID(house) + "/ground-loop", Limit: 1000})
	if err != nil {
		return nil, err
	}
	var days []page.LoopDay
	for i := len(ts) - 1; i >= 0; i-- {
		if l := ts[i].Reason.Loop; l != nil && l.Day != nil {
			days = append(days, page.LoopDay{From: ts[i].Reason.Since, To: ts[i].Due, LoopDay: *l.Day})
		}
	}
	return days, nil
}
