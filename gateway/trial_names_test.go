package gateway

import (
	"math/rand/v2"
	"slices"
	"strings"

	"telltale/alarms"
	"telltale/alarms/control"
	"telltale/gateway/model"
)

// namedBy says which verdicts about which kind of drive name a fault right. A
// true sentence about something else does not count: that a welded fan blows
// on a closed shutter, that the fan of a drifted dial did not start yet.
type namedBy struct {
	drive    alarms.DriveKind // empty: of the thermostat
	verdicts []control.FindingKind
}

// faultNames is the table of what counts as naming a fault right. A tripped
// breaker is named by the alarm that its circuit is silent.
var faultNames = map[model.Kind][]namedBy{
	model.FanDead:     {{alarms.ExhaustFan, []control.FindingKind{control.DidNotStart, control.StoppedEarly}}},
	model.FanStuckOn:  {{alarms.ExhaustFan, []control.FindingKind{control.DidNotStop, control.RanUncalled, control.RanBarred}}},
	model.LoopFanDead: {{alarms.LoopFan, []control.FindingKind{control.DidNotStart, control.StoppedEarly, control.StoodStill}}},
	model.HeaterDead:  {{alarms.Heater, []control.FindingKind{control.DidNotStart, control.StoppedEarly}}},
	model.DialDrifted: {{"", []control.FindingKind{control.DriftedOn, control.DriftedOff}}},
	model.ShutterStuckClosed: {
		{alarms.IntakeShutter, []control.FindingKind{control.DidNotStart, control.StoppedEarly}},
		{alarms.ExhaustFan, []control.FindingKind{control.RanAlone}}, // on a closed shutter
	},
	model.ShutterStuckOpen: {{alarms.IntakeShutter, []control.FindingKind{control.OpenUnneeded, control.RanBarred}}},
}

// touchedBy says which kinds of drive a fault touches: those that die, and
// those that cannot work rightly without them.
var touchedBy = map[model.Kind][]alarms.DriveKind{
	model.FanDead:            {alarms.ExhaustFan, alarms.IntakeShutter},
	model.FanStuckOn:         {alarms.ExhaustFan, alarms.IntakeShutter},
	model.DialDrifted:        {alarms.ExhaustFan, alarms.IntakeShutter},
	model.ShutterStuckClosed: {alarms.ExhaustFan, alarms.IntakeShutter},
	model.ShutterStuckOpen:   {alarms.ExhaustFan, alarms.IntakeShutter},
	model.LoopFanDead:        {alarms.LoopFan},
	model.HeaterDead:         {alarms.Heater},
}

// circuitTouches says the same of a tripped breaker.
var circuitTouches = map[alarms.CircuitID][]alarms.DriveKind{
	model.North: {alarms.ExhaustFan, alarms.IntakeShutter},
	model.South: {alarms.LoopFan, alarms.Heater},
}

const (
	longHouseID alarms.HouseID = "long-house"
	lowHouseID  alarms.HouseID = "low-house"
)

// trialFaults lists the faults of a season that somebody could know of: those
// of drives that evidence shows, and of circuits that feed two probes or more.
// The exhaust fan of Low House has no evidence. The vents are covered in
// winter, so the fan and the dial cannot show then that they are dead or
// drifted; and in summer no heater is called.
func trialFaults(plan *alarms.Plan, summer bool) []model.Fault {
	all := []model.Fault{
		{Kind: model.FanStuckOn, House: longHouseID},
		{Kind: model.ShutterStuckOpen, House: longHouseID},
		{Kind: model.LoopFanDead, House: longHouseID},
	}
	if summer {
		all = append(all, model.Fault{Kind: model.FanDead, House: longHouseID},
			model.Fault{Kind: model.ShutterStuckClosed, House: longHouseID}, model.Fault{Kind: model.DialDrifted, House: longHouseID})
	} else {
		all = append(all, model.Fault{Kind: model.HeaterDead, House: lowHouseID})
	}
	for _, h := range plan.Houses {
		for _, c := range h.Circuits {
			if len(fedBy(&h, c.ID)) >= 2 {
				all = append(all, model.Fault{Kind: model.BreakerTripped, House: h.ID, Circuit: c.ID})
			}
		}
	}
	return all
}

