package gateway

import (
	"context"
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
	tally "telltale/alarms/report"
	"telltale/gateway/page"
	"telltale/gateway/store"
)

// reports makes reports from the store. It asks the owner of the core for
// nothing but its picture, and not even that where picture is nil.
type reports struct {
	store   *store.Store
	plan    alarms.Plan // filled
	now     func() time.Time
	picture func() alarms.Picture // nil: no watch runs here
}

var _ page.Reports = (*reports)(nil)

func newReports(w *watch) *reports {
	return &reports{store: w.store, plan: w.plan.Filled(), now: w.Now, picture: w.Picture}
}

// Bounds on what one report reads.
const (
	rawSpan     = 9 * 24 * time.Hour // longer spans rest on 10-minute values
	mostLines   = 50_000             // of the log
	mostLost    = 50
	afterwards  = 24 * time.Hour // the log is read so far beyond the span
	sumWidth    = 10 * time.Minute
	longestHold = 2 * time.Hour // a value from so long before may stand at the beginning
)

func (r *reports) house(id alarms.HouseID) *alarms.House {
	for i := range r.plan.Houses {
		if r.plan.Houses[i].ID == id {
			return &r.plan.Houses[i]
		}
	}
	return nil
}

// Houses implements page.Reports.
func (r *reports) Houses() (out []page.HouseName) {
	for _, h := range r.plan.Houses {
		out = append(out, page.HouseName{ID: h.ID, Name: h.Name})
	}
	return out
}

// Began implements page.Reports.
func (r *reports) Began(ctx context.Context) (time.Time, error) { return r.store.Began(ctx) }

// Seasons implements page.Reports.
func (r *reports) Seasons(ctx context.Context, house alarms.HouseID) ([]alarms.SeasonFrom, error) {
	h := r.house(house)
	if h == nil {
		return nil, nil
	}
	log, err := r.store.Transitions(ctx, store.LogQuery{Alarm: alarms.AlarmID(house) + "/season", Limit: 1000})
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
	if len(all) == 1 && r.picture != nil { // the season now is the one there always was
		for _, p := range r.picture().Houses {
			if p.ID == house {
				all[0].Season = p.Season
			}
		}
	}
	return all, nil
}

// Report implements page.Reports.
func (r *reports) Report(ctx context.Context, house alarms.HouseID, s tally.Span) (tally.Report, error) {
	h := r.house(house)
	if h == nil {
		return tally.Report{}, fmt.Errorf("there is no house %q", house)
	}
	log, err := r.log(ctx, h, s)
	if err != nil {
		return tally.Report{}, err
	}
	rep := tally.Of(h, s, r.now(), log)
	held := h.Course(log.Seasons, s.From, s.To)
	distrust := tally.Distrusted(log.Lines, log.Until)
	for i := range h.Places {
		for _, q := range reported(&h.Places[i]) {
			m, err := r.measure(ctx, &h.Places[i], q, &rep, held, distrust)
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
	for _, q := range []alarms.Quantity{alarms.Temperature, alarms.Humidity, alarms.Surface, alarms.Soil} {
		if slices.ContainsFunc(p.Probes, func(pr alarms.Probe) bool { return measures(&pr, q) }) {
			out = append(out, q)
		}
	}
	for _, q := range []alarms.Quantity{alarms.VPD, alarms.DewMargin} {
		if slices.ContainsFunc(p.Bands, func(b alarms.Band) bool { return b.Quantity == q }) {
			out = append(out, q)
		}
	}
	return out
}

// log reads what the log and the outbox hold about h and s.
func (r *reports) log(ctx context.Context, h *alarms.House, s tally.Span) (l tally.Log, err error) {
	l.Until = earliest(r.now(), s.To.Add(afterwards))
	if l.Seasons, err = r.Seasons(ctx, h.ID); err != nil {
		return l, err
	}
	if l.Lines, err = r.store.Whole(ctx, h.ID, s.From.Add(-tally.Lead), l.Until.Add(1), mostLines); err != nil {
		return l, err
	}
	l.Cut = len(l.Lines) == mostLines
	if l.Switchings, err = r.switchings(ctx, h.ID, s.From, l.Until.Add(1)); err != nil {
		return l, err
	}
	l.Cut = l.Cut || len(l.Switchings) >= mostLines
	l.Running = r.running(h.ID)
	sums, err := r.store.TellingSums(ctx, h.ID, s.From, s.To)
	if err != nil {
		return l, err
	}
	l.Told = toldOf(sums)
	lost, err := r.store.LostTellings(ctx, h.ID, s.From, s.To, mostLost)
	for _, x := range lost {
		l.Lost = append(l.Lost, tally.Lost{At: x.Planned, Person: x.Person, Channel: x.Channel, Of: x.Of, Why: x.Error})
	}
	return l, err
}

// switchings reads the log of switchings, oldest first.
func (r *reports) switchings(ctx context.Context, house alarms.HouseID, from, to time.Time) (all []alarms.Transition, err error) {
	const piece = 5000
	q := store.LogQuery{House: house, Ending: switching, From: from, To: to, Limit: piece}
	for len(all) < mostLines {
		some, err := r.store.Transitions(ctx, q)
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

func (r *reports) running(house alarms.HouseID) (out []tally.Run) {
	if r.picture == nil {
		return nil
	}
	for _, h := range r.picture().Houses {
		for _, d := range h.Drives {
			if h.ID == house && d.State == alarms.DriveRunning && !d.Since.IsZero() {
				out = append(out, tally.Run{Drive: d.ID, From: d.Since})
			}
		}
	}
	return out
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
