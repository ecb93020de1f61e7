package metrics

import (
	"strings"

	"github.com/prometheus/client_golang/prometheus"
	dto "github.com/prometheus/client_model/go"

	"telltale/alarms"
)

// maxKept is how many label sets are remembered between scrapes. When it is
// full all of them are made anew.
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

func (b *builder) gauge(name, help string, labels ...string) *family {
	return b.add(&family{desc: prometheus.NewDesc("telltale_"+name, help, labels, nil)})
}

func (b *builder) counter(name, help string, labels ...string) *family {
	return b.add(&family{desc: prometheus.NewDesc("telltale_"+name, help, labels, nil), counter: true})
}

func (b *builder) add(f *family) *family {
	b.all = append(b.all, f)
	return f
}

// pointFamily is the family of one quantity and what brings the core's unit to
// the base unit: times mul.
type pointFamily struct {
	*family
	mul float64
}

// points makes one family for each quantity that is a point of a place.
// Battery and signal are shown with the probe.
func (b *builder) points() map[alarms.Quantity]pointFamily {
	of := func(mul float64, name, help string) pointFamily {
		return pointFamily{b.gauge(name, help, "house", "place", "probe"), mul}
	}
	return map[alarms.Quantity]pointFamily{
		alarms.Temperature: of(1, "temperature_celsius", "Air temperature, newest live reading."),
		alarms.Humidity:    of(0.01, "humidity_ratio", "Relative humidity of the air over water, 0 to 1, newest live reading."),
		alarms.Surface:     of(1, "surface_temperature_celsius", "Temperature of a leaf or cover surface, newest live reading."),
		alarms.Soil:        of(1, "soil_temperature_celsius", "Temperature of soil or root zone, newest live reading."),
		alarms.VPD:         of(1000, "vapour_pressure_deficit_pascals", "Vapour pressure deficit of the air, derived from temperature and humidity."),
		alarms.DewMargin:   of(1, "dew_margin_celsius", "Surface temperature minus dew point: condensation below zero."),
		alarms.Contact:     of(1, "contact_closed", "Whether a contact is closed (1) or open (0)."),
		alarms.Current:     of(1, "current_amperes", "Electric current, newest live reading."),
		alarms.Power:       of(1, "power_watts", "Electric power, newest live reading."),
		alarms.Speed:       of(0.01, "speed_ratio", "Speed of a drive as a share of full speed, 0 to 1."),
		alarms.Opening:     of(0.01, "position_ratio", "Position of a vent or shutter as a share of wholly open, 0 to 1."),
		alarms.Voltage:     of(1, "voltage_volts", "Voltage, newest live reading."),
		alarms.Pressure:    of(1, "pressure_pascals", "Pressure, newest live reading."),
	}
}
