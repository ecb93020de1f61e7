package say

import (
	"slices"

	"telltale/alarms"
	"telltale/alarms/tongue"
)

// feed is a circuit that was lost.
type feed struct{ *telling }

// power reports that a circuit with a witness lost its power.
func (n feed) power(w *alarms.Witness, ended bool) string {
	r, name, where, witness := n.r, n.circuit(n.h, n.o.Circuit), n.where(n.o), n.probe(w.Probe)
	switch {
	case ended && w.Out:
		return n.say("%s: nothing tells of the power of the %s any more: its witness, probe %s, was taken out of service.", where, name, witness)
	case ended && len(w.Heard) > 0:
		return n.say("%s: whether the %s has power is not known: its witness, probe %s, says that it has none, but %s there %s heard.",
			where, name, witness, n.list(w.Heard), n.isOrAre(w.Heard))
	case ended:
		return n.say("%s: the %s has power again%s.", where, name, n.after())
	}
	if r.Value != nil {
		shows := n.say("shows %s", n.Value(r.Quantity, *r.Value))
		if r.Quantity == alarms.Contact {
			shows = n.say("shows an open contact")
		}
		alone := ""
		if w.Contradicted {
			alone = n.say(", and nothing else there is heard any more")
		}
		return n.say("%s: the %s has lost power: its witness, probe %s, %s since %s%s.", where, name, witness, shows, n.Clock(r.Since, n.Due), alone)
	}
	silent := n.say("probe %s, has been silent since %s", witness, n.Clock(r.Since, n.Due))
	if r.Since.IsZero() {
		silent = n.say("probe %s, has never been heard", witness)
	}
	if len(r.Affected) > 1 {
		silent += n.say(", like all that hangs there (%s)", n.list(r.Affected))
	}
	others := ""
	if w.Elsewhere {
		others = n.say(" while other probes are heard")
	}
	return n.say("%s: the %s has lost power, as it seems: its witness, %s%s.", where, name, silent, others)
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
			fed = append(fed, n.say("the %s|circuit", n.circuit(n.h, c.ID)))
		}
	}
	if len(fed) > 0 {
		out = n.say(" It feeds %s.", n.list(fed))
	}
	for _, id := range f.Stand {
		names = append(names, n.say("the %s|drive", n.drive(n.h, id).Name))
	}
	if len(names) == 0 {
		return out
	}
	var stand tongue.Text
	switch one := len(names) == 1; {
	case one && n.f.Witness == nil:
		stand = " If so, with it stands %s."
	case one:
		stand = " With it stands %s."
	case n.f.Witness == nil:
		stand = " If so, with it stand %s."
	default:
		stand = " With it stand %s."
	}
	return out + n.say(stand, n.list(names)) +
		n.missed(f, n.extremity(f.Cold, alarms.LowSide), coldWords) + n.missed(f, n.extremity(f.Hot, alarms.HighSide), hotWords)
}

// extremity says how cold or how hot it is, "" for not known.
func (n feed) extremity(x *alarms.Extreme, side alarms.Side) string {
	switch {
	case x == nil:
		return ""
	case x.Place == "":
		return n.say("It is %s outside", n.Value(alarms.Temperature, x.Value))
	}
	return n.say("It is %s at %s (the %s limit is %s)", n.Value(alarms.Temperature, x.Value), n.place(n.h, x.Place).Name, n.side(side),
		n.Value(alarms.Temperature, x.Limit))
}

var (
	coldWords = map[alarms.DriveKind]tongue.Text{alarms.Heater: "the %s does not heat", alarms.LoopFan: "the %s brings no warmth from the ground"}
	hotWords  = map[alarms.DriveKind]tongue.Text{alarms.ExhaustFan: "the %s does not air it", alarms.IntakeShutter: "the %s does not move",
		alarms.LoopFan: "the %s does not cool it"}
)

// missed says which of what stands is missed while it is as extreme says, "" for
// none.
func (n feed) missed(f *alarms.FeedLoss, extreme string, words map[alarms.DriveKind]tongue.Text) string {
	var all []string
	for _, id := range f.Stand {
		d := n.drive(n.h, id)
		if word := words[d.Kind]; extreme != "" && word != "" && slices.Contains(f.Wanted, id) {
			all = append(all, n.say(word, d.Name))
		}
	}
	if len(all) == 0 {
		return ""
	}
	return " " + extreme + ": " + n.list(all) + "."
}
