package page

import (
	"context"
	"maps"
	"sync"
	"sync/atomic"
	"time"

	"telltale/gateway/page/words"
)

// Times of the live page, by the machine's clock.
const (
	liveBeat   = 3 * time.Second        // at least this often something is sent
	liveGap    = 500 * time.Millisecond // at least this long between two drawings
	liveShare  = 4                      // one account has at most this part of what there is room for
	liveStall  = 10 * time.Second       // a browser that takes nothing for so long is dropped
	stillAfter = 15 * time.Second       // nothing was judged for so long: the watch stands still
)

// Stats counts what the live page did.
type Stats struct {
	Live    int    // browsers followed now
	Dropped uint64 // because they took nothing for too long
	Refused uint64 // because there were enough already
}

// Stats returns the counts since the start.
func (s *Server) Stats() Stats {
	s.hub.mu.Lock()
	defer s.hub.mu.Unlock()
	return Stats{Live: len(s.hub.clients), Dropped: s.hub.dropped.Load(), Refused: s.hub.refused.Load()}
}

// piece is one part of the page that changes by itself.
type piece struct{ id, html string }

// drawing is the whole live part of the page at one moment.
type drawing struct {
	clock  string
	shape  string // which pieces there are
	still  bool
	pieces []piece

	// Browsers that take every drawing are all told the same: what changed since
	// the one before is written once for all of them.
	number, after uint64 // of this drawing, and of the one before; 0: none
	change        []byte
}

// hub draws the live part once for all browsers and puts it in their
// mailboxes. A mailbox holds the newest drawing only: one that was not fetched
// is replaced, so that a slow browser skips and nobody waits for it.
type hub struct {
	server    *Server
	beat, gap time.Duration
	stall     time.Duration
	still     time.Duration
	dropped   atomic.Uint64
	refused   atomic.Uint64
	made      time.Time
	bye       chan struct{}
	sayBye    sync.Once

	mu      sync.Mutex
	clients map[*client]struct{}

	number uint64               // of the newest drawing; run's own, as last
	last   map[audience]drawing // that was handed out

	drawMu sync.Mutex // one drawing at a time; guards log
	log    logCache   // of transitions, which hold their sentence in both units
}

// audience are the browsers that see the same, and share their drawings.
type audience struct {
	words.Locale
	look bool // may look only: sees no forms that act
}

// client is one browser.
type client struct {
	account string // "" where nobody has one of their own
	of      audience
	mail    chan drawing
}

func newHub(s *Server) *hub {
	return &hub{server: s, beat: liveBeat, gap: liveGap, stall: liveStall, still: stillAfter,
		bye:     make(chan struct{}),
		clients: map[*client]struct{}{}, last: map[audience]drawing{}, made: time.Now()}
}

// run follows the watch until ctx ends.
func (h *hub) run(ctx context.Context) {
	news, stop := h.server.watch.Subscribe()
	defer stop()
	beat := time.NewTicker(h.beat)
	defer beat.Stop()
	pause := time.NewTimer(0)
	defer pause.Stop()
	waiting := news // nil while the gap after a drawing lasts
	for {
		select {
		case <-ctx.Done():
			return
		case <-beat.C:
		case <-pause.C:
			waiting = news
			continue
		case _, open := <-waiting:
			if !open { // the watch has ended; beats go on and say so
				news, waiting = nil, nil
				continue
			}
		}
		begun := time.Now()
		h.publish(ctx)
		waiting = nil
		// However large the garden, drawing takes about a tenth of the time.
		pause.Reset(min(max(h.gap, 10*time.Since(begun)), h.beat))
	}
}

// publish draws for whoever is there.
func (h *hub) publish(ctx context.Context) {
	there := h.audiences()
	maps.DeleteFunc(h.last, func(a audience, _ drawing) bool { return !there[a] })
	for a := range there {
		d, err := h.draw(ctx, a)
		if err == nil {
			err = h.followOn(&d, h.last[a])
		}
		if err != nil {
			h.server.log.Error().Err(err).Msg("the live page could not be drawn")
			return
		}
		h.last[a] = d
		h.hand(a, d)
	}
}

// followOn makes d the one after before.
func (h *hub) followOn(d *drawing, before drawing) (err error) {
	h.number++
	d.number, d.after = h.number, before.number
	if d.after != 0 {
		d.change, err = d.since(before)
	}
	return err
}

// audiences are those that are there.
func (h *hub) audiences() map[audience]bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	all := map[audience]bool{}
	for c := range h.clients {
		all[c.of] = true
	}
	return all
}

// hand gives a drawing to everybody whom it is for.
func (h *hub) hand(a audience, d drawing) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for c := range h.clients {
		if c.of == a {
			c.put(d)
		}
	}
}

// put replaces what is in the mailbox. Only the hub puts.
func (c *client) put(d drawing) {
	select {
	case <-c.mail:
	default:
	}
	c.mail <- d
}

// standsStill reports whether the watch has judged nothing for too long.
func (h *hub) standsStill() bool {
	return min(time.Since(h.server.watch.Judged()), time.Since(h.made)) > h.still
}

// draw renders all pieces for one audience.
func (h *hub) draw(ctx context.Context, a audience) (drawing, error) {
	h.drawMu.Lock()
	defer h.drawMu.Unlock()
	front := h.server.frontView(ctx, h.server.words.In(a.Locale), a.look, &h.log)
	d := drawing{clock: front.Top.Clock, still: front.Top.Still != "", shape: front.Shape}
	var err error
	d.pieces, err = h.server.views.draw(front, a.Tongue)
	return d, err
}

// join takes in a browser; ok is false where there are enough.
func (h *hub) join(a audience, account string) (c *client, ok bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	same := 0
	for c := range h.clients {
		if c.account == account {
			same++
		}
	}
	if most := h.server.options.maxLive; len(h.clients) >= most || account != "" && same >= max(most/liveShare, 1) {
		h.refused.Add(1)
		return nil, false
	}
	c = &client{account: account, of: a, mail: make(chan drawing, 1)}
	h.clients[c] = struct{}{}
	return c, true
}

func (h *hub) leave(c *client) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.clients, c)
}

// farewell tells all browsers that the watch stops.
func (h *hub) farewell() { h.sayBye.Do(func() { close(h.bye) }) }
