package alarms

import (
	"fmt"
	"slices"
	"strings"
)

func (e *Engine) silentSentence(a *alarm, t Transition, ended bool) string {
	r := t.Reason
	what := fmt.Sprintf("probe %s", a.name())
	switch {
	case a.quantity != "":
		what = fmt.Sprintf("the %s of probe %s", a.quantity.Word(), a.name())
	case a.probe == nil && a.circuit != nil:
		what = fmt.Sprintf("the %s (%s)", circuitName(a.circuit), list(r.Affected))
	case a.probe == nil:
		what = fmt.Sprintf("the whole house (%s)", list(r.Affected))
	}
	if w := a.witness(); w != nil {
		return e.feedSentence(a, t, w, ended)
	}
	if ended {
		return fmt.Sprintf("%s: %s is heard again%s.", a.where(), what, after(r))
	}
	since := "has never been heard"
	if !r.Since.IsZero() {
		since = "has been silent since " + e.plan.Words.Clock(r.Since, t.Due)
	}
	if a.probe != nil {
		every := ""
		if r.Interval > 0 {
			every = fmt.Sprintf("; due every %s", Span(r.Interval))
		}
		return fmt.Sprintf("%s: %s %s%s.", a.where(), what, since, every)
	}
	s := fmt.Sprintf("%s: %s %s.", a.where(), what, since)
	if a.circuit != nil { // what hangs on it follows
		return s + a.together(t)
	}
	return s
}

// together says what the silence of a whole circuit or house most likely means.
func (a *alarm) together(t Transition) string {
	together := " Its probes fell silent together"
	if how := a.silence.why().Note; how != "" { // that of t's reason may be what a person said
		together = " Its probes fell silent " + how
	}
	if t.Reason.Since.IsZero() {
		together = " None of its probes reported"
	}
	if a.circuit != nil {
		return together + ": the circuit may have lost power (breaker or ground-fault device tripped)."
	}
	return together + ": the house may have lost its power or its network."
}

// circuitName says "circuit" unless the name does.
func circuitName(c *Circuit) string {
	if strings.Contains(strings.ToLower(c.Name), "circuit") {
		return c.Name
	}
	return "circuit " + c.Name
}

// name is that of the probe, "" for an alarm of no single probe.
func (a *alarm) name() string {
	if a.probe == nil {
		return ""
	}
	return a.probe.plan.Name
}

func (e *Engine) darkSentence(a *alarm, t Transition, ended bool) string {
	r := t.Reason
	if ended {
		return fmt.Sprintf("%s: watched again%s.", a.where(), after(r))
	}
	words := quantityList(r.Quantities)
	s := a.where() + " is unwatched"
	if len(words) > 0 && len(words) < len(a.place.watched) { // the rest of the place is seen
		s += " for " + list(words)
	}
	if why := e.troubleWords(a.place); len(why) > 0 {
		return s + ": " + list(why) + "."
	}
	return s + ": no limit there can be checked."
}

func quantityList(qs []Quantity) []string {
	var words []string
	for _, q := range qs {
		words = append(words, q.Word())
	}
	return words
}

func isOrAre(names []string) string {
	if len(names) == 1 {
		return "is"
	}
	return "are"
}

// troubleWords says what ails the probes of a dark place.
func (e *Engine) troubleWords(p *place) []string {
	var all []string
	for _, pr := range p.probes {
		switch {
		case pr.Out:
			all = append(all, fmt.Sprintf("probe %s is out of service", pr.plan.Name))
		case pr.node.silent():
			r := pr.node.why()
			if r.Since.IsZero() {
				all = append(all, fmt.Sprintf("probe %s has never been heard", pr.plan.Name))
				continue
			}
			all = append(all, fmt.Sprintf("probe %s has been silent since %s", pr.plan.Name,
				e.plan.Words.Clock(r.Since, e.wall(e.now))))
		default:
			all = append(all, e.silentStreams(pr)...)
			for _, st := range pr.streams {
				for _, f := range st.Faults.names() {
					what := fmt.Sprintf("probe %s %s", pr.plan.Name, e.faultWords(f, pr.whyFault(f, e.now), e.now))
					if blinding(f) && !slices.Contains(all, what) {
						all = append(all, what)
					}
				}
			}
		}
	}
	return all
}

// silentStreams says which quantities of a probe that is heard are missing.
func (e *Engine) silentStreams(pr *probe) []string {
	var all []string
	for _, st := range pr.streams {
		if st.leaf && st.Silent {
			all = append(all, fmt.Sprintf("no %s from probe %s since %s", st.plan.Quantity.Word(), pr.plan.Name,
				e.plan.Words.Clock(e.wall(max(st.Heard, st.Base)), e.wall(e.now))))
		}
	}
	return all
}

