package say

import (
	"slices"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

func (n *telling) silent(ended bool) string {
	r, o := n.r, n.o
	what := n.say("probe %s", n.probe(o.Probe))
	switch {
	case o.Quantity != "":
		what = n.say("the %s of probe %s", n.Word(o.Quantity), n.probe(o.Probe))
	case o.Probe == "" && o.Circuit != "":
		what = n.say("the %s (%s)", n.circuit(n.h, o.Circuit), n.list(r.Affected))
	case o.Probe == "":
		what = n.say("the whole house (%s)", n.list(r.Affected))
	}
	if n.f.Witness != nil {
		return feed{n}.power(n.f.Witness, ended)
	}
	if ended {
		return n.say("%s: %s is heard again%s.", n.where(o), what, n.after())
	}
	since := n.say("has never been heard")
	if !r.Since.IsZero() {
		since = n.say("has been silent since %s", n.Clock(r.Since, n.Due))
	}
	if o.Probe != "" {
		every := ""
		if r.Interval > 0 {
			every = n.say("; due every %s", n.Span(r.Interval))
		}
		return n.say("%s: %s %s%s.", n.where(o), what, since, every)
	}
	s := n.say("%s: %s %s.", n.where(o), what, since)
	if o.Circuit != "" { // what hangs on it follows
		return s + n.together()
	}
	return s
}

// together says what the silence of a whole circuit or house most likely means.
func (n *telling) together() string {
	together := n.say(" Its probes fell silent together")
	if n.f.Together != "" {
		together = n.say(" Its probes fell silent one after another")
	}
	if n.r.Since.IsZero() {
		together = n.say(" None of its probes reported")
	}
	if n.o.Circuit != "" {
		return n.say("%s: the circuit may have lost power (breaker or ground-fault device tripped).", together)
	}
	return n.say("%s: the house may have lost its power or its network.", together)
}

func (n *telling) unwatched(ended bool) string {
	if ended {
		return n.say("%s: watched again%s.", n.where(n.o), n.after())
	}
	s := n.say("%s is unwatched", n.where(n.o))
	if n.f.Partly && len(n.r.Quantities) > 0 {
		s += n.say(" for %s", n.list(n.words(n.r.Quantities)))
	}
	var why []string
	for i := range n.f.Ails {
		if words := n.ails(&n.f.Ails[i]); !slices.Contains(why, words) {
			why = append(why, words)
		}
	}
	if len(why) > 0 {
		return s + ": " + n.list(why) + "."
	}
	return s + n.say(": no limit there can be checked.")
}

// ails says what ails a probe of a dark place.
func (n *telling) ails(a *alarms.Ailment) string {
	name := n.probe(a.Probe)
	switch {
	case a.How == alarms.AilsOut:
		return n.say("probe %s is out of service", name)
	case a.How == alarms.AilsSilent && a.Since.IsZero():
		return n.say("probe %s has never been heard", name)
	case a.How == alarms.AilsSilent:
		return n.say("probe %s has been silent since %s", name, n.Clock(a.Since, n.Noticed))
	case a.How == alarms.AilsMissing:
		return n.say("no %s from probe %s since %s", n.Word(a.Quantity), name, n.Clock(a.Since, n.Noticed))
	}
	return n.say("probe %s %s", name, n.faulty(a.Why, n.Noticed))
}

func (n *telling) fault(ended bool) string {
	if n.o.Probe == "" {
		return n.disagree(ended)
	}
	f, where, name := n.r.Fault, n.where(n.o), n.probe(n.o.Probe)
	switch {
	case ended && f == alarms.FaultWitness && n.f.Believed:
		return n.say("%s: probe %s, which %s, is believed: nothing else there is heard any more%s.", where, name, n.say(faultPast[f]), n.after())
	case ended:
		return n.say("%s: probe %s, which %s, is sound again%s.", where, name, n.say(faultPast[f]), n.after())
	}
	return n.say("%s: probe %s %s.", where, name, n.faulty(n.r, n.Due))
}

// faultFurther says what becomes of the readings of a probe that is not well.
func (n *telling) faultFurther() string {
	switch f := n.r.Fault; {
	case n.o.Probe == "" || !f.Blinds():
		return ""
	case f == alarms.FaultGarbled && len(n.r.Quantities) > 0:
		return n.say(" What else it measures is used.")
	case doubts[f] != "":
		return n.say(" Within its limits it is not used; beyond one it is told of as doubted.")
	}
	return n.say(" Its readings are not used.")
}

// faultPast follow "probe bench-1, which".
var faultPast = map[alarms.Fault]tongue.Text{
	alarms.FaultRange: "was out of its range", alarms.FaultValue: "gave a value of failure", alarms.FaultStuck: "was stuck",
	alarms.FaultSpikes: "jumped about", alarms.FaultPinned: "showed 100 % for hours", alarms.FaultGarbled: "could not be read",
	alarms.FaultOutlier: "differed from its neighbours", alarms.FaultClock: "had a wrong clock", alarms.FaultBattery: "had a low battery",
	alarms.FaultSignal: "had a weak signal", alarms.FaultWitness: "was doubted as the witness of its circuit",
}

// faulty says what shows the fault of r, to follow "probe bench-1".
func (n *telling) faulty(r *alarms.Reason, now time.Time) string {
	if r == nil {
		return n.say("is not to be believed")
	}
	value := n.say("a value")
	if r.Value != nil {
		value = n.Value(r.Quantity, *r.Value)
	}
	switch r.Fault {
	case alarms.FaultRange:
		return n.say("gives %s%s, outside what its sensor can measure", n.subject(r.Quantity), value)
	case alarms.FaultValue:
		return n.say("gives exactly %s, a sign of failure", value)
	case alarms.FaultStuck:
		return n.say("has given the same %s (%s) since %s", n.Word(r.Quantity), value, n.Clock(r.Since, now))
	case alarms.FaultSpikes:
		return n.say("gives %s values that jump and do not hold", n.Word(r.Quantity))
	case alarms.FaultPinned:
		return n.say("has shown full humidity since %s, or is wet", n.Clock(r.Since, now))
	case alarms.FaultGarbled:
		if len(r.Quantities) > 0 {
			return n.say("sends no readable %s (%s)", n.list(n.words(r.Quantities)), n.list(r.Affected))
		}
		return n.say("sends what cannot be read (%s)", n.list(r.Affected))
	case alarms.FaultOutlier:
		return n.say("differs from its neighbours in %s (it says %s)", n.Word(r.Quantity), value)
	case alarms.FaultClock:
		return n.say("has a wrong clock%s", n.clockOff(r))
	case alarms.FaultBattery:
		return n.say("has a battery at %s", value)
	case alarms.FaultWitness:
		if r.Quantity == alarms.Contact {
			value = n.say("an open contact")
		}
		return n.say("has shown %s since %s, as if its circuit had no power, while %s there %s heard: it is wrong, or what is heard has a supply of its own",
			value, n.Clock(r.Since, now), n.list(r.Affected), n.isOrAre(r.Affected))
	case alarms.FaultSignal:
		return n.say("has a weak radio signal (%s)", value)
	}
	return string(r.Fault)
}

func (m Locale) clockOff(r *alarms.Reason) string {
	if r.Value == nil {
		return ""
	}
	d, word := *r.Value, m.say("ahead")
	if d < 0 {
		d, word = -d, m.say("behind")
	}
	return m.say(" (%s %s)", m.Span(seconds(d)), word)
}

func (n *telling) disagree(ended bool) string {
	r, q, where := n.r, n.o.Quantity, n.where(n.o)
	if ended {
		return n.say("%s: its probes agree again on %s%s.", where, n.Word(q), n.after())
	}
	if r.Value == nil || r.Limit == nil {
		return n.say("%s: its probes disagreed on %s when they were last seen.", where, n.Word(q))
	}
	return n.say("%s: probes %s differ by %s in %s since %s (limit %s): one may be wrong, or hang in sun or draught.", where,
		n.list(r.Affected), n.Distance(q, *r.Value), n.Word(q), n.Clock(r.Since, n.Due), n.Distance(q, *r.Limit))
}
