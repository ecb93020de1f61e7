package page

import (
	"strings"
	"time"

	"telltale/alarms"
)

type alarmsView struct {
	Open    []alarmView
	ToTake  []alarmView // of Open, the first that nobody has acknowledged
	Untaken int         // how many there are of those in all
	Choices []shelveChoice
	Token   string // of the visitor; live pieces have none, the script adds it
}

type asideView struct {
	Aside []alarmView
	Token string // as in alarmsView
}

type alarmView struct {
	Anchor     string
	ID         alarms.AlarmID
	Seen       string // newest transition, sent back with an acknowledgement
	Sentence   string
	Read       *ago   // when the value of now was read; nil: none is known
	Priority   string // class
	PriorityIn string // words
	State      string
	Since      ago
	CanTake    bool
	CanShelve  bool
	CanReturn  bool // unshelve
	CanBack    bool // into service
	Quiet      bool // acknowledged
}

var priorityWords = map[alarms.Priority]string{
	alarms.High: "High priority", alarms.Medium: "Medium priority", alarms.Low: "Low priority"}

// maxTogether is how many alarms one form may acknowledge; more would be more
// than maxBody.
const maxTogether = 150

// splitAlarms parts what asks for somebody from what was put aside.
func (w words) splitAlarms(p alarms.Picture, now time.Time) (alarmsView, asideView) {
	bySentence := map[alarms.AlarmID]string{}
	for _, a := range p.Alarms {
		bySentence[a.ID] = a.Sentence
	}
	open := alarmsView{Choices: shelveChoices}
	var aside asideView
	for _, a := range p.Alarms {
		v := w.alarm(a, bySentence, now)
		switch a.State {
		case alarms.Shelved, alarms.SuppressedByDesign, alarms.OutOfService:
			aside.Aside = append(aside.Aside, v)
		case alarms.Normal:
		default:
			open.Open = append(open.Open, v)
			if v.CanTake {
				open.Untaken++
			}
			if v.CanTake && len(open.ToTake) < maxTogether {
				open.ToTake = append(open.ToTake, v)
			}
		}
	}
	return open, aside
}

func (w words) alarm(a alarms.AlarmPicture, sentences map[alarms.AlarmID]string, now time.Time) alarmView {
	v := alarmView{Anchor: anchor("alarm", string(a.ID)), ID: a.ID, Seen: a.Transition, Sentence: a.Sentence,
		Priority: a.Priority.String(), PriorityIn: priorityWords[a.Priority], Since: ago{Age: age(a.Since, now), Clock: w.clock(a.Since, now)}}
	if a.Present.Live {
		read := w.ago(a.Present.At, now)
		v.Read = &read
	}
	if v.PriorityIn == "" {
		v.PriorityIn = "No priority"
	}
	v.CanTake = a.State == alarms.Unacknowledged || a.State == alarms.ReturnedUnack
	v.CanShelve = v.CanTake || a.State == alarms.Acknowledged
	v.CanReturn = a.State == alarms.Shelved
	v.CanBack = a.State == alarms.OutOfService
	v.Quiet = a.State == alarms.Acknowledged
	v.State = w.stateWords(a, sentences, now)
	if a.Chattering {
		v.State += " It comes and goes, so it is held until it has been quiet for a while."
	}
	return v
}

func (w words) stateWords(a alarms.AlarmPicture, sentences map[alarms.AlarmID]string, now time.Time) string {
	switch a.State {
	case alarms.Unacknowledged:
		return "Nobody has acknowledged it yet."
	case alarms.Acknowledged:
		return strings.TrimSpace("Acknowledged. It is still so. " + w.onTheWay(a, now))
	case alarms.ReturnedUnack:
		return "Over now, but nobody has acknowledged it."
	case alarms.Shelved:
		return w.shelvedWords(a, now) + " " + stillSo(a.Active)
	case alarms.SuppressedByDesign:
		if cause := sentences[a.Cause]; cause != "" {
			return "Not told by itself, because another alarm says it: “" + cause + "”"
		}
		return "Not told by itself, because another alarm says it: " + string(a.Cause) + "."
	case alarms.OutOfService:
		return outWords(a.By, a.Note) + " " + stillSo(a.Active)
	default:
		return ""
	}
}

// onTheWay says who has an alarm and until when that holds, with a blank at its
// end; nothing where that is not known.
func (w words) onTheWay(a alarms.AlarmPicture, now time.Time) string {
	if a.Until.IsZero() {
		return ""
	}
	who := a.By
	if who == "" {
		who = somebody
	}
	return sentence(who+" is on the way until "+w.clock(a.Until, now)) + " "
}

func stillSo(active bool) string {
	if active {
		return "It is still so."
	}
	return "It is not so at the moment."
}

// shelveChoice is how long an alarm may be put aside.
type shelveChoice struct{ Value, Words string }

// morning is when "until tomorrow" ends, on the local clock.
const morning = 7

// wayChoices are for how long somebody who acknowledges may be on the way.
var wayChoices = []shelveChoice{
	{"", "as usual"}, {"15m", "15 minutes"}, {"30m", "30 minutes"}, {"1h", "1 hour"}, {"2h", "2 hours"}, {"4h", "4 hours"}}

var shelveChoices = []shelveChoice{
	{"30m", "30 minutes"}, {"2h", "2 hours"}, {"8h", "8 hours"}, {"tomorrow", "until tomorrow, 07:00"}}

// shelveEnd returns when a choice ends, counted from now.
func (w words) shelveEnd(choice string, now time.Time) (time.Time, bool) {
	switch choice {
	case "30m":
		return now.Add(30 * time.Minute), true
	case "2h":
		return now.Add(2 * time.Hour), true
	case "8h":
		return now.Add(8 * time.Hour), true
	case "tomorrow":
		y, m, d := now.In(w.zone).Date()
		return time.Date(y, m, d+1, morning, 0, 0, 0, w.zone), true
	default:
		return time.Time{}, false
	}
}

type logLine struct {
	When     string
	Late     string // when it was noticed, if much later
	Sentence string
	Priority string
	Move     string // class and word
}

var moveWords = map[alarms.Move]string{
	alarms.Raise: "came", alarms.Worsen: "worse", alarms.Ease: "less bad", alarms.Return: "over",
	alarms.Ack: "acknowledged", alarms.Realarm: "reminder", alarms.Chatter: "comes and goes",
	alarms.ShelveOn: "shelved", alarms.ShelveOff: "shelving ended", alarms.Suppress: "said by another",
	alarms.Release: "said by itself again", alarms.Out: "out of service", alarms.Back: "in service again",
	alarms.Note: "note"}

func (w words) logLines(ts []alarms.Transition, now time.Time) []logLine {
	lines := make([]logLine, 0, len(ts))
	for _, t := range ts {
		l := logLine{When: w.clockSeconds(t.Due, now), Sentence: w.said(t), Priority: t.Priority.String(),
			Move: moveWords[t.Move]}
		if t.Noticed.Sub(t.Due) > time.Minute {
			l.Late = "noticed " + w.clock(t.Noticed, now)
		}
		lines = append(lines, l)
	}
	return lines
}
