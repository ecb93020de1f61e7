package page

import (
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
)

// houseView is a house on the front page, drawn where its form is known.
func (s *Server) houseView(w words, h alarms.HousePicture, now time.Time) houseView {
	v := w.house(h, now)
	vents := ventsOf(h)
	v.Vents = &vents
	v.ProbeSum = probeSum(v.Probes)
	if h.Daypart != alarms.Always {
		v.Sky = h.Daypart.String()
	}
	if s.tends() {
		v.ProbesAt = "/probes"
	}
	points := map[string]pointView{}
	for _, pl := range v.Places {
		for _, pt := range pl.Points {
			points[pt.Anchor] = pt
		}
	}
	v.Section = s.arranged.sectionOf(w, s.options.Forms, h, points)
	return v
}

// probeSum says in one line how the probes of a house are.
func probeSum(probes []probeView) string {
	ill, out := 0, 0
	for _, p := range probes {
		switch {
		case p.Out:
			out++
		case p.State != "" || !p.Ever || len(p.Faults) > 0:
			ill++
		}
	}
	say := func(n int, one, many string) string {
		if n == 1 {
			return "One probe " + one
		}
		return fmt.Sprintf("%d probes %s", n, many)
	}
	switch {
	case len(probes) == 0:
		return ""
	case ill == 0 && out == 0:
		return say(len(probes), "watches, and it is heard.", "watch, and all are heard.")
	case ill == 0:
		return say(out, "is", "are") + fmt.Sprintf(" out of service, of %d.", len(probes))
	case out == 0:
		return say(ill, "needs", "need") + fmt.Sprintf(" a look, of %d.", len(probes))
	}
	return say(ill, "needs", "need") + fmt.Sprintf(" a look and %d out of service, of %d.", out, len(probes))
}

// worstMark is the mark of the whole garden: what is worst of its houses and
// of the open alarms that are of none.
func worstMark(v *frontView) string {
	ranks := []string{"none", "unknown", "low", "medium", "high"}
	worst := 0
	take := func(mark string) { worst = max(worst, slices.Index(ranks, mark)) }
	for _, h := range v.Houses {
		take(h.Worst)
	}
	for _, a := range v.Alarms.Open {
		take(a.Priority)
	}
	if len(v.Houses) == 0 || !v.Top.Heard || !v.Top.Reached || v.Top.Still != "" {
		take("unknown")
	}
	return ranks[worst]
}
