package report

import (
	"slices"
	"time"

	"telltale/alarms"
)

// standing is one time over which an alarm stood.
type standing struct {
	Span           // To: when it ended, or until when the log is known
	alarms.AlarmID // whose
	first          alarms.Transition
	open           bool // it still stands
}

// byAlarm groups a log, oldest first, by alarm, in the order in which each
// alarm first appears.
func byAlarm(log []alarms.Transition) (out [][]alarms.Transition) {
	at := map[alarms.AlarmID]int{}
	for _, t := range log {
		i, seen := at[t.Alarm]
		if !seen {
			i = len(out)
			at[t.Alarm] = i
			out = append(out, nil)
		}
		out[i] = append(out[i], t)
	}
	return out
}

// standings are the times over which alarms were in a state that counts. An
// alarm that was in one before its first transition of the log has stood since
// its condition began, or else since the log does.
func standings(log []alarms.Transition, until time.Time, counts func(alarms.State) bool) (out []standing) {
	for _, ts := range byAlarm(log) {
		var now *standing
		for i, t := range ts {
			if i == 0 && counts(t.From) {
				from := log[0].Due
				if s := t.Reason.Since; !s.IsZero() && s.Before(t.Due) {
					from = s
				}
				now = &standing{Span: Span{From: from}, AlarmID: t.Alarm, first: t}
			}
			switch stands := counts(t.To); {
			case stands && now == nil:
				now = &standing{Span: Span{From: t.Due}, AlarmID: t.Alarm, first: t}
			case !stands && now != nil:
				now.To = t.Due
				out = append(out, *now)
				now = nil
			}
		}
		if now != nil {
			now.To, now.open = until, true
			out = append(out, *now)
		}
	}
	slices.SortStableFunc(out, func(a, b standing) int { return a.From.Compare(b.From) })
	return out
}

// Blindness is what the watch could not see for some time, as the log has it.
type Blindness struct {
	Alarm  alarms.AlarmID
	Reason alarms.Reason // of the newest time
	Times  int
	Lasted time.Duration // within the span
	Worst  Span          // the longest
}

// blinds reports whether an alarm of this rule says that something is not seen.
func blinds(r alarms.Rule) bool {
	switch r {
	case alarms.RuleSilent, alarms.RuleUnwatched, alarms.RuleLink, alarms.RuleRestart:
		return true
	}
	return false
}

// holds reports whether what an alarm in this state is about is so, told or not.
func holds(x alarms.State) bool {
	return x.Active() || x == alarms.SuppressedByDesign || x == alarms.Shelved
}

// blindness lists for how long what was not seen, the longest first.
func blindness(log []alarms.Transition, s Span, until time.Time) (out []Blindness) {
	log = slices.DeleteFunc(slices.Clone(log), func(t alarms.Transition) bool { return !blinds(t.Reason.Rule) })
	spans := []standing{}
	for _, t := range log {
		if t.Reason.Rule == alarms.RuleRestart && !t.Reason.Since.IsZero() { // a line of the log for the whole of it
			spans = append(spans, standing{Span: Span{t.Reason.Since, t.Due}, AlarmID: t.Alarm, first: t})
		}
	}
	spans = append(spans, standings(log, until, holds)...)
	for _, one := range spans {
		if since := one.first.Reason.Since; !since.IsZero() && since.Before(one.From) {
			one.From = since
		}
		part := one.Span.Within(s)
		if part.Len() <= 0 {
			continue
		}
		i := slices.IndexFunc(out, func(b Blindness) bool { return b.Alarm == one.AlarmID })
		if i < 0 {
			i = len(out)
			out = append(out, Blindness{Alarm: one.AlarmID})
		}
		b := &out[i]
		b.Reason, b.Times, b.Lasted = one.first.Reason, b.Times+1, b.Lasted+part.Len()
		if part.Len() > b.Worst.Len() {
			b.Worst = part
		}
	}
	slices.SortStableFunc(out, func(a, b Blindness) int { return int(b.Lasted/time.Second - a.Lasted/time.Second) })
	return out
}

// Distrusted lists when which probe was not believed or was out of service. The
// log is oldest first.
func Distrusted(log []alarms.Transition, until time.Time) (out []Distrust) {
	faults := slices.DeleteFunc(slices.Clone(log), func(t alarms.Transition) bool {
		return t.Reason.Probe == "" || t.Reason.Rule != alarms.RuleFault || !worthless(t.Reason.Fault)
	})
	for _, f := range standings(faults, until, holds) {
		out = append(out, Distrust{Probe: f.first.Reason.Probe, Quantity: f.first.Reason.Quantity, Span: f.Span})
	}
	silent := slices.DeleteFunc(slices.Clone(log), func(t alarms.Transition) bool {
		return t.Reason.Probe == "" || t.Reason.Rule != alarms.RuleSilent
	})
	for _, o := range standings(silent, until, func(x alarms.State) bool { return x == alarms.OutOfService }) {
		out = append(out, Distrust{Probe: o.first.Reason.Probe, Span: o.Span})
	}
	return out
}

// worthless reports whether the core uses no reading of a probe with this fault.
func worthless(f alarms.Fault) bool {
	switch f {
	case alarms.FaultRange, alarms.FaultValue, alarms.FaultStuck, alarms.FaultSpikes, alarms.FaultPinned, alarms.FaultGarbled, alarms.FaultOutlier:
		return true
	}
	return false
}

// Distrust is a time over which the readings of a probe were not used; of one
// quantity, or of all where none is named.
type Distrust struct {
	Probe    alarms.ProbeID
	Quantity alarms.Quantity
	Span
}
