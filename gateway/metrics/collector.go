package metrics

import (
	"math"
	"sync"
	"time"

	"github.com/prometheus/client_golang/prometheus"

	"telltale/alarms"
)

// stalledAfter is the age of a picture from which on none of its values counts
// as live: the core that should renew it has stopped.
const stalledAfter = time.Minute

// maxAlarms is how many alarms are shown by name, worst first.
const maxAlarms = 1000

// collector turns a picture and counts into samples at each scrape.
type collector struct {
	opt      Options
	families families
	all      []*family

	mu     sync.Mutex // scrapes may overlap
	labels labelCache
}

// families are the metric names, by what they show.
type families struct {
	build *family

	picture, link, linkChange, newest *family
	points                            map[alarms.Quantity]pointFamily
	age, received, live, beyond       *family
	season                            *family

	heard, interval, silent, healthy, fault, outOf *family
	battery, signal                                *family
	taken, refused, garbled                        *family

	exposed, exposedLimit, dose, doseLimit *family
	exposedUnknown, exposedReached         *family

	loop   loopFamilies
	drives driveFamilies

	alarms, active, aside, unlisted *family

	counts countFamilies
	modem  modemFamilies
}

func newFamilies() (families, []*family) {
	var b builder
	point := []string{"house", "place", "quantity", "probe"}
	probe := []string{"house", "place", "probe"}
	rule := []string{"house", "place", "rule"}
	f := families{
		build:      b.gauge("build_info", "Version of the service; always 1.", "version", "revision", "goversion"),
		picture:    b.gauge("picture_timestamp_seconds", "When the core last judged, Unix time. Values are left out when this is a minute old."),
		link:       b.gauge("link_up", "Whether the broker is reached (1) or not (0)."),
		linkChange: b.gauge("link_change_timestamp_seconds", "Since when the broker is reached, or not, Unix time."),
		newest:     b.gauge("newest_reading_timestamp_seconds", "When the newest live reading of all was received, Unix time."),
		points:     b.points(),
		age:        b.gauge("reading_age_seconds", "Age of the newest believed reading at the time of the scrape, also when it is no longer live.", point...),
		received:   b.gauge("reading_timestamp_seconds", "When the newest believed reading was received, Unix time.", point...),
		live:       b.gauge("reading_live", "Whether the reading is fresh and believed (1); if not (0) its value is left out.", point...),
		beyond:     b.gauge("reading_beyond_limit", "A live value against its limits: 0 within, 1 above high, 2 above high-high, -1 below low, -2 below low-low.", "house", "place", "quantity"),
		season:     b.gauge("house_season", "The season of a house; 1 for the one set.", "house", "season"),

		heard:    b.gauge("probe_heard_timestamp_seconds", "When the probe last sent a live message, Unix time.", probe...),
		interval: b.gauge("probe_interval_seconds", "Interval in which the probe is expected to send, given or learned.", probe...),
		silent:   b.gauge("probe_silent", "Whether the probe has not been heard for too long (1).", probe...),
		healthy:  b.gauge("probe_healthy", "Whether the probe is heard, in service and without fault (1).", probe...),
		fault:    b.gauge("probe_fault", "A fault that the probe has now; always 1.", "house", "place", "probe", "fault"),
		outOf:    b.gauge("probe_out_of_service", "Whether a person has taken the probe out of service (1).", probe...),
		battery:  b.gauge("probe_battery_ratio", "Charge of the battery, 0 to 1, of a probe that is heard.", probe...),
		signal:   b.gauge("probe_signal_dbm", "Received signal strength in dBm, of a probe that is heard.", probe...),
		taken:    b.counter("probe_readings_total", "Live readings taken.", probe...),
		refused:  b.counter("probe_readings_refused_total", "Readings that were late, doubled or not believed.", probe...),
		garbled:  b.counter("probe_payloads_garbled_total", "Payloads that could not be read.", probe...),

		exposed:        b.gauge("exposure_seconds", "For how long a place has been beyond the limit of an exposure rule, in what counts by that rule.", rule...),
		exposedLimit:   b.gauge("exposure_limit_seconds", "For how long a place may be beyond the limit of an exposure rule before that does harm.", rule...),
		dose:           b.gauge("exposure_celsius_seconds", "How far and how long a place has been beyond the limit of an exposure rule; 3600 are a degree-hour.", rule...),
		doseLimit:      b.gauge("exposure_limit_celsius_seconds", "How far and how long a place may be beyond the limit of an exposure rule before that does harm.", rule...),
		exposedUnknown: b.gauge("exposure_unknown_seconds", "For how long, in what counts by an exposure rule, nothing was known.", rule...),
		exposedReached: b.gauge("exposure_reached", "Whether an exposure does harm (1) and is not over.", rule...),

		alarms:   b.gauge("alarms", "Alarms that are not normal, by state and priority.", "state", "priority"),
		active:   b.gauge("alarm_active", "Each alarm that is not normal: whether what it tells of holds (1), also where it is put aside or another alarm says it.", "alarm", "house", "place", "quantity", "priority"),
		aside:    b.gauge("alarms_put_aside", "Alarms that somebody put aside (shelved, or out of service) while what they tell of still holds, by priority.", "priority"),
		unlisted: b.gauge("alarms_unlisted", "Alarms that are not normal but too many to be shown one by one."),
	}
	f.loop, f.drives, f.counts = newLoopFamilies(&b), newDriveFamilies(&b), newCountFamilies(&b)
	f.modem = newModemFamilies(&b)
	return f, b.all
}

// Describe is part of prometheus.Collector.
func (c *collector) Describe(ch chan<- *prometheus.Desc) {
	for _, f := range c.all {
		ch <- f.desc
	}
}

// Collect is part of prometheus.Collector.
func (c *collector) Collect(ch chan<- prometheus.Metric) {
	p := c.opt.Picture()
	var counts Counts
	if c.opt.Counts != nil {
		counts = c.opt.Counts()
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	s := scrape{collector: c, out: ch, now: c.opt.Now()}
	s.stalled = s.now.Sub(p.At) >= stalledAfter
	f := &c.families
	s.put(f.build, 1, c.opt.Version, c.opt.Revision, c.opt.goVersion)
	s.time(f.picture, p.At)
	s.flag(f.link, p.Link)
	s.time(f.linkChange, p.LinkSince)
	s.time(f.newest, p.Newest)
	for i := range p.Houses {
		s.house(&p.Houses[i])
	}
	s.alarms(p.Alarms)
	s.counts(&counts)
	s.modem(counts.Modem)
}

// scrape is one collection.
type scrape struct {
	*collector
	out     chan<- prometheus.Metric
	now     time.Time
	stalled bool
}

// put gives one sample; what is no number is left out.
func (s *scrape) put(f *family, v float64, labels ...string) {
	if math.IsNaN(v) || math.IsInf(v, 0) {
		return
	}
	var vs values
	n := copy(vs[:], labels)
	s.out <- &sample{family: f, labels: s.labels.pairs(f, n, vs), value: v}
}

func (s *scrape) flag(f *family, yes bool, labels ...string) {
	v := 0.0
	if yes {
		v = 1
	}
	s.put(f, v, labels...)
}

// time gives a Unix time; none is left out.
func (s *scrape) time(f *family, at time.Time, labels ...string) {
	if !at.IsZero() {
		s.put(f, float64(at.UnixMilli())/1000, labels...)
	}
}
