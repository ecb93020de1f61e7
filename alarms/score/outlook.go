package score

import (
	"time"

	"telltale/alarms"
	"telltale/alarms/outlook"
)

// Outlooks holds what package outlook would have said against what came, at each
// place with limits of its temperature, beside simple ways to warn. A place goes by
// its first probe.
type Outlooks struct {
	of    map[alarms.ProbeID]*lookout
	order []*lookout
	zone  *time.Location
}

// Outlook is what came of it at one place.
type Outlook struct {
	House    alarms.HouseID
	Place    alarms.PlaceID
	From, To time.Time // of its readings
	Limits   []Ahead
	// Relied is the mean say of each forecaster two hours ahead, of the highest.
	Relied [3]float64 // as outlook.Ahead.Weights
	Looks  int
	Lacked map[outlook.Lack]int // looks at which nothing could be said, by why
	Saved  int                  // bytes that what was learned takes
	Days   []Days               // how well the day and the night ahead were said
}

// Ahead is how one limit was warned of.
type Ahead struct {
	Side    alarms.Side
	Limit   float64  // the last that held
	Records []Record // the outlook's, then the yardsticks'
	Bins    [5]Bin   // by how likely it was said to be within two hours, in fifths
	Moments Moments
}

// Moments is how well a warning said when the limit would be reached, of those that
// came true within two hours.
type Moments struct {
	Of     int
	Inside int           // of them: between the moments said with 10 and 90 %
	Off    time.Duration // sum of how far from the middle
}

// Bin is how often a thing came that was said to be about so likely.
type Bin struct {
	Said float64 // sum of the likelihoods
	Of   int
	Came int
}

// lookout follows a place.
type lookout struct {
	Outlook
	course *outlook.Course
	days   *daysAhead
	limits []*warned
	looked time.Time
	seen   outlook.Outlook
	line   []point // of the last half hour
}

type point struct {
	at time.Time
	v  float64
}

// warned follows one limit of a place.
type warned struct {
	Ahead
	steps   []alarms.BandStep
	pick    func(alarms.Limits) alarms.Limit
	warning outlook.Warning
	waiting []said
	when    [3]time.Time // that the warning said with 10, 50 and 90 %; zero: no warning waits
}

// said is a likelihood of which it is not known yet whether it came true.
type said struct {
	at     time.Time
	likely float64
}

// picks are the limits of a side.
var picks = []struct {
	side alarms.Side
	of   func(alarms.Limits) alarms.Limit
}{
	{alarms.HighSide, func(l alarms.Limits) alarms.Limit { return l.High }},
	{alarms.HighSide, func(l alarms.Limits) alarms.Limit { return l.HighHigh }},
	{alarms.LowSide, func(l alarms.Limits) alarms.Limit { return l.Low }},
	{alarms.LowSide, func(l alarms.Limits) alarms.Limit { return l.LowLow }},
}

// NewOutlooks begins for readings from one time to another.
func NewOutlooks(p alarms.Plan, from, to time.Time) *Outlooks {
	p = p.Filled()
	o := &Outlooks{of: map[alarms.ProbeID]*lookout{}, zone: p.Words.Zone}
	for i := range p.Houses {
		h := &p.Houses[i]
		course := h.Course(nil, from, to.Add(time.Second))
		for j := range h.Places {
			o.place(h, &h.Places[j], course)
		}
	}
	return o
}

func (o *Outlooks) place(h *alarms.House, p *alarms.Place, course []alarms.Held) {
	l := &lookout{course: outlook.New(h.Latitude, h.Longitude), days: newDaysAhead(h.Latitude, h.Longitude, o.zone), Outlook: Outlook{House: h.ID, Place: p.ID, Lacked: map[outlook.Lack]int{}}}
	steps := p.Steps(alarms.Temperature, course)
	for _, pick := range picks {
		for _, s := range steps {
			if pick.of(s.Limits).Set {
				l.limits = append(l.limits, newWarned(pick.side, pick.of, steps))
				break
			}
		}
	}
	for _, pr := range p.Probes {
		if len(l.limits) > 0 && pr.Gives(alarms.Temperature) {
			o.of[pr.ID], o.order = l, append(o.order, l)
			return
		}
	}
}

func newWarned(side alarms.Side, of func(alarms.Limits) alarms.Limit, steps []alarms.BandStep) *warned {
	return &warned{pick: of, steps: steps, Ahead: Ahead{Side: side,
		Records: []Record{{Who: "outlook"}, {Who: "limit less 1 K"}, {Who: "straight on for an hour"}}}}
}

