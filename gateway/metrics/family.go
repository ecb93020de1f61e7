package metrics

import (
	"math"
	"strings"
	"time"

	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"

	"telltale/alarms/walk"
)

// maxKept is how many label sets are remembered between scrapes. When it is
// full all of them are made again.
const maxKept = 50_000

// family is one metric name.
type family struct {
	desc    *prometheus.Desc
	counter bool
}

// values are the label values of one series, in the order of its family; the
// unused ones are empty.
type values [5]string

type series struct {
	family *family
	values values
}

// sample is one series with its value. It is a prometheus.Metric that is made
// without building label pairs again at each scrape.
type sample struct {
	family *family
	labels []*dto.LabelPair
	value  float64
}

// Desc is part of prometheus.Metric.
func (s *sample) Desc() *prometheus.Desc { return s.family.desc }

// Write is part of prometheus.Metric.
func (s *sample) Write(m *dto.Metric) error {
	m.Label = s.labels
	if s.family.counter {
		m.Counter = &dto.Counter{Value: &s.value}
	} else {
		m.Gauge = &dto.Gauge{Value: &s.value}
	}
	return nil
}

// labelCache keeps the label pairs of series. It is not safe for concurrent
// use.
type labelCache map[series][]*dto.LabelPair

func (c labelCache) pairs(f *family, n int, vs values) []*dto.LabelPair {
	k := series{f, vs}
	if known, ok := c[k]; ok {
		return known
	}
	if len(c) >= maxKept {
		clear(c)
	}
	for i := range vs {
		vs[i] = strings.ToValidUTF8(vs[i], "\uFFFD")
	}
	made := prometheus.MakeLabelPairs(f.desc, vs[:n])
	c[k] = made
	return made
}

// builder makes families and remembers them for Describe.
type builder struct{ all []*family }

// family makes one; what is named a total is a counter, all else a gauge.
func (b *builder) family(name, help string, labels ...string) *family {
	f := &family{desc: prometheus.NewDesc("telltale_"+name, help, labels, nil), counter: strings.HasSuffix(name, "_total")}
	b.all = append(b.all, f)
	return f
}

// row is one metric of things of one kind.
type row[T any] struct {
	name, help string
	value      func(T) float64 // no number where there is none
}

// figure is a row with its family.
type figure[T any] struct {
	*family
	value func(T) float64
}

func table[T any](b *builder, labels []string, rows []row[T]) []figure[T] {
	return walk.Each(rows, func(r row[T]) figure[T] { return figure[T]{b.family(r.name, r.help, labels...), r.value} })
}

// show gives all figures of one thing.
func show[T any](s *scrape, all []figure[T], of T, labels ...string) {
	for _, f := range all {
		s.put(f.family, f.value(of), labels...)
	}
}

// showAny gives all figures of a part, if there is one.
func showAny[T any](s *scrape, all []figure[*T], of *T) {
	if of != nil {
		show(s, all, of)
	}
}

func oneIf(yes bool) float64 {
	if yes {
		return 1
	}
	return 0
}

// only is v where it holds, and no number else.
func only(holds bool, v float64) float64 {
	if holds {
		return v
	}
	return math.NaN()
}

// known is what v points to, no number for nil.
func known[N int | float64](v *N) float64 {
	if v == nil {
		return math.NaN()
	}
	return float64(*v)
}

// unix is a time in seconds, no number for none.
func unix(at time.Time) float64 { return only(!at.IsZero(), float64(at.UnixMilli())/1000) }
