package export

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"sync"
	"time"

	"github.com/rs/zerolog"
)

// httpSink posts batches, and keeps them on disk while that fails. accept and
// stats may be called while run works.
type httpSink struct {
	opt  HTTPOptions
	name string // of the endpoint, without query
	now  func() time.Time
	log  zerolog.Logger
	wake chan struct{}

	mu      sync.Mutex
	spool   *spool
	pending []batch // only while the spool is empty, or the disk fails
	flying  flight
	stats   HTTPStats
}

// flight is the batch that is being posted.
type flight struct {
	batch
	on     bool
	onDisk bool
	end    position // behind it on disk
	// loose: it was taken off a full disk to make room. If it comes back it is
	// the oldest there is, and is given up.
	loose bool
}

func newHTTPSink(o HTTPOptions, now func() time.Time, log zerolog.Logger) (*httpSink, error) {
	o = o.withDefaults()
	if err := o.check(); err != nil {
		return nil, err
	}
	u, err := url.Parse(o.URL)
	if err != nil {
		return nil, err
	}
	h := &httpSink{opt: o, name: u.Scheme + "://" + u.Host + u.Path, now: now, log: log, wake: make(chan struct{}, 1)}
	var torn int64
	if h.spool, torn, err = openSpool(o.Dir, o.bufferBytes); err != nil {
		return nil, fmt.Errorf("export over HTTP: opening the buffer in %s: %w", o.Dir, err)
	}
	if torn > 0 {
		h.say("the last %d bytes of the buffer had not been written whole and were cut off", torn)
	}
	return h, nil
}

// say keeps and logs a sentence.
func (h *httpSink) say(format string, args ...any) {
	h.stats.Last = fmt.Sprintf(format, args...)
	h.log.Warn().Str("endpoint", h.name).Msg("export: " + h.stats.Last)
}

// memoryLimit is how many bytes may wait in memory for a slow endpoint before
// they go to disk: two batches.
func (h *httpSink) memoryLimit() int { return 2 * h.opt.batchBytes }

// accept takes a batch: into memory while the endpoint keeps up, else to disk.
func (h *httpSink) accept(b batch) {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.pending = append(h.pending, b.split(h.opt.batchBytes)...)
	waiting := 0
	for _, p := range h.pending {
		waiting += len(p.text)
	}
	if !h.spool.empty() || !h.stats.AwaySince.IsZero() || waiting > h.memoryLimit() {
		h.stow()
	}
	select {
	case h.wake <- struct{}{}:
	default:
	}
}

// stow puts everything that is in memory onto disk, oldest first. What the
// disk refuses stays in memory within memoryLimit.
func (h *httpSink) stow() {
	if h.flying.on && !h.flying.onDisk && !h.flying.loose {
		end, ok := h.keep(h.flying.batch)
		if !ok {
			h.shorten()
			return
		}
		h.flying.onDisk, h.flying.end = true, end
	}
	for len(h.pending) > 0 {
		if _, ok := h.keep(h.pending[0]); !ok {
			break
		}
		h.pending = h.pending[1:]
	}
	h.shorten()
}

func (h *httpSink) keep(b batch) (position, bool) {
	if h.flying.onDisk && h.spool.fullFor(b) {
		// Its fate is open: it must not be counted among what is given up.
		h.landed()
		h.flying.onDisk, h.flying.loose = false, true
	}
	end, dropped, err := h.spool.append(b)
	if dropped > 0 {
		h.stats.Dropped += uint64(dropped)
		h.say("the buffer is full: the oldest %d lines were given up", dropped)
	}
	if err != nil {
		h.say("the buffer on disk cannot be written: %v", err)
		return end, false
	}
	return end, true
}

// shorten gives up the oldest batches in memory beyond memoryLimit.
func (h *httpSink) shorten() {
	waiting := 0
	for _, p := range h.pending {
		waiting += len(p.text)
	}
	for len(h.pending) > 1 && waiting > h.memoryLimit() {
		h.stats.Dropped += uint64(h.pending[0].lines)
		h.say("neither the endpoint nor the disk took %d lines: they were given up", h.pending[0].lines)
		waiting -= len(h.pending[0].text)
		h.pending = h.pending[1:]
	}
}