// Reading takes one reading that was judged.
func (o *Outlooks) Reading(at time.Time, probe alarms.ProbeID, q alarms.Quantity, v float64) {
	l := o.of[probe]
	if l == nil || q != alarms.Temperature || !l.To.IsZero() && !at.After(l.To) {
		return
	}
	if l.From.IsZero() {
		l.From = at
	}
	l.To = at
	l.course.Reading(at, v)
	l.days.reading(at, v)
	if at.Sub(l.looked) >= time.Minute {
		l.look(at)
	}
	l.line = append(l.line, point{at, v})
	for len(l.line) > 2 && at.Sub(l.line[0].at) > 30*time.Minute {
		l.line = l.line[1:]
	}
	for _, w := range l.limits {
		w.step(at, v, l)
	}
}

func (l *lookout) look(at time.Time) {
	l.looked, l.seen = at, l.course.Look(at)
	l.Looks++
	if l.seen.Lacks != outlook.Nothing {
		l.Lacked[l.seen.Lacks]++
		return
	}
	for i, w := range l.seen.Sides[outlook.Highest][len(outlook.Horizons)-1].Weights {
		l.Relied[i] += w
	}
}

// step goes by the limit that holds now.
func (w *warned) step(at time.Time, v float64, l *lookout) {
	for len(w.steps) > 1 && !at.Before(w.steps[0].To) {
		w.steps = w.steps[1:]
	}
	limit := w.pick(w.steps[0].Limits)
	if !limit.Set {
		return
	}
	w.Limit = limit.Value
	side, sign := outlook.Highest, 1.0
	if w.Side == alarms.LowSide {
		side, sign = outlook.Lowest, -1
	}
	reached := sign*v >= sign*limit.Value
	p := l.seen.Reach(side, limit.Value)
	likely, stood := p[len(p)-1], w.warning.On
	w.warning.Step(at, l.seen.Chance(side, limit.Value), reached)
	if w.warning.On && !stood {
		for i, share := range [3]float64{0.1, 0.5, 0.9} {
			w.when[i] = at.Add(l.seen.When(side, limit.Value, share))
		}
	}
	if reached {
		w.Moments.take(at, &w.when)
	}
	first := l.line[0]
	hour := v + (v-first.v)*time.Hour.Hours()/max(at.Sub(first.at).Hours(), 0.25)
	for i, warns := range []bool{w.warning.On, sign*v >= sign*limit.Value-1, sign*hour >= sign*limit.Value} {
		w.Records[i].step(at, reached, warns)
	}
	w.wait(at, likely, reached, l)
}

// take holds the moment at which the limit was reached against what was said.
func (m *Moments) take(at time.Time, when *[3]time.Time) {
	if !when[0].IsZero() && at.Sub(when[2]) <= counted {
		m.Of++
		m.Off += at.Sub(when[1]).Abs()
		if !at.Before(when[0]) && !at.After(when[2]) {
			m.Inside++
		}
	}
	*when = [3]time.Time{}
}

// wait holds what was said against what comes within two hours.
func (w *warned) wait(at time.Time, likely float64, reached bool, l *lookout) {
	for len(w.waiting) > 0 && (reached || at.Sub(w.waiting[0].at) > counted) {
		s := w.waiting[0]
		w.waiting = w.waiting[1:]
		b := &w.Bins[min(int(5*s.likely), 4)]
		b.Of++
		b.Said += s.likely
		if reached && at.Sub(s.at) <= counted {
			b.Came++
		}
	}
	const apart = 5 * time.Minute // enough: what is said changes slowly
	if n := len(w.waiting); !reached && l.seen.Lacks == outlook.Nothing && (n == 0 || at.Sub(w.waiting[n-1].at) >= apart) {
		w.waiting = append(w.waiting, said{at, likely})
	}
}

// Sum is what came of it so far.
func (o *Outlooks) Sum() (out []Outlook) {
	for _, l := range o.order {
		sum := l.Outlook
		for i := range sum.Relied {
			sum.Relied[i] /= float64(max(1, sum.Looks-sum.Lacked[outlook.Days]-sum.Lacked[outlook.Hour]-sum.Lacked[outlook.Often]))
		}
		for _, w := range l.limits {
			sum.Limits = append(sum.Limits, w.Ahead)
		}
		sum.Days = l.days.sums[:]
		sum.Saved = len(l.course.Save()) + len(l.days.course.Save())
		out = append(out, sum)
	}
	return out
}
