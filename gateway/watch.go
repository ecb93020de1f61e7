package gateway

import (
	"context"
	"errors"
	"slices"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/alarms/air"
	"telltale/gateway/config"
	"telltale/gateway/page"
	"telltale/gateway/reach"
	"telltale/gateway/store"
)

// watch is the service as the page and the metrics see it. All methods may be
// called by anybody.
type watch struct {
	plan  alarms.Plan
	store *store.Store
	box   *outbox
	clock *Clock
	hub   *hub
	rules reach.Rules
	kinds map[string]config.ChannelKind // of the channels
	wake  func()
	acts  chan<- act
	looks chan<- look
	gone  <-chan struct{} // closed when the owner has ended

	mu   sync.Mutex
	last [2]kept // in the plan's unit of temperature, and in the other
}

// kept is a picture that is handed out for a while.
type kept struct {
	picture alarms.Picture
	drawn   time.Time // real time
}

// errStopping is what a person hears who acts while the watch stops.
var errStopping = errors.New("the watch is stopping; nothing was done")

// pictureAge is for how long a picture is handed out again.
const pictureAge = 200 * time.Millisecond

// Picture implements page.Watch.
func (w *watch) Picture() alarms.Picture { return w.PictureIn(w.plan.Words.Fahrenheit) }

// PictureIn implements page.Watch. It asks the owner; after the end it returns
// the last picture there was.
func (w *watch) PictureIn(fahrenheit bool) alarms.Picture {
	w.mu.Lock()
	defer w.mu.Unlock()
	k := &w.last[0]
	if fahrenheit != w.plan.Words.Fahrenheit {
		k = &w.last[1]
	}
	if time.Since(k.drawn) < pictureAge {
		return k.picture
	}
	reply := make(chan alarms.Picture, 1)
	select {
	case w.looks <- look{fahrenheit, reply}:
		select {
		case k.picture = <-reply:
			k.drawn = time.Now()
		case <-w.gone:
		}
	case <-w.gone:
	}
	if k.picture.At.IsZero() { // never drawn in this unit before the end
		return w.last[0].picture
	}
	return k.picture
}

// Subscribe implements page.Watch.
func (w *watch) Subscribe() (<-chan struct{}, func()) { return w.hub.subscribe() }

// Now implements page.Watch.
func (w *watch) Now() time.Time { return w.clock.Now() }

// Do implements page.Watch. An act that the core refuses is an error whose
// text says why.
func (w *watch) Do(ctx context.Context, in alarms.Input) error {
	made, err := w.perform(ctx, in)
	for _, t := range made {
		if t.Move == alarms.Note && t.Alarm == in.Alarm {
			return errors.New(t.Reason.Note)
		}
	}
	return err
}

// perform gives an input to the owner and returns what it brought about.
func (w *watch) perform(ctx context.Context, in alarms.Input) ([]alarms.Transition, error) {
	reply := make(chan []alarms.Transition, 1)
	select {
	case w.acts <- act{in, reply}:
	case <-w.gone:
		return nil, errStopping
	case <-ctx.Done():
		return nil, ctx.Err()
	}
	select {
	case made := <-reply:
		w.mu.Lock()
		w.last[0].drawn, w.last[1].drawn = time.Time{}, time.Time{}
		w.mu.Unlock()
		return made, nil
	case <-w.gone:
		return nil, errStopping
	case <-ctx.Done():
		return nil, ctx.Err()
	}
}

// switching is how the ID of everything in the log of switchings ends.
const switching = "/" + string(alarms.RuleSwitching)

// Log implements page.Watch.
func (w *watch) Log(ctx context.Context, of page.LogOf, before time.Time, limit int) ([]alarms.Transition, error) {
	q := store.LogQuery{To: before, Limit: limit}
	switch of {
	case page.LogSwitching:
		q.Ending = switching
	case page.LogOther:
		q.NotEnding = switching
	}
	return w.store.Transitions(ctx, q)
}

