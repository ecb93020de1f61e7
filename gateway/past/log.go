package past

import (
	"context"
	"errors"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/service"
	"telltale/gateway/store"
)

// switching is how the ID of everything in the log of switchings ends.
const switching = "/" + string(alarms.RuleSwitching)

// Log implements service.Watch.
func (a *Archive) Log(ctx context.Context, of service.LogOf, before time.Time, limit int) ([]alarms.Transition, error) {
	q := store.LogQuery{To: before, Limit: limit}
	switch of {
	case service.LogSwitching:
		q.Ending = switching
	case service.LogOther:
		q.NotEnding = switching
	}
	return a.store.Log.Transitions(ctx, q)
}

// Search implements service.Tending.
func (a *Archive) Search(ctx context.Context, q service.LogQuery) (service.LogFound, error) {
	kind, ok := map[service.LogKind]store.Kind{service.LogAny: store.AnyKind, service.LogAlarms: store.OfAlarms, service.LogPeople: store.OfPeople,
		service.LogDrives: store.OfDrives, service.LogWatch: store.OfWatch}[q.Kind]
	if !ok {
		return service.LogFound{}, errors.New("there is no such part of the log")
	}
	f, err := a.store.Log.Search(ctx, store.SearchQuery{From: store.Mark(q.From), House: q.House, Kind: kind,
		Priority: q.Priority, Words: q.Words, Limit: q.Limit})
	return service.LogFound{Lines: f.Transitions, More: f.More, Next: service.LogMark(f.Next), Back: f.Back}, err
}

// AlarmLog implements service.Tending.
func (a *Archive) AlarmLog(ctx context.Context, id alarms.AlarmID, limit int) ([]alarms.Transition, error) {
	if id == "" {
		return nil, nil
	}
	return a.store.Log.Transitions(ctx, store.LogQuery{Alarm: id, Limit: limit})
}

// LoopDays implements service.Tending.
func (a *Archive) LoopDays(ctx context.Context, house alarms.HouseID, from time.Time) ([]service.LoopDay, error) {
	ts, err := a.store.Log.Transitions(ctx, store.LogQuery{From: from, Alarm: alarms.AlarmID(house) + "/ground-loop", Limit: 1000})
	if err != nil {
		return nil, err
	}
	var days []service.LoopDay
	for i := len(ts) - 1; i >= 0; i-- {
		if l := ts[i].Reason.Loop; l != nil && l.Day != nil {
			days = append(days, service.LoopDay{From: ts[i].Reason.Since, To: ts[i].Due, LoopDay: *l.Day})
		}
	}
	return days, nil
}
