package say

import (
	"fmt"
	"slices"
	"time"

	"telltale/alarms"
)

func (n *telling) silent(ended bool) string {
	r, o := n.r, n.o
	what := fmt.Sprintf("probe %s", n.probe(o.Probe))
	switch {
	case o.Quantity != "":
		what = fmt.Sprintf("the %s of probe %s", n.Word(o.Quantity), n.probe(o.Probe))
	case o.Probe == "" && o.Circuit != "":
		what = fmt.Sprintf("the %s (%s)", n.circuit(n.h, o.Circuit), alarms.List(r.Affected))
	case o.Probe == "":
		what = fmt.Sprintf("the whole house (%s)", alarms.List(r.Affected))
	}
	if n.f.Witness != nil {
		return feed{n}.power(n.f.Witness, ended)
	}
	if ended {
		return fmt.Sprintf("%s: %s is heard again%s.", n.where(o), what, n.after())
	}
	since := "has never been heard"
	if !r.Since.IsZero() {
		since = "has been silent since " + n.Clock(r.Since, n.Due)
	}
	if o.Probe != "" {
		every := ""
		if r.Interval > 0 {
			every = fmt.Sprintf("; due every %s", n.Span(r.Interval))
		}
		return fmt.Sprintf("%s: %s %s%s.", n.where(o), what, since, every)
	}
	s := fmt.Sprintf("%s: %s %s.", n.where(o), what, since)
	if o.Circuit != "" { // what hangs on it follows
		return s + n.together()
	}
	return s
}

// together says what the silence of a whole circuit or house most likely means.
func (n *telling) together() string {
	together := " Its probes fell silent together"
	if n.f.Together != "" {
		together = " Its probes fell silent " + n.f.Together
	}
	if n.r.Since.IsZero() {
		together = " None of its probes reported"
	}
	if n.o.Circuit != "" {
		return together + ": the circuit may have lost power (breaker or ground-fault device tripped)."
	}
	return together + ": the house may have lost its power or its network."
}

func (n *telling) unwatched(ended bool) string {
	if ended {
		return fmt.Sprintf("%s: watched again%s.", n.where(n.o), n.after())
	}
	s := n.where(n.o) + " is unwatched"
	if n.f.Partly && len(n.r.Quantities) > 0 {
		s += " for " + alarms.List(n.words(n.r.Quantities))
	}
	var why []string
	for i := range n.f.Ails {
		if words := n.ails(&n.f.Ails[i]); !slices.Contains(why, words) {
			why = append(why, words)
		}
	}
	if len(why) > 0 {
		return s + ": " + alarms.List(why) + "."
	}
	return s + ": no limit there can be checked."
}

// ails says what ails a probe of a dark place.
func (n *telling) ails(a *alarms.Ailment) string {
	name := n.probe(a.Probe)
	switch {
	case a.How == alarms.AilsOut:
		return fmt.Sprintf("probe %s is out of service", name)
	case a.How == alarms.AilsSilent && a.Since.IsZero():
		return fmt.Sprintf("probe %s has never been heard", name)
	case a.How == alarms.AilsSilent:
		return fmt.Sprintf("probe %s has been silent since %s", name, n.Clock(a.Since, n.Noticed))
	case a.How == alarms.AilsMissing:
		return fmt.Sprintf("no %s from probe %s since %s", n.Word(a.Quantity), name, n.Clock(a.Since, n.Noticed))
	}
	return fmt.Sprintf("probe %s %s", name, n.faulty(a.Why, n.Noticed))
}

func (n *telling) fault(ended bool) string {
	if n.o.Probe == "" {
		return n.disagree(ended)
	}
	f, where, name := n.r.Fault, n.where(n.o), n.probe(n.o.Probe)
	switch {
	case ended && f == alarms.FaultWitness && n.f.Believed:
		return fmt.Sprintf("%s: probe %s, which %s, is believed: nothing else there is heard any more%s.", where, name, faultPast[f], n.after())
	case ended:
		return fmt.Sprintf("%s: probe %s, which %s, is sound again%s.", where, name, faultPast[f], n.after())
	}
	return fmt.Sprintf("%s: probe %s %s.", where, name, n.faulty(n.r, n.Due))
}

