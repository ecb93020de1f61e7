package metrics

import (
	"math"
	"strconv"
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
	opt   Options
	all   []*family
	of    pictureFigures
	count countFigures

	mu     sync.Mutex // scrapes may overlap
	labels labelCache
}

func newCollector(o Options) *collector {
	var b builder
	return &collector{opt: o, of: newPictureFigures(&b), count: newCountFigures(&b), all: b.all, labels: labelCache{}}
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
	s.put(c.of.build, 1, c.opt.Version, c.opt.Revision, c.opt.goVersion)
	show(&s, c.of.garden, &p)
	for i := range p.Houses {
		s.house(&p.Houses[i])
	}
	s.alarms(p.Alarms)
	s.counts(&counts)
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

func (s *scrape) house(h *alarms.HousePicture) {
	house := string(h.ID)
	s.put(s.of.season, 1, house, string(h.Season))
	for i := range h.Places {
		p := &h.Places[i]
		place := string(p.ID)
		for j := range p.Points {
			s.point(house, place, &p.Points[j])
		}
		for j := range p.Probes {
			s.probe(house, place, &p.Probes[j])
		}
		if s.stalled {
			continue
		}
		for j := range p.Exposures {
			show(s, s.of.exposure, &p.Exposures[j], house, place, string(p.Exposures[j].ID))
		}
		s.outlook(house, place, p.Outlook)
	}
	if h.Loop != nil {
		s.loop(house, h.Loop)
	}
	for i := range h.Drives {
		d := &h.Drives[i]
		show(s, s.of.driveSum, d, house, string(d.ID))
		if !s.stalled {
			show(s, s.of.drive, d, house, string(d.ID))
		}
	}
}

// point shows a value while it is live, and its age in any case. Of a value
// that is only retained nobody knows the age, so nothing is shown.
func (s *scrape) point(house, place string, p *alarms.PointPicture) {
	if !p.HasValue || p.At.IsZero() || p.Quantity == alarms.Battery || p.Quantity == alarms.Signal {
		return
	}
	f, quantity, probe := &s.of, string(p.Quantity), string(p.Probe)
	live := p.Live && !s.stalled
	s.put(f.live, oneIf(live), house, place, quantity, probe)
	if p.Retained {
		return
	}
	s.put(f.age, max(0, s.now.Sub(p.At).Seconds()), house, place, quantity, probe)
	s.put(f.received, unix(p.At), house, place, quantity, probe)
	if !live {
		return
	}
	if of, ok := f.points[p.Quantity]; ok {
		s.put(of, p.Value*p.Quantity.Facts().Gauge.Times, house, place, probe)
	}
	if p.Limits != (alarms.Limits{}) {
		beyond := float64(p.Level)
		if p.Side == alarms.LowSide {
			beyond = -beyond
		}
		s.put(f.beyond, beyond, house, place, quantity)
	}
}

func (s *scrape) probe(house, place string, p *alarms.ProbePicture) {
	f, id := &s.of, string(p.ID)
	show(s, f.probe, p, house, place, id)
	heard := !p.Silent && !p.Heard.IsZero() && !s.stalled
	s.put(f.healthy, oneIf(heard && !p.OutOf && len(p.Faults) == 0), house, place, id)
	for _, fault := range p.Faults {
		s.put(f.fault, 1, house, place, id, string(fault))
	}
	if heard {
		show(s, f.probeHeard, p, house, place, id)
	}
}

// loop shows what holds now unless the watch stands still, and sums in any
// case.
func (s *scrape) loop(house string, l *alarms.LoopPicture) {
	show(s, s.of.loopSum, l, house)
	if !s.stalled {
		s.put(s.of.loopRuns, only(l.Known, oneIf(l.Running)), house)
	}
	for i := range l.Pipes {
		p := &l.Pipes[i]
		depth := strconv.FormatFloat(p.Depth, 'f', -1, 64)
		show(s, s.of.pipeSum, p, house, string(p.Outlet), depth)
		if !s.stalled {
			s.put(s.of.better, oneIf(l.Better != nil && *l.Better == p.Depth), house, string(p.Outlet), depth)
			show(s, s.of.pipe, p, house, string(p.Outlet), depth)
		}
	}
}

// alarms counts by state and priority, zeros too, so that an absent alarm is
// a zero and not a gap; the alarms themselves are shown while not normal.
func (s *scrape) alarms(all []alarms.AlarmPicture) {
	var n [alarms.OutOfService + 1][alarms.High + 1]int
	var aside [alarms.High + 1]int
	for i := range all {
		a := &all[i]
		if a.State > alarms.OutOfService || a.Priority > alarms.High {
			continue
		}
		n[a.State][a.Priority]++
		if a.StillAside() {
			aside[a.Priority]++
		}
		if i < maxAlarms {
			s.put(s.of.active, oneIf(a.Active), string(a.ID), string(a.House), string(a.Place), string(a.Quantity), a.Priority.String())
		}
	}
	for state := alarms.Unacknowledged; state <= alarms.OutOfService; state++ {
		for p := alarms.NoPriority; p <= alarms.High; p++ {
			if p != alarms.NoPriority || n[state][p] > 0 {
				s.put(s.of.alarms, float64(n[state][p]), state.String(), p.String())
			}
		}
	}
	for p := alarms.Low; p <= alarms.High; p++ {
		s.put(s.of.aside, float64(aside[p]), p.String())
	}
	s.put(s.of.unlisted, float64(max(0, len(all)-maxAlarms)))
}
