package metrics

import (
	"errors"
	"net/http"
	"runtime"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	"github.com/prometheus/client_golang/prometheus/collectors"
	"github.com/prometheus/client_golang/prometheus/promhttp"
	"github.com/rs/zerolog"

	"telltale/alarms"
)

// Options say where metrics come from.
type Options struct {
	// Picture returns the newest picture of the core; it is called once for
	// each scrape, from any goroutine. Required.
	Picture func() alarms.Picture
	// Counts returns what the parts have counted; nil: none are shown.
	Counts func() Counts
	// Now is the clock that pictures are dated by; nil: time.Now.
	Now func() time.Time
	// Version and Revision are shown as build information.
	Version, Revision string
	// Process adds the metrics of the process and of the Go runtime.
	Process bool
	Log     zerolog.Logger

	goVersion string
}

// scrapesAtOnce bounds the work that scrapers can cause; further ones get 503.
const scrapesAtOnce = 4

// Metrics is a registry of its own and the handler in front of it.
type Metrics struct {
	registry *prometheus.Registry
	log      zerolog.Logger
}

// New registers everything. It fails if there is no picture to show.
func New(o Options) (*Metrics, error) {
	if o.Picture == nil {
		return nil, errors.New("metrics: Picture is not given")
	}
	if o.Now == nil {
		o.Now = time.Now
	}
	o.goVersion = runtime.Version()
	m := &Metrics{registry: prometheus.NewRegistry(), log: o.Log}
	all := []prometheus.Collector{newCollector(o)}
	if o.Process {
		all = append(all, collectors.NewGoCollector(), collectors.NewProcessCollector(collectors.ProcessCollectorOpts{}))
	}
	for _, c := range all {
		if err := m.registry.Register(c); err != nil {
			return nil, err
		}
	}
	return m, nil
}

// Handler answers scrapes in the text exposition format, or in OpenMetrics
// where that is asked for. What cannot be shown is logged and left out; the
// rest is still served.
func (m *Metrics) Handler() http.Handler {
	return promhttp.HandlerFor(m.registry, promhttp.HandlerOpts{
		ErrorLog:            errorLog{m.log},
		ErrorHandling:       promhttp.ContinueOnError,
		MaxRequestsInFlight: scrapesAtOnce,
		EnableOpenMetrics:   true,
	})
}

type errorLog struct{ log zerolog.Logger }

// Println is part of promhttp.Logger.
func (l errorLog) Println(v ...any) { l.log.Warn().Msgf("metrics: %v", v) }