// faultFurther says what becomes of the readings of a probe that is not well.
func (n *telling) faultFurther() string {
	switch f := n.r.Fault; {
	case n.o.Probe == "" || !f.Blinds():
		return ""
	case f == alarms.FaultGarbled && len(n.r.Quantities) > 0:
		return " What else it measures is used."
	case doubts[f] != "":
		return " Within its limits it is not used; beyond one it is told of as doubted."
	}
	return " Its readings are not used."
}

// faultPast follow "probe bench-1, which".
var faultPast = map[alarms.Fault]string{
	alarms.FaultRange: "was out of its range", alarms.FaultValue: "gave a value of failure", alarms.FaultStuck: "was stuck",
	alarms.FaultSpikes: "jumped about", alarms.FaultPinned: "showed 100 % for hours", alarms.FaultGarbled: "could not be read",
	alarms.FaultOutlier: "differed from its neighbours", alarms.FaultClock: "had a wrong clock", alarms.FaultBattery: "had a low battery",
	alarms.FaultSignal: "had a weak signal", alarms.FaultWitness: "was doubted as the witness of its circuit",
}

// faulty says what shows the fault of r, to follow "probe bench-1".
func (n *telling) faulty(r *alarms.Reason, now time.Time) string {
	if r == nil {
		return "is not to be believed"
	}
	value := "a value"
	if r.Value != nil {
		value = n.Value(r.Quantity, *r.Value)
	}
	switch r.Fault {
	case alarms.FaultRange:
		return "gives " + n.subject(r.Quantity) + value + ", outside what its sensor can measure"
	case alarms.FaultValue:
		return fmt.Sprintf("gives exactly %s, a sign of failure", value)
	case alarms.FaultStuck:
		return fmt.Sprintf("has given the same %s (%s) since %s", n.Word(r.Quantity), value, n.Clock(r.Since, now))
	case alarms.FaultSpikes:
		return fmt.Sprintf("gives %s values that jump and do not hold", n.Word(r.Quantity))
	case alarms.FaultPinned:
		return fmt.Sprintf("has shown full humidity since %s, or is wet", n.Clock(r.Since, now))
	case alarms.FaultGarbled:
		if len(r.Quantities) > 0 {
			return fmt.Sprintf("sends no readable %s (%s)", alarms.List(n.words(r.Quantities)), alarms.List(r.Affected))
		}
		return fmt.Sprintf("sends what cannot be read (%s)", alarms.List(r.Affected))
	case alarms.FaultOutlier:
		return fmt.Sprintf("differs from its neighbours in %s (it says %s)", n.Word(r.Quantity), value)
	case alarms.FaultClock:
		return "has a wrong clock" + n.clockOff(r)
	case alarms.FaultBattery:
		return fmt.Sprintf("has a battery at %s", value)
	case alarms.FaultWitness:
		if r.Quantity == alarms.Contact {
			value = "an open contact"
		}
		return fmt.Sprintf("has shown %s since %s, as if its circuit had no power, while %s there %s heard: it is wrong, or what is heard has a supply of its own",
			value, n.Clock(r.Since, now), alarms.List(r.Affected), isOrAre(r.Affected))
	case alarms.FaultSignal:
		return fmt.Sprintf("has a weak radio signal (%s)", value)
	}
	return string(r.Fault)
}

func (m Locale) clockOff(r *alarms.Reason) string {
	if r.Value == nil {
		return ""
	}
	d, word := *r.Value, "ahead"
	if d < 0 {
		d, word = -d, "behind"
	}
	return fmt.Sprintf(" (%s %s)", m.Span(seconds(d)), word)
}

func (n *telling) disagree(ended bool) string {
	r, q, where := n.r, n.o.Quantity, n.where(n.o)
	if ended {
		return fmt.Sprintf("%s: its probes agree again on %s%s.", where, n.Word(q), n.after())
	}
	if r.Value == nil || r.Limit == nil {
		return fmt.Sprintf("%s: its probes disagreed on %s when they were last seen.", where, n.Word(q))
	}
	return fmt.Sprintf("%s: probes %s differ by %s in %s since %s (limit %s): one may be wrong, or hang in sun or draught.", where,
		alarms.List(r.Affected), n.Distance(q, *r.Value), n.Word(q), n.Clock(r.Since, n.Due), n.Distance(q, *r.Limit))
}
