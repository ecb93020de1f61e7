package gateway

import (
	"context"
	"errors"
	"sync"
	"time"

	"telltale/alarms"
	"telltale/alarms/say"
	"telltale/gateway/config"
	"telltale/gateway/past"
	"telltale/gateway/reach"
	"telltale/gateway/store"
	"telltale/gateway/supervise"
)

// watch is the service as the page and the metrics see it. All methods may be
// called by anybody.
type watch struct {
	*past.Archive // what was

	plan  alarms.Plan
	store *store.Store
	box   *outbox
	clock *Clock
	hub   *hub
	rules reach.Rules
	kinds map[string]config.ChannelKind // of the channels
	wake  func()
	pulse *supervise.Pulse
	acts  chan<- act
	looks chan<- look
	first *accompanying   // the watch that this one accompanies; nil: none
	gone  <-chan struct{} // closed when the owner has ended

	mu    sync.Mutex
	last  alarms.Picture // without words; handed out for a while
	said  alarms.Picture // last in the locale of the garden
	drawn time.Time      // real time
}

// errStopping is what a person hears who acts while the watch stops.
var errStopping = errors.New("the watch is stopping; nothing was done")

// pictureAge is for how long a picture is handed out again.
const pictureAge = 200 * time.Millisecond

// Picture implements service.Watch.
func (w *watch) Picture() alarms.Picture {
	_, said := w.look()
	return said
}

// PictureIn implements service.Watch.
func (w *watch) PictureIn(m say.Locale) alarms.Picture {
	last, said := w.look()
	if m == say.Of(&w.plan) {
		return said
	}
	return say.Picture(&w.plan, last, m)
}

// look asks the owner for a picture, which is without words, and has it said once
// in the locale of the garden, in which most ask for it; after the end it returns
// the last that there was.
func (w *watch) look() (last, said alarms.Picture) {
	w.mu.Lock()
	defer w.mu.Unlock()
	if time.Since(w.drawn) < pictureAge {
		return w.last, w.said
	}
	reply := make(chan alarms.Picture, 1)
	select {
	case w.looks <- look{reply}:
		select {
		case w.last = <-reply:
			w.said, w.drawn = say.Picture(&w.plan, w.last, say.Of(&w.plan)), time.Now()
		case <-w.gone:
		}
	case <-w.gone:
	}
	return w.last, w.said
}

// Judged implements service.Watch.
func (w *watch) Judged() time.Time { return w.pulse.Last() }

// Subscribe implements service.Watch.
func (w *watch) Subscribe() (<-chan struct{}, func()) { return w.hub.subscribe() }

// Now implements service.Watch.
func (w *watch) Now() time.Time { return w.clock.Now() }

// Do implements service.Watch. An act that the core refuses is an error whose
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

// perform does what a person asks and returns what it brought about.
func (w *watch) perform(ctx context.Context, in alarms.Input) ([]alarms.Transition, error) {
	made, err := w.hand(ctx, in)
	if err == nil {
		w.first.acted(in, made)
	}
	return made, err
}

// fresh is the picture of now, without words.
func (w *watch) fresh() alarms.Picture {
	w.mu.Lock()
	w.drawn = time.Time{}
	w.mu.Unlock()
	last, _ := w.look()
	return last
}

// hand gives an input to the owner and returns what it brought about.
func (w *watch) hand(ctx context.Context, in alarms.Input) ([]alarms.Transition, error) {
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
		w.drawn = time.Time{}
		w.mu.Unlock()
		return made, nil
	case <-w.gone:
		return nil, errStopping
	case <-ctx.Done():
		return nil, ctx.Err()
	}
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
