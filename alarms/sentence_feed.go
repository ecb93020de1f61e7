package alarms

import (
	"fmt"
	"math"
	"slices"

	"telltale/alarms/control"
)

// witness is the probe that tells of the power of the circuit that a is of; nil
// for none.
func (a *alarm) witness() *probe {
	if a.probe != nil || a.circuit == nil {
		return nil
	}
	for _, p := range a.house.places {
		for _, pr := range p.probes {
			if pr.circuit == a.circuit && pr.isWitness() {
				return pr
			}
		}
	}
	return nil
}

// feedSentence tells that a circuit with a witness lost its power.
func (e *Engine) feedSentence(a *alarm, t Transition, w *probe, ended bool) string {
	r, name := t.Reason, circuitName(a.circuit)
	switch {
	case ended && w.Out:
		return fmt.Sprintf("%s: nothing tells of the power of the %s any more: its witness, probe %s, was taken out of service.", a.where(), name, w.plan.Name)
	case ended && w.denied() != nil:
		return fmt.Sprintf("%s: whether the %s has power is not known: its witness, probe %s, says that it has none, but %s there %s heard.",
			a.where(), name, w.plan.Name, list(w.denied()), isOrAre(w.denied()))
	case ended:
		return fmt.Sprintf("%s: the %s has power again%s.", a.where(), name, after(r))
	}
	if r.Value != nil {
		shows := "shows " + e.plan.Words.Value(r.Quantity, *r.Value)
		if r.Quantity == Contact {
			shows = "shows an open contact"
		}
		alone := ""
		if w.contradicted() {
			alone = ", and nothing else there is heard any more"
		}
		return fmt.Sprintf("%s: the %s has lost power: its witness, probe %s, %s since %s%s.", a.where(), name, w.plan.Name, shows,
			e.plan.Words.Clock(r.Since, t.Due), alone)
	}
	silent := fmt.Sprintf("probe %s, has been silent since %s", w.plan.Name, e.plan.Words.Clock(r.Since, t.Due))
	if r.Since.IsZero() {
		silent = fmt.Sprintf("probe %s, has never been heard", w.plan.Name)
	}
	if len(r.Affected) > 1 {
		silent += fmt.Sprintf(", like all that hangs there (%s)", list(r.Affected))
	}
	others := ""
	for _, n := range a.house.nodes {
		if n.alarm == a && e.heardElsewhere(n) {
			others = " while other probes are heard"
		}
	}
	return fmt.Sprintf("%s: the %s has lost power, as it seems: its witness, %s%s.", a.where(), name, silent, others)
}

// nearLimit is how near a limit a temperature makes the power of a heater or a
// fan urgent, K. Common practice, no source.
const nearLimit = 3.0

// feedMeans says what is lost with a circuit, and what that means at this moment.
// It follows the sentence of that.
func (e *Engine) feedMeans(a *alarm) string {
	if a.rule != RuleSilent || a.circuit == nil || a.probe != nil || a.Condition == Within {
		return ""
	}
	out, n := "", a.house.feeds[a.circuit.ID]
	var fed []string
	for _, c := range a.house.plan.Circuits {
		if c.FedBy == a.circuit.ID {
			fed = append(fed, "the "+circuitName(&c))
		}
	}
	if len(fed) > 0 {
		out = fmt.Sprintf(" It feeds %s.", list(fed))
	}
	var names []string
	var stand []*Drive
	for i := range a.house.plan.Drives {
		if d := &a.house.plan.Drives[i]; a.house.rests(d, a.circuit) && !a.house.seenRunning(d, n) {
			names, stand = append(names, "the "+d.Name), append(stand, d)
		}
	}
	if len(names) == 0 {
		return out
	}
	with := " With it "
	if a.witness() == nil {
		with = " If so, with it "
	}
	out += with + standOrStands(names) + " " + list(names) + "."
	cold, hot := e.extremity(a.house)
	return out + means(cold, coldWords, a.house, stand) + means(hot, hotWords, a.house, stand)
}

func standOrStands(names []string) string {
	if len(names) == 1 {
		return "stands"
	}
	return "stand"
}

// rests reports whether d has its power through c.
func (h *house) rests(d *Drive, c *Circuit) bool { return c.powers(h.circuit(d.Circuit)) }

// seenRunning reports whether something that does not itself hang on n shows that
// d runs.
func (h *house) seenRunning(d *Drive, n *node) bool {
	for _, m := range h.mechanisms {
		i := m.indexOf(d.ID)
		if i < 0 || m.judge.Proof(i).State != control.Running {
			continue
		}
		for _, ev := range d.Evidence {
			st := m.engine.streams[streamKey{ev.Probe, ev.Quantity}]
			if st != nil && st.usable() && !h.under(st.probe, n) {
				return true
			}
		}
	}
	return false
}

// under reports whether p hangs on the circuit of n or on one that it feeds.
func (h *house) under(p *probe, n *node) bool {
	return n.alarm.circuit != nil && n.alarm.circuit.powers(p.circuit)
}

// extremity says how cold and how hot it is in h, where that is near a limit
// of a place or beyond it, or freezes outside; "" where not, or not known.
func (e *Engine) extremity(h *house) (cold, hot string) {
	w, low, high := e.plan.Words, nearLimit, nearLimit
	for _, p := range h.places {
		pt := p.point(Temperature)
		if pt == nil || !pt.banded || p == h.outside {
			continue
		}
		lo, hi, ok := pt.extremes()
		if l := pt.low.outermost(); ok && l.Set && lo-l.Value <= low {
			low, cold = lo-l.Value, fmt.Sprintf("It is %s at %s (the low limit is %s)", w.Value(Temperature, lo), p.plan.Name, w.Value(Temperature, l.Value))
		}
		if l := pt.high.outermost(); ok && l.Set && l.Value-hi <= high {
			high, hot = l.Value-hi, fmt.Sprintf("It is %s at %s (the high limit is %s)", w.Value(Temperature, hi), p.plan.Name, w.Value(Temperature, l.Value))
		}
	}
	if t := h.outsideNow(); cold == "" && !math.IsNaN(t) && t < control.Frosty {
		cold = fmt.Sprintf("It is %s outside", w.Value(Temperature, t))
	}
	return cold, hot
}

var (
	coldWords = map[DriveKind]string{Heater: "the %s does not heat", LoopFan: "the %s brings no warmth from the ground"}
	hotWords  = map[DriveKind]string{ExhaustFan: "the %s does not air it", IntakeShutter: "the %s does not move", LoopFan: "the %s does not cool it"}
)

// means says what of stand is missed while it is as extreme says, "" for nothing.
func means(extreme string, words map[DriveKind]string, h *house, stand []*Drive) string {
	var all []string
	for _, d := range stand {
		if word := words[d.Kind]; extreme != "" && word != "" && h.wantedNow(d) {
			all = append(all, fmt.Sprintf(word, d.Name))
		}
	}
	if len(all) == 0 {
		return ""
	}
	return " " + extreme + ": " + list(all) + "."
}

// wantedNow reports whether season and selectors let d run.
func (h *house) wantedNow(d *Drive) bool {
	return slices.ContainsFunc(h.mechanisms, func(m *mechanism) bool {
		w := m.want(d, m.engine.now)
		return m.indexOf(d.ID) >= 0 && (w.Wish == control.Follow || w.Wish == control.Run || w.Wish == control.ByTurns || w.Hours.On)
	})
}