// History implements page.Watch: the probes of a place together, derived
// quantities from temperature and humidity.
func (w *watch) History(ctx context.Context, house alarms.HouseID, place alarms.PlaceID, q alarms.Quantity,
	from, to time.Time, maxPoints int) ([]page.Point, error) {
	p := w.place(house, place)
	if p == nil {
		return nil, nil
	}
	if !q.Derived() {
		return w.measured(ctx, p, q, from, to, maxPoints)
	}
	t, err := w.measured(ctx, p, alarms.Temperature, from, to, maxPoints)
	if err != nil {
		return nil, err
	}
	h, err := w.measured(ctx, p, alarms.Humidity, from, to, maxPoints)
	if err != nil {
		return nil, err
	}
	return derive(q, p.LeafBelow(), t, h), nil
}

func (w *watch) place(house alarms.HouseID, place alarms.PlaceID) *alarms.Place {
	for i := range w.plan.Houses {
		if w.plan.Houses[i].ID != house {
			continue
		}
		for j := range w.plan.Houses[i].Places {
			if p := &w.plan.Houses[i].Places[j]; p.ID == place {
				return p
			}
		}
	}
	return nil
}

func (w *watch) measured(ctx context.Context, p *alarms.Place, q alarms.Quantity, from, to time.Time, maxPoints int) ([]page.Point, error) {
	sums := map[time.Time]*store.Bucket{}
	for _, pr := range p.Probes {
		if !slices.ContainsFunc(pr.Streams, func(s alarms.Stream) bool { return s.Quantity == q }) {
			continue
		}
		buckets, err := w.store.Buckets(ctx, pr.ID, q, from, to, maxPoints)
		if err != nil {
			return nil, err
		}
		join(sums, buckets)
	}
	var points []page.Point
	for mid, b := range sums {
		points = append(points, page.Point{At: mid, Value: b.Mean, Min: b.Min, Max: b.Max})
	}
	slices.SortFunc(points, func(a, b page.Point) int { return a.At.Compare(b.At) })
	return points, nil
}

// join adds one probe's buckets to those of its siblings, by their middle.
func join(sums map[time.Time]*store.Bucket, buckets []store.Bucket) {
	for _, b := range buckets {
		mid := b.Start.Add(b.Width / 2)
		s, ok := sums[mid]
		if !ok {
			sums[mid] = &b
			continue
		}
		n := float64(s.N + b.N)
		s.Mean = (s.Mean*float64(s.N) + b.Mean*float64(b.N)) / n
		s.Min, s.Max, s.N = min(s.Min, b.Min), max(s.Max, b.Max), s.N+b.N
	}
}

func derive(q alarms.Quantity, leafBelow float64, t, h []page.Point) []page.Point {
	humidity := map[time.Time]float64{}
	for _, p := range h {
		humidity[p.At] = p.Value
	}
	var out []page.Point
	for _, p := range t {
		rh, ok := humidity[p.At]
		if !ok || rh <= 0 {
			continue
		}
		v := air.VPD(p.Value, rh) / 1000
		if q == alarms.DewMargin {
			v = air.LeafEstimate(p.Value, leafBelow) - air.DepositPoint(p.Value, rh)
		}
		out = append(out, page.Point{At: p.At, Value: v, Min: v, Max: v})
	}
	return out
}

// hub tells whoever wants to know that there is something newer to see. It
// never waits: a subscriber that has not yet taken its note keeps just that one.
type hub struct {
	mu   sync.Mutex
	subs map[chan struct{}]bool
}

func (h *hub) subscribe() (<-chan struct{}, func()) {
	c := make(chan struct{}, 1)
	h.mu.Lock()
	defer h.mu.Unlock()
	if h.subs == nil {
		h.subs = map[chan struct{}]bool{}
	}
	h.subs[c] = true
	return c, func() {
		h.mu.Lock()
		defer h.mu.Unlock()
		delete(h.subs, c)
	}
}

func (h *hub) notify() {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.subs {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}
