package say

import (
	"fmt"
	"slices"

	"telltale/alarms"
)

// feed is a circuit that was lost.
type feed struct{ *telling }

// power reports that a circuit with a witness lost its power.
func (n feed) power(w *alarms.Witness, ended bool) string {
	r, name, where, witness := n.r, n.circuit(n.h, n.o.Circuit), n.where(n.o), n.probe(w.Probe)
	switch {
	case ended && w.Out:
		return fmt.Sprintf("%s: nothing tells of the power of the %s any more: its witness, probe %s, was taken out of service.", where, name, witness)
	case ended && len(w.Heard) > 0:
		return fmt.Sprintf("%s: whether the %s has power is not known: its witness, probe %s, says that it has none, but %s there %s heard.",
			where, name, witness, alarms.List(w.Heard), isOrAre(w.Heard))
	case ended:
		return fmt.Sprintf("%s: the %s has power again%s.", where, name, n.after())
	}
	if r.Value != nil {
		shows := "shows " + n.Value(r.Quantity, *r.Value)
		if r.Quantity == alarms.Contact {
			shows = "shows an open contact"
		}
		alone := ""
		if w.Contradicted {
			alone = ", and nothing else there is heard any more"
		}
		return fmt.Sprintf("%s: the %s has lost power: its witness, probe %s, %s since %s%s.", where, name, witness, shows, n.Clock(r.Since, n.Due), alone)
	}
	silent := fmt.Sprintf("probe %s, has been silent since %s", witness, n.Clock(r.Since, n.Due))
	if r.Since.IsZero() {
		silent = fmt.Sprintf("probe %s, has never been heard", witness)
	}
	if len(r.Affected) > 1 {
		silent += fmt.Sprintf(", like all that hangs there (%s)", alarms.List(r.Affected))
	}
	others := ""
	if w.Elsewhere {
		others = " while other probes are heard"
	}
	return fmt.Sprintf("%s: the %s has lost power, as it seems: its witness, %s%s.", where, name, silent, others)
}

// means says what is lost with a circuit, and what that means at this moment.
// It follows the sentence of that.
func (n feed) means() string {
	f := n.f.Feed
	if f == nil {
		return ""
	}
	out := ""
	var fed, names []string
	for i := range n.h.Circuits {
		if c := &n.h.Circuits[i]; c.FedBy == n.o.Circuit {
			fed = append(fed, "the "+n.circuit(n.h, c.ID))
		}
	}
	if len(fed) > 0 {
		out = fmt.Sprintf(" It feeds %s.", alarms.List(fed))
	}
	for _, id := range f.Stand {
		names = append(names, "the "+n.drive(n.h, id).Name)
	}
	if len(names) == 0 {
		return out
	}
	with := " With it "
	if n.f.Witness == nil {
		with = " If so, with it "
	}
	return out + with + standOrStands(names) + " " + alarms.List(names) + "." +
		n.missed(f, n.extremity(f.Cold, "low"), coldWords) + n.missed(f, n.extremity(f.Hot, "high"), hotWords)
}

// extremity says how cold or how hot it is, "" for not known.
func (n feed) extremity(x *alarms.Extreme, side string) string {
	switch {
	case x == nil:
		return ""
	case x.Place == "":
		return fmt.Sprintf("It is %s outside", n.Value(alarms.Temperature, x.Value))
	}
	return fmt.Sprintf("It is %s at %s (the %s limit is %s)", n.Value(alarms.Temperature, x.Value), n.place(n.h, x.Place).Name, side,
		n.Value(alarms.Temperature, x.Limit))
}

var (
	coldWords = map[alarms.DriveKind]string{alarms.Heater: "the %s does not heat", alarms.LoopFan: "the %s brings no warmth from the ground"}
	hotWords  = map[alarms.DriveKind]string{alarms.ExhaustFan: "the %s does not air it", alarms.IntakeShutter: "the %s does not move",
		alarms.LoopFan: "the %s does not cool it"}
)

// missed says which of what stands is missed while it is as extreme says, "" for
// none.
func (n feed) missed(f *alarms.FeedLoss, extreme string, words map[alarms.DriveKind]string) string {
	var all []string
	for _, id := range f.Stand {
		d := n.drive(n.h, id)
		if word := words[d.Kind]; extreme != "" && word != "" && slices.Contains(f.Wanted, id) {
			all = append(all, fmt.Sprintf(word, d.Name))
		}
	}
	if len(all) == 0 {
		return ""
	}
	return " " + extreme + ": " + alarms.List(all) + "."
}

func standOrStands(names []string) string {
	if len(names) == 1 {
		return "stands"
	}
	return "stand"
}