// fedBy lists the probes of a circuit.
func fedBy(h *alarms.House, id alarms.CircuitID) (fed []alarms.Probe) {
	for _, p := range h.Places {
		for _, pr := range p.Probes {
			if pr.Circuit == id {
				fed = append(fed, pr)
			}
		}
	}
	return fed
}

// trialKinds lists the kinds of fault that a trial draws, sorted.
func trialKinds() []model.Kind {
	kinds := []model.Kind{model.BreakerTripped}
	for k := range faultNames {
		kinds = append(kinds, k)
	}
	slices.Sort(kinds)
	return kinds
}

func kindsOf(faults []model.Fault) (kinds []model.Kind) {
	for _, f := range faults {
		if !slices.Contains(kinds, f.Kind) {
			kinds = append(kinds, f.Kind)
		}
	}
	return kinds
}

// trialFault draws a kind of fault, then one of that kind.
func trialFault(plan *alarms.Plan, seed uint64, rng *rand.Rand, only model.Kind) model.Fault {
	all := trialFaults(plan, summers(seed))
	kinds := kindsOf(all)
	kind := kinds[rng.IntN(len(kinds))]
	if slices.Contains(kinds, only) {
		kind = only
	}
	all = slices.DeleteFunc(all, func(f model.Fault) bool { return f.Kind != kind })
	return all[rng.IntN(len(all))]
}

// names reports whether t names f right.
func names(plan *alarms.Plan, f model.Fault, t alarms.Transition) bool {
	if t.Reason.House != f.House {
		return false
	}
	if f.Kind == model.BreakerTripped {
		return t.Reason.Rule == alarms.RuleSilent && t.Reason.Circuit == f.Circuit && t.Reason.Probe == ""
	}
	if t.Reason.Rule != alarms.RuleControl {
		return false
	}
	kind := alarms.DriveKind("")
	if d := driveOf(plan, f.House, t.Reason.Drive); d != nil {
		kind = d.Kind
	} else if !slices.Contains(drivenBy(plan, t), alarms.ExhaustFan) {
		return false
	}
	return slices.ContainsFunc(faultNames[f.Kind], func(n namedBy) bool {
		return n.drive == kind && slices.ContainsFunc(n.verdicts, func(v control.FindingKind) bool {
			return t.Reason.Verdict == strings.ReplaceAll(v.String(), " ", "-")
		})
	})
}

// touches reports whether t tells of a drive, or of the thermostat of a drive,
// that f touches.
func touches(plan *alarms.Plan, f *model.Fault, t alarms.Transition) bool {
	if f == nil || t.Reason.House != f.House {
		return false
	}
	about := drivenBy(plan, t)
	if d := driveOf(plan, f.House, t.Reason.Drive); d != nil {
		about = []alarms.DriveKind{d.Kind}
	}
	touched := touchedBy[f.Kind]
	if f.Kind == model.BreakerTripped {
		touched = circuitTouches[f.Circuit]
	}
	return slices.ContainsFunc(about, func(k alarms.DriveKind) bool { return slices.Contains(touched, k) })
}

func driveOf(plan *alarms.Plan, house alarms.HouseID, id alarms.DriveID) *alarms.Drive {
	for i := range plan.Houses {
		for j := range plan.Houses[i].Drives {
			if d := &plan.Houses[i].Drives[j]; plan.Houses[i].ID == house && d.ID == id {
				return d
			}
		}
	}
	return nil
}

// drivenBy lists the kinds of drive on the thermostat that t tells of.
func drivenBy(plan *alarms.Plan, t alarms.Transition) []alarms.DriveKind {
	var kinds []alarms.DriveKind
	for _, h := range plan.Houses {
		for _, c := range h.Controls {
			if !strings.HasPrefix(string(t.Alarm), string(h.ID)+"/"+string(c.ID)+"/") {
				continue
			}
			for _, s := range c.Stages {
				for _, id := range s.Drives {
					if d := driveOf(plan, h.ID, id); d != nil {
						kinds = append(kinds, d.Kind)
					}
				}
			}
		}
	}
	return kinds
}
