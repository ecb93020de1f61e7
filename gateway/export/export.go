package export

import (
	"context"
	"errors"
	"strings"
	"sync"
	"time"

	"github.com/rs/zerolog"

	"telltale/alarms"
)

// Options say what to export to; File, HTTP or both must be given.
type Options struct {
	File string // "": to none
	HTTP *HTTPOptions
	// FlushEvery is how often what was added goes to the sinks, default 10 s;
	// sooner when the queue is half full.
	FlushEvery time.Duration
	// QueueSize is how many readings and transitions may wait for a flush,
	// default 16384. When it is full new ones are given up and counted.
	QueueSize int
	// Now is the clock of file names and of what is shown; nil: time.Now.
	Now func() time.Time
	Log zerolog.Logger
}

// Stats is what has become of what was added.
type Stats struct {
	Added     uint64 // readings and transitions taken
	QueueFull uint64 // given up because the queue was full
	Refused   uint64 // that cannot be said in line protocol
	Why       string // the first reason of the last flush with such
	Queue     int    // waiting for a flush
	File      *FileStats
	HTTP      *HTTPStats
}

// itemsPerBatch bounds a batch: 1,000 lines are about 100 KiB.
const itemsPerBatch = 1000

// Exporter takes readings and transitions and hands them to its sinks.
type Exporter struct {
	opt  Options
	file *fileSink
	http *httpSink
	enc  *encoder
	wake chan struct{}

	mu    sync.Mutex
	queue []item
	spare []item // memory of the queue before, to be used again
	stats Stats
}

// New checks the options and opens file and buffer; nothing is sent before
// Run. The error joins everything that is wrong.
func New(o Options) (*Exporter, error) {
	if o.FlushEvery <= 0 {
		o.FlushEvery = 10 * time.Second
	}
	if o.QueueSize <= 0 {
		o.QueueSize = 16384
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	e := &Exporter{opt: o, enc: newEncoder(), wake: make(chan struct{}, 1)}
	var errs []error
	var err error
	if o.File == "" && o.HTTP == nil {
		errs = append(errs, errors.New("export: neither a file nor an HTTP endpoint is given"))
	}
	if o.HTTP != nil {
		if e.http, err = newHTTPSink(*o.HTTP, o.Now, o.Log); err != nil {
			errs = append(errs, err)
		}
	}
	if o.File != "" {
		if e.file, err = newFileSink(o.File, o.Now); err != nil {
			errs = append(errs, err)
		}
		e.stats.File = &FileStats{}
	}
	if len(errs) > 0 {
		if e.file != nil {
			errs = append(errs, e.file.close())
		}
		return nil, errors.Join(errs...)
	}
	return e, nil
}

// AddReading takes a reading. It never waits.
func (e *Exporter) AddReading(r Reading) { e.add(item{reading: r}) }

// AddTransition takes a transition. It never waits.
func (e *Exporter) AddTransition(t alarms.Transition) { e.add(item{transition: &t}) }

func (e *Exporter) add(i item) {
	e.mu.Lock()
	defer e.mu.Unlock()
	if len(e.queue) >= e.opt.QueueSize {
		e.stats.QueueFull++
		return
	}
	e.queue = append(e.queue, i)
	e.stats.Added++
	if len(e.queue) == e.opt.QueueSize/2 {
		select {
		case e.wake <- struct{}{}:
		default:
		}
	}
}

// Run works until ctx ends, then writes what is left: to the file, and to the
// buffer on disk, from where the next start sends it. It owns every goroutine
// that it starts and must be called once.
func (e *Exporter) Run(ctx context.Context) error {
	var sender sync.WaitGroup
	var sendErr error
	sending, stop := context.WithCancel(context.Background())
	defer stop()
	if e.http != nil {
		sender.Go(func() { sendErr = e.http.run(sending) })
	}
	ticker := time.Tick(e.opt.FlushEvery)
	for ctx.Err() == nil {
		select {
		case <-ctx.Done():
		case <-ticker:
		case <-e.wake:
		}
		e.flush()
	}
	e.flush()
	stop()
	sender.Wait()
	if e.file != nil {
		return errors.Join(sendErr, e.file.close())
	}
	return sendErr
}

// flush hands everything in the queue to the sinks.
func (e *Exporter) flush() {
	e.mu.Lock()
	items := e.queue
	e.queue = e.spare[:0]
	e.mu.Unlock()
	e.hand(items)
	clear(items)
	e.spare = items
}

func (e *Exporter) hand(items []item) {
	for len(items) > 0 {
		n := min(len(items), itemsPerBatch)
		b, refused, why := e.enc.encode(items[:n])
		items = items[n:]
		e.note(refused, why)
		if b.lines == 0 {
			continue
		}
		if e.file != nil {
			e.toFile(b)
		}
		if e.http != nil {
			e.http.accept(b)
		}
	}
}

func (e *Exporter) note(refused int, why error) {
	if refused == 0 {
		return
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	if e.stats.Refused == 0 {
		e.opt.Log.Warn().Err(why).Msg("export: what cannot be said in line protocol is left out")
	}
	e.stats.Refused += uint64(refused)
	e.stats.Why = why.Error()
}

func (e *Exporter) toFile(b batch) {
	err := e.file.write(b)
	e.mu.Lock()
	defer e.mu.Unlock()
	s := e.stats.File
	if err != nil {
		last := "the file cannot be written, its lines are given up: " + strings.ReplaceAll(err.Error(), "\n", "; ")
		if s.Last != last {
			e.opt.Log.Error().Msg("export: " + last)
		}
		s.Failures++
		s.Dropped += uint64(b.lines)
		s.Last = last
		return
	}
	s.Lines += uint64(b.lines)
}

// Stats may be called at any time.
func (e *Exporter) Stats() Stats {
	e.mu.Lock()
	s := e.stats
	s.Queue = len(e.queue)
	if s.File != nil {
		f := *s.File
		s.File = &f
	}
	e.mu.Unlock()
	if e.http != nil {
		h := e.http.stat()
		s.HTTP = &h
	}
	return s
}
