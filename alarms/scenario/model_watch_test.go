package scenario_test

import (
	"cmp"
	"math"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
)

// predict lives through the inputs second by second and returns what an
// engine should have said, sorted by time and alarm. The inputs are in order
// and at whole seconds; the plan has given every default.
func predict(plan alarms.Plan, inputs []alarms.Input) []noted {
	b := &box{plan: plan}
	w := &watching{box: b, start: inputs[0].At}
	w.link = b.add("watch/broker/silent", fixed(alarms.High))
	w.restart = b.add("watch/restart", fixed(alarms.Low))
	for i := range plan.Houses {
		w.houses = append(w.houses, newGreenhouse(b, &plan.Houses[i], w.start))
	}
	second := 0
	for i, in := range inputs {
		for at := w.second(in.At); second < at; {
			second++
			w.passes(second)
		}
		w.takes(second, in)
		if i+1 < len(inputs) && inputs[i+1].Kind == alarms.RestartMarker {
			w.blind(second)
			w.awayTo = w.second(inputs[i+1].At)
		}
	}
	slices.SortStableFunc(b.log, func(x, y noted) int {
		return cmp.Or(x.due-y.due, strings.Compare(string(x.alarm), string(y.alarm)))
	})
	return b.log
}

// watching is the model of the whole watch.
type watching struct {
	*box
	start   time.Time
	houses  []*greenhouse
	link    *card
	restart *card
	down    bool
	told    bool // that the link is down
	since   int
	away    int // since this second the watch is not running
	ears    ears
	losses  []int // seconds of the losses of the link of late
	fickle  bool  // it comes and goes
	held    int   // since this second it is up
}

// ears is whether anything can be heard, second by second.
type ears struct {
	deaf  bool
	from  int   // since when, if it is
	mute  bool  // and whoever would say so was put aside
	since int   // when that ended last
	all   []int // seconds heard, up to each second
}

// heard counts the seconds from..to in which something could be heard.
func (e *ears) heard(from, to int) int { return e.upTo(to) - e.upTo(from) }

func (e *ears) upTo(t int) int {
	for len(e.all) <= t { // so far
		n := 0
		if len(e.all) > 0 {
			n = e.all[len(e.all)-1]
			if !e.deaf {
				n++
			}
		}
		e.all = append(e.all, n)
	}
	return e.all[t]
}

func (e *ears) listen(t int, deaf bool) {
	e.upTo(t)
	if e.deaf && !deaf {
		e.since = t
	}
	if deaf && !e.deaf {
		e.from = t
	}
	e.deaf = deaf
}

func (w *watching) second(t time.Time) int { return int(t.Sub(w.start) / time.Second) }

func (w *watching) passes(t int) {
	w.ears.upTo(t)
	if w.down && !w.told && t == w.since+int(w.plan.Link.Delay.Seconds()) {
		w.sayLost(t)
	}
	if w.fickle && !w.down && t == w.held+300 {
		w.fickle, w.losses = false, nil
		w.sayFound(t)
	}
	w.due(w.link, t)
	w.weigh(t)
	for _, g := range w.houses {
		g.passes(t, &w.ears, w.linkSays())
	}
}

// linkSays reports whether the broker's alarm says that nobody is heard.
func (w *watching) linkSays() bool { return w.told && !w.link.aside() }

// weigh sees whether the houses must say themselves that nobody is heard.
func (w *watching) weigh(t int) {
	if w.ears.mute = w.down && w.told && w.link.aside() && t >= w.awayTo; w.ears.mute {
		for _, g := range w.houses {
			g.misses(t, &w.ears, w.linkSays())
		}
	}
}

func (w *watching) sayLost(t int) {
	w.told = true
	w.box.now(w.link, t, alarms.Outer, false)
	for _, g := range w.houses {
		g.sayWhoIsMissing(t, w.linkSays())
	}
}

func (w *watching) sayFound(t int) {
	w.told = false
	w.box.now(w.link, t, alarms.Within, false)
	for _, g := range w.houses {
		g.sayWhoIsMissing(t, false)
	}
}

// blind is the moment after which the watch does not run: what was seen before
// is of the past.
func (w *watching) blind(t int) {
	w.away = t
	for _, g := range w.houses {
		g.known, g.heard, g.odd = false, math.NaN(), math.NaN()
		g.doubt(t)
	}
	w.ears.listen(t, true)
}

func (w *watching) takes(t int, in alarms.Input) {
	switch in.Kind {
	case alarms.ReadingIn:
		for _, g := range w.houses {
			if g.probe.ID == in.Probe {
				g.message(t, in, w.linkSays())
			}
		}
	case alarms.LinkDown:
		if w.down {
			return
		}
		w.linkDown(t)
	case alarms.LinkUp:
		w.linkUp(t)
	case alarms.RestartMarker:
		w.ears.listen(t, w.down)
		w.weigh(t)
		if t > w.away {
			w.refuse(w.restart, t)
		}
	case alarms.SetSeason:
		for _, g := range w.houses {
			if g.house.ID == in.House && in.Season != g.now.season {
				g.change(t, in.Season, g.part.now, w.ears.deaf)
				w.refuse(g.season, t)
			}
		}
	case alarms.Tick:
	default:
		w.act(t, in)
	}
}

func (w *watching) linkUp(t int) {
	if !w.down {
		return
	}
	w.down, w.held = false, t
	w.ears.listen(t, false)
	if !w.fickle {
		w.sayFound(t)
	}
}

func (w *watching) linkDown(t int) {
	w.down, w.since = true, t
	w.ears.listen(t, true)
	w.weigh(t)
	for _, g := range w.houses {
		g.doubt(t)
	}
	var late []int
	for _, at := range append(w.losses, t) {
		if t-at <= 600 {
			late = append(late, at)
		}
	}
	if w.losses = late; len(late) >= 3 && !w.told {
		w.fickle = true
		w.sayLost(t)
	}
}

func (w *watching) act(t int, in alarms.Input) {
	for _, g := range w.houses {
		if in.Probe == g.probe.ID {
			g.serve(t, in.Kind == alarms.TakeOut, &w.ears, w.linkSays())
		}
	}
	for _, c := range w.cards {
		if c.id == in.Alarm || in.Kind == alarms.Acknowledge && in.Alarm == "" {
			until := 0
			if !in.Until.IsZero() {
				until = w.second(in.Until)
			}
			w.person(c, t, in.Kind, until)
		}
	}
	w.weigh(t)
	for _, g := range w.houses {
		g.sayWhoIsMissing(t, w.linkSays())
	}
}
