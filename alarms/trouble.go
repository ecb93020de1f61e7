package alarms

// Troubles of the watch itself, told like any other alarm.
const (
	TroubleDisk    AlarmID = "watch/disk"     // nothing can be saved
	TroubleLosses  AlarmID = "watch/losses"   // messages were lost on their way in
	TroubleTelling AlarmID = "watch/messages" // people cannot be told
	TroubleStarts  AlarmID = "watch/starts"   // the watch ends again and again without having been stopped
	TroubleStore   AlarmID = "watch/store"    // what was saved is lost; on until somebody has taken it
)

// Troubles lists every trouble.
var Troubles = []AlarmID{TroubleDisk, TroubleLosses, TroubleTelling, TroubleStarts, TroubleStore}

// trouble is one trouble of the watch at work.
type trouble struct {
	troubleState
	alarm *alarm
}

// troubleState is what a snapshot keeps of a trouble.
type troubleState struct {
	Since instant `json:"since,omitempty"`
	Note  string  `json:"note,omitempty"`
}

func (e *Engine) buildTrouble(id AlarmID) {
	t := &trouble{}
	t.alarm = e.newAlarm(&alarm{
		id: id, rule: RuleTrouble, priority: always(High),
		why: func(Move, instant) Reason { return Reason{Since: e.wall(t.Since), Note: t.Note} },
	})
	e.trouble[id] = t
}

func (e *Engine) setTrouble(in *Input, now instant) {
	t := e.trouble[in.Alarm]
	switch {
	case t == nil:
	case in.Kind == TroubleOff:
		t.Since = 0
		e.apply(t.alarm, Within, nil, now)
	default:
		if t.Note = in.Note; t.Since == 0 {
			t.Since = now
		}
		e.apply(t.alarm, Outer, nil, now)
	}
}

// noted ends what no work of the watch can end, once somebody has taken it.
func (e *Engine) noted(a *alarm, now instant) {
	if a.id == TroubleStore {
		e.trouble[a.id].Since = 0
		e.apply(a, Within, nil, now)
	}
}

var troubleTitles = map[AlarmID]string{
	TroubleDisk:    "The watch cannot save",
	TroubleLosses:  "The watch has lost messages",
	TroubleTelling: "The watch cannot reach people",
	TroubleStarts:  "The watch breaks off and starts again",
	TroubleStore:   "The watch has lost something that it had saved",
}

var troubleChecks = map[AlarmID]string{
	TroubleDisk:    "is the disk full, worn out or pulled? Make room; until then alarms are told but not kept",
	TroubleLosses:  "does a probe send far too often, or is the machine overloaded?",
	TroubleStarts:  "does the machine lose its power or run out of memory? The service's log says how each run ended",
	TroubleTelling: "the internet connection, the mail server and its password; of a modem the plug, the SIM with its credit, and the antenna",
	TroubleStore:   "set again on the page what is named here, and look whether the disk is worn out; what is put aside lies in the store's directory",
}

func (e *Engine) troubleSentence(a *alarm, t Transition, ended bool) string {
	title := troubleTitles[a.id]
	if ended && a.id == TroubleStore {
		return title + ": somebody has taken note of it."
	}
	if ended {
		return title + ": over" + after(t.Reason) + "."
	}
	s := title + ", since " + e.plan.Words.Clock(t.Reason.Since, t.Due)
	if t.Reason.Note != "" {
		s += ": " + t.Reason.Note
	}
	return s + "."
}
