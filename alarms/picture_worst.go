package alarms

import (
	"cmp"
	"slices"
)

// harms are what harms plants now or soon, before what causes it, before what hides it.
var harms = [...]Rule{RuleLimit, RuleAhead, RuleExposure, RuleRate, RuleControl, RuleOpening, RuleLoop,
	RuleUnwatched, RuleSilent, RuleTrouble, RuleFault, RuleDay, RuleDrift, RuleSeason}

// asides are the states of an alarm by how much it asks for a person. Whether somebody has
// acknowledged it makes nothing better.
var asides = map[State]int{Unacknowledged: 0, Acknowledged: 0, ReturnedUnack: 1, Shelved: 2, SuppressedByDesign: 3, OutOfService: 4}

// WorstFirst puts alarms into the order of how bad it is now what they tell of, for all
// that shows several or picks one: what is, before what was, before what was put aside;
// that nothing can be seen; then by priority, where a limit of the temperature counts as
// much as a drive of its house that fails; harm, before its cause, before what hides it;
// what is beyond the inner limit; what has lasted longest.
func WorstFirst(all []AlarmPicture) {
	failing := map[HouseID]Priority{}
	for i := range all {
		if a := &all[i]; a.Rule == RuleControl && a.State.Active() {
			failing[a.House] = max(failing[a.House], a.Priority)
		}
	}
	grave := func(a *AlarmPicture) Priority {
		if a.Rule == RuleLimit && a.Quantity == Temperature {
			return max(a.Priority, failing[a.House])
		}
		return a.Priority
	}
	slices.SortFunc(all, func(a, b AlarmPicture) int {
		return cmp.Or(cmp.Compare(asides[a.State], asides[b.State]), cmp.Compare(sees(&a), sees(&b)),
			cmp.Compare(grave(&b), grave(&a)), cmp.Compare(harm(a.Rule), harm(b.Rule)), cmp.Compare(b.Level, a.Level),
			a.Since.Compare(b.Since), cmp.Compare(a.ID, b.ID))
	})
}

// harm is the place of r in harms, behind all of them where it is not one.
func harm(r Rule) int {
	if i := slices.Index(harms[:], r); i >= 0 {
		return i
	}
	return len(harms)
}

// sees is 0 where a tells that nothing can be seen, else 1.
func sees(a *AlarmPicture) int {
	if a.Rule == RuleLink {
		return 0
	}
	return 1
}
