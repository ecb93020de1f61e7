package past

import (
	"context"
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// Bounds on what one report reads.
const (
	rawSpan     = 9 * 24 * time.Hour // longer spans rest on 10-minute values
	mostLines   = 50_000             // of the log
	mostLost    = 50
	afterwards  = 24 * time.Hour // the log is read so far beyond the span
	sumWidth    = 10 * time.Minute
	longestHold = 2 * time.Hour // a value from so long before may stand at the beginning
)

// Seasons implements service.Reports.
func (a *Archive) Seasons(ctx context.Context, house alarms.HouseID) ([]alarms.SeasonFrom, error) {
	h := a.house(house)
	if h == nil {
		return nil, nil
	}
	log, err := a.store.Log.Transitions(ctx, store.LogQuery{Alarm: alarms.AlarmID(house) + "/season", Limit: 1000})
	if err != nil {
		return nil, err
	}
	slices.Reverse(log)
	all := []alarms.SeasonFrom{{Season: h.Season}}
	for _, t := range log {
		if s := t.Reason.Season; s != "" && s != all[len(all)-1].Season {
			all = append(all, alarms.SeasonFrom{From: t.Due, Season: s})
		}
	}
	if len(all) == 1 { // the season now is the one there always was
		for _, p := range a.picture().Houses {
			if p.ID == house {
				all[0].Season = p.Season
			}
		}
	}
	return all, nil
}

// Report implements service.Reports.
func (a *Archive) Report(ctx context.Context, house alarms.HouseID, s tally.Span) (tally.Report, error) {
	h := a.house(house)
	if h == nil {
		return tally.Report{}, fmt.Errorf("there is no house %q", house)
	}
	log, err := a.log(ctx, h, s)
	if err != nil {
		return tally.Report{}, err
	}
	rep := tally.Of(h, s, a.now(), log)
	held := h.Course(log.Seasons, s.From, s.To)
	distrust := tally.Distrusted(log.Lines, log.Until)
	for i := range h.Places {
		for _, q := range reported(&h.Places[i]) {
			m, err := a.measure(ctx, &h.Places[i], q, &rep, held, distrust)
			if err != nil {
				return rep, err
			}
			rep.Measures = append(rep.Measures, m)
		}
	}
	return rep, ctx.Err()
}

// reported are the quantities of p that a report speaks of: the climate, not
// what shows a drive or how a probe is; what is derived only where it has a
// limit.
func reported(p *alarms.Place) (out []alarms.Quantity) {
	for _, q := range alarms.Quantities {
		limited := slices.ContainsFunc(p.Bands, func(b alarms.Band) bool { return b.Quantity == q })
		if q.Facts().Of == alarms.OfPlants && p.Sees(q) && (limited || !q.Derived()) {
			out = append(out, q)
		}
	}
	return out
}

// log reads what the log and the outbox hold about h and s.
func (a *Archive) log(ctx context.Context, h *alarms.House, s tally.Span) (l tally.Log, err error) {
	l.Until = service.Earlier(a.now(), s.To.Add(afterwards))
	if l.Seasons, err = a.Seasons(ctx, h.ID); err != nil {
		return l, err
	}
	if l.Lines, err = a.store.Log.Told(ctx, h.ID, s.From.Add(-tally.Lead), l.Until.Add(1), mostLines); err != nil {
		return l, err
	}
	l.Cut = len(l.Lines) == mostLines
	if l.Switchings, err = a.switchings(ctx, h.ID, s.From, l.Until.Add(1)); err != nil {
		return l, err
	}
	l.Cut = l.Cut || len(l.Switchings) >= mostLines
	if l.Runs, err = a.runsOf(ctx, h, s); err != nil {
		return l, err
	}
	sums, err := a.store.Outbox.TellingSums(ctx, h.ID, s.From, s.To)
	if err != nil {
		return l, err
	}
	l.Told = toldOf(sums)
	lost, err := a.store.Outbox.LostTellings(ctx, h.ID, s.From, s.To, mostLost)
	for _, x := range lost {
		l.Lost = append(l.Lost, tally.Lost{At: x.Planned, Person: x.Person, Channel: x.Channel, Of: x.Of, Why: x.Error})
	}
	return l, err
}

// switchings reads the log of switchings, oldest first.
func (a *Archive) switchings(ctx context.Context, house alarms.HouseID, from, to time.Time) (all []alarms.Transition, err error) {
	const piece = 5000
	q := store.LogQuery{House: house, Ending: switching, From: from, To: to, Limit: piece}
	for len(all) < mostLines {
		some, err := a.store.Log.Transitions(ctx, q)
		if err != nil {
			return nil, err
		}
		all = append(all, some...)
		if len(some) < piece {
			break
		}
		q.OlderThan = some[len(some)-1].ID
	}
	slices.Reverse(all)
	return all, nil
}

// runsOf are the runs of all drives of h that touch s.
func (a *Archive) runsOf(ctx context.Context, h *alarms.House, s tally.Span) (out []tally.Run, err error) {
	for i := range h.Drives {
		runs, err := a.runs(ctx, h, &h.Drives[i], s)
		if err != nil {
			return nil, err
		}
		out = append(out, runs...)
	}
	return out, nil
}

// ToldTo is who was to be told what over a span, of all houses and the watch itself.
func (a *Archive) ToldTo(ctx context.Context, s tally.Span) ([]tally.Told, error) {
	sums, err := a.store.Outbox.TellingSums(ctx, "", s.From, s.To)
	return toldOf(sums), err
}

func toldOf(sums []store.TellingSum) (out []tally.Told) {
	for _, s := range sums {
		n := len(out)
		if n == 0 || out[n-1].Person != s.Person || out[n-1].Channel != s.Channel {
			out, n = append(out, tally.Told{Person: s.Person, Channel: s.Channel}), n+1
		}
		t := &out[n-1]
		switch {
		case s.Arrived:
			t.Delivered += s.N
		case s.Undelivered:
			t.Undelivered += s.N
		case s.State == store.TellingTold:
			t.HandedOver += s.N
		case s.State == store.TellingAbandoned:
			t.GivenUp += s.N
		case s.State == store.TellingRehearsed:
			t.Rehearsed += s.N
		case s.State == store.TellingCancelled:
			t.NotNeeded += s.N
		case s.Tried:
			t.Failed += s.N
		default:
			t.Waiting += s.N
		}
	}
	return out
}
