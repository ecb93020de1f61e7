package page

import (
	"cmp"
	"context"
	"slices"
	"strings"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/service"
)

// fakeTending keeps a log, tellings and readings in memory.
type fakeTending struct {
	watch *fakeWatch

	mu       sync.Mutex
	delivery map[alarms.ProbeID]service.Delivery
	readings func(alarms.ProbeID, alarms.Quantity, time.Time, time.Time) []service.Point
	tellings []service.Telling // newest first
	days     map[alarms.HouseID][]service.LoopDay
	refusal  string // of the core
	look     int    // lines that one search looks at; 0: all
	err      error
}

var _ service.Tending = (*fakeTending)(nil)

// tended is a garden with probes that can be calibrated.
func tended() (*fakeWatch, *fakeTending) {
	f := newFake()
	f.change(func(p *alarms.Picture) {
		p.Houses = append([]alarms.HousePicture(nil), p.Houses...)
		p.Houses[0] = tendedHouse(p.Houses[0], noon)
	})
	t := &fakeTending{watch: f, delivery: sceneDeliveries(noon), tellings: sceneTellings(noon), days: map[alarms.HouseID][]service.LoopDay{"long-house": sceneDays(noon)}}
	t.readings = func(_ alarms.ProbeID, q alarms.Quantity, _, _ time.Time) []service.Point {
		if q == alarms.Humidity {
			return around(f.now(), 70.1, 0.2)
		}
		return around(f.now(), 0.62, 0.05)
	}
	f.log = append(sceneMixed(noon), f.log...)
	slices.SortStableFunc(f.log, func(a, b alarms.Transition) int { return b.Due.Compare(a.Due) })
	return f, t
}

// plainTending is the log of f alone.
func plainTending(f *fakeWatch) *fakeTending {
	return &fakeTending{watch: f, readings: func(alarms.ProbeID, alarms.Quantity, time.Time, time.Time) []service.Point { return nil }}
}

// around is a reading every 30 s in the last five minutes, about v.
func around(now time.Time, v, by float64) (all []service.Point) {
	for i := range 10 {
		at := now.Add(-time.Duration(10-i) * 30 * time.Second)
		all = append(all, service.Point{At: at, Value: v + by*float64(i%3-1)})
	}
	return all
}

func (t *fakeTending) Deliveries(context.Context) (map[alarms.ProbeID]service.Delivery, error) {
	return t.delivery, t.err
}

func (t *fakeTending) Readings(_ context.Context, p alarms.ProbeID, q alarms.Quantity, from, to time.Time) ([]service.Point, error) {
	t.mu.Lock()
	defer t.mu.Unlock()
	var all []service.Point
	for _, pt := range t.readings(p, q, from, to) {
		if !pt.At.Before(from) && pt.At.Before(to) {
			all = append(all, pt)
		}
	}
	return all, t.err
}

// Calibrate behaves like a core that knows only the probes of the picture.
func (t *fakeTending) Calibrate(ctx context.Context, in alarms.Input) error {
	if t.refusal != "" {
		return service.Refuse(tongue.Text(t.refusal))
	}
	if err := t.watch.Do(ctx, in); err != nil {
		return err
	}
	t.watch.change(func(p *alarms.Picture) {
		for i := range p.Houses {
			for j := range p.Houses[i].Places {
				for k := range p.Houses[i].Places[j].Probes {
					if pr := &p.Houses[i].Places[j].Probes[k]; pr.ID == in.Probe {
						pr.Calibrations = []alarms.CalibrationPicture{{Quantity: in.Quantity, Offset: in.Value, At: in.At, By: in.By, Note: in.Note,
							Sentence: "0.62 °C is taken off each temperature, set by " + in.By + " (" + in.Note + ")."}}
					}
				}
			}
		}
	})
	return nil
}

func (t *fakeTending) Hearers() (people, channels []string) {
	return []string{"Ada", "Ben"}, []string{"mail", "phone"}
}

func (t *fakeTending) Tellings(_ context.Context, q service.ToldQuery) ([]service.Telling, error) {
	var all []service.Telling
	for _, one := range t.tellings {
		switch {
		case q.Person != "" && one.Person != q.Person, q.Channel != "" && one.Channel != q.Channel,
			q.Before > 0 && one.Seq >= q.Before, len(q.Transitions) > 0 && !slices.Contains(q.Transitions, one.Of.ID):
			continue
		}
		all = append(all, one)
	}
	return all[:min(len(all), q.Limit)], t.err
}

// Search looks at no more than look lines at once, where that is set.
func (t *fakeTending) Search(_ context.Context, q service.LogQuery) (f service.LogFound, err error) {
	t.watch.mu.Lock()
	defer t.watch.mu.Unlock()
	looked := 0
	for i, one := range t.watch.log {
		mark := service.LogMark{Due: one.Due.UnixNano(), Seq: int64(len(t.watch.log) - i)}
		if q.From != (service.LogMark{}) && cmp.Or(cmp.Compare(mark.Due, q.From.Due), cmp.Compare(mark.Seq, q.From.Seq)) >= 0 {
			continue
		}
		if looked == t.look && looked > 0 || len(f.Lines) == q.Limit {
			f.More = true
			return f, t.err
		}
		looked++
		f.Next, f.Back = mark, one.Due
		if t.wants(q, one) {
			f.Lines = append(f.Lines, one)
		}
	}
	return f, t.err
}

func (t *fakeTending) wants(q service.LogQuery, one alarms.Transition) bool {
	kind := service.LogAlarms
	switch {
	case one.Reason.Rule == alarms.RuleSwitching:
		kind = service.LogDrives
	case one.Reason.By != "":
		kind = service.LogPeople
	case one.Reason.Rule == alarms.RuleRestart:
		kind = service.LogWatch
	}
	for _, w := range q.Words {
		if !strings.Contains(strings.ToLower(one.Sentence), strings.ToLower(w)) {
			return false
		}
	}
	return (q.Kind == service.LogAny || q.Kind == kind) && (q.House == "" || one.Reason.House == q.House) &&
		(q.Priority == alarms.NoPriority || one.Priority == q.Priority)
}

func (t *fakeTending) AlarmLog(_ context.Context, id alarms.AlarmID, limit int) ([]alarms.Transition, error) {
	t.watch.mu.Lock()
	defer t.watch.mu.Unlock()
	var all []alarms.Transition
	for _, one := range t.watch.log {
		if one.Alarm == id {
			all = append(all, one)
		}
	}
	return all[:min(len(all), limit)], t.err
}

func (t *fakeTending) LoopDays(_ context.Context, house alarms.HouseID, from time.Time) ([]service.LoopDay, error) {
	var all []service.LoopDay
	for _, d := range t.days[house] {
		if d.To.After(from) {
			all = append(all, d)
		}
	}
	return all, t.err
}
