package page

import (
	"context"
	"errors"
	"math"
	"slices"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/page/scenes"
	"telltale/gateway/page/service"
)

// fakeWatch is a watch whose picture the test sets.
type fakeWatch struct {
	mu          sync.Mutex
	picture     alarms.Picture
	now         func() time.Time
	subs        map[chan struct{}]struct{}
	inputs      []alarms.Input
	log         []alarms.Transition
	tests       int
	testOver    string            // the channel of the last one
	tested      []service.Telling // what came of a test message
	askedTested int               // times
	doErr       error
	testErr     error
	history     func(alarms.PlaceID, alarms.Quantity, time.Time, time.Time, int) ([]service.Point, error)
	logCalls    int
}

var _ service.Watch = (*fakeWatch)(nil)

// noon is the time of the scene.
var noon = scenes.Noon

func newFake() *fakeWatch {
	f := &fakeWatch{now: func() time.Time { return noon }, subs: map[chan struct{}]struct{}{}}
	f.picture = scene(noon)
	f.log = sceneLog(noon)
	f.tested = sceneTested(noon)
	f.history = swing
	return f
}

func (f *fakeWatch) Picture() alarms.Picture {
	f.mu.Lock()
	defer f.mu.Unlock()
	p := f.picture
	p.Alarms, p.Houses = slices.Clone(p.Alarms), slices.Clone(p.Houses)
	for i := range p.Houses {
		h := &p.Houses[i]
		h.Places = slices.Clone(h.Places)
		for j := range h.Places {
			h.Places[j].Points, h.Places[j].Probes = slices.Clone(h.Places[j].Points), slices.Clone(h.Places[j].Probes)
		}
	}
	return p
}

func (f *fakeWatch) Judged() time.Time { return time.Now().Add(-time.Millisecond) }

// PictureIn marks sentences as being in °F.
func (f *fakeWatch) PictureIn(m say.Locale) alarms.Picture {
	p := f.Picture()
	if m.Fahrenheit {
		p.Sentence += " (in °F)"
	}
	return p
}

func (f *fakeWatch) Subscribe() (<-chan struct{}, func()) {
	f.mu.Lock()
	defer f.mu.Unlock()
	c := make(chan struct{}, 1)
	f.subs[c] = struct{}{}
	return c, func() {
		f.mu.Lock()
		defer f.mu.Unlock()
		delete(f.subs, c)
	}
}

// change alters the picture and tells the subscribers.
func (f *fakeWatch) change(how func(*alarms.Picture)) {
	f.mu.Lock()
	defer f.mu.Unlock()
	how(&f.picture)
	for c := range f.subs {
		select {
		case c <- struct{}{}:
		default:
		}
	}
}

// Do behaves like a core that knows only what people do.
func (f *fakeWatch) Do(_ context.Context, in alarms.Input) error {
	if f.doErr != nil {
		return f.doErr
	}
	f.change(func(p *alarms.Picture) {
		f.inputs = append(f.inputs, in)
		tend(p, in)
		for i := range p.Alarms {
			a := &p.Alarms[i]
			if a.ID != in.Alarm {
				continue
			}
			a.Transition += "+"
			switch in.Kind {
			case alarms.Acknowledge:
				a.State = alarms.Acknowledged
			case alarms.Shelve:
				a.State, a.Until, a.By, a.Note = alarms.Shelved, in.Until, in.By, in.Note
			case alarms.TakeOut:
				a.State, a.By, a.Note = alarms.OutOfService, in.By, in.Note
			case alarms.PutBack:
				a.State, a.By, a.Note = alarms.Unacknowledged, "", ""
			case alarms.Unshelve:
				a.State = alarms.Unacknowledged
			}
		}
	})
	return nil
}

// tend does what people do to houses and probes. What it changes is its own:
// a picture that was handed out stays as it was.
func tend(p *alarms.Picture, in alarms.Input) {
	p.Houses = slices.Clone(p.Houses)
	for i := range p.Houses {
		h := &p.Houses[i]
		if in.Kind == alarms.SetSeason && h.ID == in.House {
			h.Season = in.Season
		}
		h.Selectors = slices.Clone(h.Selectors)
		for j := range h.Selectors {
			if in.Kind == alarms.SetSelector && h.ID == in.House && h.Selectors[j].ID == in.Selector {
				h.Selectors[j].At = in.Position
			}
		}
		h.Places = slices.Clone(h.Places)
		for j := range h.Places {
			pl := &h.Places[j]
			pl.Probes = slices.Clone(pl.Probes)
			for k := range pl.Probes {
				if in.Probe != "" && pl.Probes[k].ID == in.Probe {
					pl.Probes[k].OutOf = in.Kind == alarms.TakeOut
				}
			}
		}
	}
}

func (f *fakeWatch) done() []alarms.Input {
	f.mu.Lock()
	defer f.mu.Unlock()
	return append([]alarms.Input(nil), f.inputs...)
}

func (f *fakeWatch) History(_ context.Context, _ alarms.HouseID, place alarms.PlaceID, q alarms.Quantity,
	from, to time.Time, most int) ([]service.Point, error) {
	return f.history(place, q, from, to, most)
}

func (f *fakeWatch) Log(_ context.Context, of service.LogOf, before time.Time, limit int) ([]alarms.Transition, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.logCalls++
	var out []alarms.Transition
	for _, t := range f.log {
		switched := t.Reason.Rule == alarms.RuleSwitching
		if of == service.LogSwitching && !switched || of == service.LogOther && switched {
			continue
		}
		if t.Due.Before(before) && len(out) < limit {
			out = append(out, t)
		}
	}
	return out, nil
}

func (f *fakeWatch) TestMessage(_ context.Context, channel string) (string, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.tests++
	f.testOver = channel
	return "watch/test-message#1", f.testErr
}

func (f *fakeWatch) Tested(_ context.Context, id string) ([]service.Telling, error) {
	f.mu.Lock()
	defer f.mu.Unlock()
	f.askedTested++
	if id != "watch/test-message#1" || f.tests == 0 {
		return nil, nil
	}
	return slices.Clone(f.tested), nil
}

func (f *fakeWatch) Now() time.Time { return f.now() }

// swing is a day's course with a gap of an hour and a half.
func swing(place alarms.PlaceID, q alarms.Quantity, from, to time.Time, most int) ([]service.Point, error) {
	if place == "frame" {
		return nil, nil
	}
	if q == alarms.Contact {
		return nil, errors.New("disk on fire")
	}
	middle, reach := 20.0, 9.0
	switch q {
	case alarms.Humidity:
		middle, reach = 70, 18
	case alarms.Soil:
		middle, reach = 19, 1
	}
	step := to.Sub(from) / time.Duration(most)
	var out []service.Point
	for i := 0; i < most; i++ {
		at := from.Add(step*time.Duration(i) + step/2)
		if gone := to.Sub(at); gone > 2*time.Hour && gone < 3*time.Hour+30*time.Minute {
			continue
		}
		v := middle + reach*math.Sin(float64(at.Unix()%86400-28800)/86400*2*math.Pi)
		out = append(out, service.Point{At: at, Value: v, Min: v - 0.4, Max: v + 0.6})
	}
	return out, nil
}