// take chooses what to post next: the disk's oldest, else memory's.
func (h *httpSink) take() (flight, bool) {
	h.mu.Lock()
	defer h.mu.Unlock()
	for !h.spool.empty() {
		b, end, err := h.spool.next(h.opt.batchBytes)
		if err == nil && b.lines > 0 {
			h.flying = flight{batch: b, on: true, onDisk: true, end: end}
			return h.flying, true
		}
		lines, dropErr := h.spool.dropOldest()
		h.stats.Dropped += uint64(lines)
		h.say("a segment of the buffer could not be read: %d lines were given up: %v", lines, errors.Join(err, dropErr))
	}
	if len(h.pending) == 0 {
		return flight{}, false
	}
	h.flying = flight{on: true}
	for len(h.pending) > 0 && (h.flying.lines == 0 || len(h.flying.text)+len(h.pending[0].text) <= h.opt.batchBytes) {
		h.flying.text = append(h.flying.text, h.pending[0].text...)
		h.flying.lines += h.pending[0].lines
		h.pending = h.pending[1:]
	}
	return h.flying, true
}

// run posts until ctx ends, then puts what is left onto disk.
func (h *httpSink) run(ctx context.Context) error {
	attempt := 0
	for ctx.Err() == nil {
		f, ok := h.take()
		if !ok {
			select {
			case <-h.wake:
			case <-ctx.Done():
			}
			continue
		}
		answer := h.post(ctx, f.batch)
		if h.settle(ctx, answer) {
			attempt = 0
			continue
		}
		attempt++
		select {
		case <-time.After(h.opt.pause(attempt, answer.wait)):
		case <-ctx.Done():
		}
	}
	return h.closeDown()
}

// settle books the answer to what is flying; it reports whether to go on at
// once.
func (h *httpSink) settle(ctx context.Context, a answer) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	defer func() { h.flying = flight{} }()
	switch a.verdict {
	case taken:
		h.stats.Lines += uint64(h.flying.lines)
		h.stats.Batches++
		h.landed()
		h.back()
		return true
	case refused:
		h.stats.Failures++
		h.stats.Dropped += uint64(h.flying.lines)
		h.say("the endpoint refuses a batch of %d lines, which is given up: %s", h.flying.lines, a.why)
		h.landed()
		h.back()
		return true
	}
	if ctx.Err() != nil { // asked to stop, which is no fault of the endpoint
		h.stow()
		h.putBack()
		return false
	}
	h.stats.Failures++
	if h.stats.AwaySince.IsZero() {
		h.stats.AwaySince = h.now()
		h.say("the endpoint is away, lines are kept on disk: %s", a.why)
	} else {
		h.stats.Last = "the endpoint is away: " + a.why
	}
	h.stow()
	h.putBack()
	return false
}

// landed frees what was flying from the disk.
func (h *httpSink) landed() {
	if !h.flying.onDisk {
		return
	}
	if err := h.spool.done(h.flying.end); err != nil {
		h.say("the buffer cannot note what was sent, which may be sent again after a restart: %v", err)
	}
}

// putBack returns to memory what is flying and could not go to disk.
func (h *httpSink) putBack() {
	switch {
	case h.flying.loose:
		h.stats.Dropped += uint64(h.flying.lines)
		h.say("the buffer is full: the oldest %d lines were given up", h.flying.lines)
	case !h.flying.onDisk:
		h.pending = append([]batch{h.flying.batch}, h.pending...)
		h.shorten()
	}
}

func (h *httpSink) back() {
	if !h.stats.AwaySince.IsZero() {
		h.log.Info().Str("endpoint", h.name).Msgf("export: the endpoint is back after %v", h.now().Sub(h.stats.AwaySince).Round(time.Second))
		h.stats.AwaySince = time.Time{}
	}
}

func (h *httpSink) closeDown() error {
	h.mu.Lock()
	defer h.mu.Unlock()
	h.stow()
	var err error
	for _, b := range h.pending {
		h.stats.Dropped += uint64(b.lines)
		err = fmt.Errorf("export over HTTP: lines could not be kept for the next start: %s", h.stats.Last)
	}
	h.pending = nil
	return errors.Join(err, h.spool.close())
}

func (h *httpSink) stat() HTTPStats {
	h.mu.Lock()
	defer h.mu.Unlock()
	s := h.stats
	s.Buffered = h.spool.size()
	s.Waiting = h.spool.lines()
	if h.flying.on && !h.flying.onDisk {
		s.Waiting += h.flying.lines
	}
	for _, b := range h.pending {
		s.Waiting += b.lines
	}
	return s
}