func (e *Engine) faultSentence(a *alarm, t Transition, ended bool) string {
	r := t.Reason
	if a.probe == nil { // siblings disagree
		return e.disagreeSentence(a, t, ended)
	}
	f := r.Fault
	if ended && f == FaultWitness && a.probe.gone() {
		return fmt.Sprintf("%s: probe %s, which %s, is believed: nothing else there is heard any more%s.", a.where(), a.name(), faultPast[f], after(r))
	}
	if ended {
		return fmt.Sprintf("%s: probe %s, which %s, is sound again%s.", a.where(), a.name(), faultPast[f], after(r))
	}
	return fmt.Sprintf("%s: probe %s %s.", a.where(), a.name(), e.faultWords(f, r, at(t.Due)))
}

// faultFurther says what becomes of the readings of a probe that is not well.
func (a *alarm) faultFurther(r Reason) string {
	switch f := r.Fault; {
	case a.probe == nil || !blinding(f):
		return ""
	case f == FaultGarbled && len(r.Quantities) > 0:
		return " What else it measures is used."
	case doubts[f] != "":
		return " Within its limits it is not used; beyond one it is told of as doubted."
	}
	return " Its readings are not used."
}

func blinding(f Fault) bool {
	for n, name := range faultNames {
		if name == f {
			return faultSet(1 << n).sick()
		}
	}
	return false
}

// faultPast follow "probe bench-1, which".
var faultPast = map[Fault]string{
	FaultRange: "was out of its range", FaultValue: "gave a value of failure", FaultStuck: "was stuck",
	FaultSpikes: "jumped about", FaultPinned: "showed 100 % for hours", FaultGarbled: "could not be read",
	FaultOutlier: "differed from its neighbours", FaultClock: "had a wrong clock", FaultBattery: "had a low battery",
	FaultSignal: "had a weak signal", FaultWitness: "was doubted as the witness of its circuit",
}

// faultWords says what shows fault f, to follow "probe bench-1".
func (e *Engine) faultWords(f Fault, r Reason, now instant) string {
	w := e.plan.Words
	value := "a value"
	if r.Value != nil {
		value = w.Value(r.Quantity, *r.Value)
	}
	switch f {
	case FaultRange:
		return "gives " + subject(r.Quantity) + value + ", outside what its sensor can measure"
	case FaultValue:
		return fmt.Sprintf("gives exactly %s, a sign of failure", value)
	case FaultStuck:
		return fmt.Sprintf("has given the same %s (%s) since %s", r.Quantity.Word(), value, w.Clock(r.Since, e.wall(now)))
	case FaultSpikes:
		return fmt.Sprintf("gives %s values that jump and do not hold", r.Quantity.Word())
	case FaultPinned:
		return fmt.Sprintf("has shown full humidity since %s, or is wet",
			w.Clock(r.Since, e.wall(now)))
	case FaultGarbled:
		if len(r.Quantities) > 0 {
			return fmt.Sprintf("sends no readable %s (%s)", list(quantityList(r.Quantities)), list(r.Affected))
		}
		return fmt.Sprintf("sends what cannot be read (%s)", list(r.Affected))
	case FaultOutlier:
		return fmt.Sprintf("differs from its neighbours in %s (it says %s)", r.Quantity.Word(), value)
	case FaultClock:
		return "has a wrong clock" + clockWords(r)
	case FaultBattery:
		return fmt.Sprintf("has a battery at %s", value)
	case FaultWitness:
		if r.Quantity == Contact {
			value = "an open contact"
		}
		return fmt.Sprintf("has shown %s since %s, as if its circuit had no power, while %s there %s heard: it is wrong, or what is heard has a supply of its own",
			value, w.Clock(r.Since, e.wall(now)), list(r.Affected), isOrAre(r.Affected))
	case FaultSignal:
		return fmt.Sprintf("has a weak radio signal (%s)", value)
	}
	return string(f)
}

func clockWords(r Reason) string {
	if r.Value == nil {
		return ""
	}
	d, word := *r.Value, "ahead"
	if d < 0 {
		d, word = -d, "behind"
	}
	return fmt.Sprintf(" (%s %s)", Span(seconds(d)), word)
}

func (e *Engine) disagreeSentence(a *alarm, t Transition, ended bool) string {
	r, q := t.Reason, a.quantity
	if ended {
		return fmt.Sprintf("%s: its probes agree again on %s%s.", a.where(), q.Word(), after(r))
	}
	if r.Value == nil || r.Limit == nil {
		return fmt.Sprintf("%s: its probes disagreed on %s when they were last seen.", a.where(), q.Word())
	}
	return fmt.Sprintf("%s: probes %s differ by %s in %s since %s (limit %s): one may be wrong, or hang in sun or draught.", a.where(),
		list(r.Affected), e.plan.Words.Distance(q, *r.Value), q.Word(),
		e.plan.Words.Clock(r.Since, t.Due), e.plan.Words.Distance(q, *r.Limit))
}
