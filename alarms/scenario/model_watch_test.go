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
}

func (w *watching) second(t time.Time) int { return int(t.Sub(w.start) / time.Second) }

func (w *watching) passes(t int) {
	if w.down && !w.told && t == w.since+int(w.plan.Link.Delay.Seconds()) {
		w.told = true
		w.box.now(w.link, t, alarms.Outer, false)
		for _, g := range w.houses {
			g.sayWhoIsMissing(t, true)
		}
	}
	w.due(w.link, t)
	for _, g := range w.houses {
		g.passes(t, !w.down, w.told)
	}
}

// blind is the moment after which the watch does not run: nothing seen before
// counts any more, and nothing is awaited.
func (w *watching) blind(t int) {
	w.away = t
	for _, g := range w.houses {
		g.deadline, g.known, g.heard = 0, false, math.NaN()
		g.doubt(t, true)
	}
}

func (w *watching) takes(t int, in alarms.Input) {
	switch in.Kind {
	case alarms.ReadingIn:
		for _, g := range w.houses {
			if g.probe.ID == in.Probe {
				g.message(t, in, w.told)
			}
		}
	case alarms.LinkDown:
		if w.down {
			return
		}
		w.down, w.since = true, t
		for _, g := range w.houses {
			g.deadline = 0
			g.doubt(t, false)
		}
	case alarms.LinkUp:
		w.linkUp(t)
	case alarms.RestartMarker:
		for _, g := range w.houses {
			if !g.silent && !g.out && !w.down {
				g.await(t)
			}
		}
		if t > w.away {
			w.refuse(w.restart, t)
		}
	case alarms.SetSeason:
		for _, g := range w.houses {
			if g.house.ID == in.House && in.Season != g.now.season {
				g.change(t, in.Season, g.part.now)
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
	w.down, w.told = false, false
	w.box.now(w.link, t, alarms.Within, false)
	for _, g := range w.houses {
		if !g.silent && !g.out {
			g.await(t)
		}
		g.sayWhoIsMissing(t, false)
	}
}

func (w *watching) act(t int, in alarms.Input) {
	for _, g := range w.houses {
		if in.Probe == g.probe.ID {
			g.serve(t, in.Kind == alarms.TakeOut, w.told)
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
}
