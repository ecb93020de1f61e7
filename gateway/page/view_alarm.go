package page

import (
	"cmp"
	"slices"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/words"
)

type alarmsView struct {
	Open    []alarmView
	ToTake  []alarmView // of Open, the first that nobody has acknowledged
	Untaken int         // how many there are of those in all
	Choices []shelveChoice
	Ways    []shelveChoice
	Pages   bool // each alarm has one
}

type asideView struct {
	Aside []alarmView
}

type alarmView struct {
	Anchor     string
	ID         alarms.AlarmID
	Page       string // address of all that is known of it
	Seen       string // newest transition, sent back with an acknowledgement
	Title      string
	Figure     *figureView // nil: no value is known to be of now, or it is over
	Left       string      // how long there is
	First      string      // what to look at first
	Sentence   string      // all of it
	Follows    []followView
	Read       *words.Ago // when the value of now was read; nil: none is known
	Priority   string     // class
	PriorityIn string     // words
	State      string
	Since      words.Ago
	CanTake    bool
	CanShelve  bool
	CanReturn  bool // unshelve
	CanBack    bool // into service
	Quiet      bool // acknowledged
	Over       bool // nobody has acknowledged it
}

// figureView is the value of now that an alarm is about, to be read at arm's length.
type figureView struct {
	Value, Unit string
	Limit       string // with its unit, "": it is about no limit of the value
	Course      string // which way it goes, "": not known
}

// followView is an alarm that another one says.
type followView struct{ Anchor, Page, Title string }

// maxTogether is how many alarms one form may acknowledge; more would be more
// than maxBody.
const maxTogether = 150

// splitAlarms parts what asks for somebody, each with what follows from it, from what
// was put aside.
func splitAlarms(w words.Words, p alarms.Picture, now time.Time) (alarmsView, asideView) {
	by := byID(p)
	open := alarmsView{Choices: shelveChoices, Ways: wayChoices}
	var aside asideView
	follows := map[alarms.AlarmID][]followView{}
	for _, a := range p.Alarms {
		v := alarmViewOf(w, a, by, now)
		switch cause := saidBy(a, by); {
		case cause != nil && !cause.State.Aside():
			follows[cause.ID] = append(follows[cause.ID], followView{v.Anchor, v.Page, v.Title})
		case a.State.Aside() || a.State == alarms.SuppressedByDesign:
			aside.Aside = append(aside.Aside, v)
		case a.State != alarms.Normal:
			open.Open = append(open.Open, v)
			if v.CanTake {
				open.Untaken++
			}
			if v.CanTake && len(open.ToTake) < maxTogether {
				open.ToTake = append(open.ToTake, v)
			}
		}
	}
	for i := range open.Open {
		open.Open[i].Follows = follows[open.Open[i].ID]
	}
	return open, aside
}

func byID(p alarms.Picture) map[alarms.AlarmID]*alarms.AlarmPicture {
	by := make(map[alarms.AlarmID]*alarms.AlarmPicture, len(p.Alarms))
	for i := range p.Alarms {
		by[p.Alarms[i].ID] = &p.Alarms[i]
	}
	return by
}

// saidBy is the alarm that says what a tells of, after all that say it for one another;
// nil for none.
func saidBy(a alarms.AlarmPicture, by map[alarms.AlarmID]*alarms.AlarmPicture) *alarms.AlarmPicture {
	var cause *alarms.AlarmPicture
	for range by { // no more steps than alarms, whatever the causes say
		next := by[a.Cause]
		if a.State != alarms.SuppressedByDesign || next == nil {
			break
		}
		cause, a = next, *next
	}
	return cause
}

func alarmViewOf(w words.Words, a alarms.AlarmPicture, by map[alarms.AlarmID]*alarms.AlarmPicture, now time.Time) alarmView {
	v := alarmView{Anchor: words.Anchor("alarm", string(a.ID)), ID: a.ID, Page: alarmAddress(a.ID), Seen: a.Transition, Title: a.Title, Left: a.Left, First: a.First, Sentence: a.Sentence,
		Priority: a.Priority.String(), PriorityIn: w.Priority(a.Priority), Since: words.Ago{Age: w.Age(a.Since, now), Clock: w.Clock(a.Since, now)}}
	if a.Present.Live {
		read := w.Ago(a.Present.At, now)
		v.Read = &read
	}
	v.CanTake = a.State == alarms.Unacknowledged || a.State == alarms.ReturnedUnack
	v.CanShelve = v.CanTake || a.State == alarms.Acknowledged
	v.CanReturn = a.State == alarms.Shelved
	v.CanBack = a.State == alarms.OutOfService
	v.Quiet, v.Over = a.State == alarms.Acknowledged, a.State == alarms.ReturnedUnack
	v.Figure = figureOf(w, a)
	v.State = stateWords(w, a, by[a.Cause], now)
	if a.Chattering {
		v.State += " " + w.Say("It comes and goes, so it is held until it has been quiet for a while.")
	}
	return v
}

// figureOf is the value of now that a is about; nil where none is known, or it is over.
func figureOf(w words.Words, a alarms.AlarmPicture) *figureView {
	p := a.Present
	if !a.State.Active() || !p.Live || p.Value == nil {
		return nil
	}
	f := &figureView{}
	f.Value, f.Unit = w.Parts(p.Quantity, *p.Value)
	if a.Rule == alarms.RuleLimit && p.Limit != nil {
		f.Limit = w.Value(p.Quantity, *p.Limit)
	}
	if p.Rate != nil {
		f.Course = w.Trend(p.Quantity, *p.Rate)
	}
	return f
}

func stateWords(w words.Words, a alarms.AlarmPicture, cause *alarms.AlarmPicture, now time.Time) string {
	switch a.State {
	case alarms.Unacknowledged:
		return w.Say("Nobody has acknowledged it yet.")
	case alarms.Acknowledged:
		return strings.TrimSpace(w.Say("Acknowledged. It is still so.") + " " + onTheWay(w, a, now))
	case alarms.ReturnedUnack:
		return w.Say("Over now, but nobody has acknowledged it.")
	case alarms.Shelved:
		return shelvedWords(w, a, now) + " " + stillSo(w, a.Active)
	case alarms.SuppressedByDesign:
		if cause != nil {
			return w.Say("Not told by itself, because another alarm says it: “%s”", cause.Sentence)
		}
		return w.Say("Not told by itself, because another alarm says it: %s.", a.Cause)
	case alarms.OutOfService:
		return outWords(w, a.By, a.Note) + " " + stillSo(w, a.Active)
	default:
		return ""
	}
}

// onTheWay says who has an alarm and until when that holds, with a blank at its
// end; nothing where that is not known.
func onTheWay(w words.Words, a alarms.AlarmPicture, now time.Time) string {
	if a.Until.IsZero() {
		return ""
	}
	who := w.Core.Who(cmp.Or(a.By, alarms.ByPage))
	return w.Say("%s is on the way until %s%s.", who, w.Clock(a.Until, now), w.Core.ByThen(a.Reaches)) + " "
}

func stillSo(w words.Words, active bool) string {
	if active {
		return w.Say("It is still so.")
	}
	return w.Say("It is not so at the moment.")
}

// shelveChoice is how long an alarm may be put aside.
type shelveChoice struct {
	Value string
	Words tongue.Text
}

// morning is when "until tomorrow" ends, on the local clock.
const morning = 7

// wayChoices are for how long somebody who acknowledges may be on the way.
var wayChoices = []shelveChoice{
	{"", "as usual"}, {"15m", "15 minutes"}, {"30m", "30 minutes"}, {"1h", "1 hour"}, {"2h", "2 hours"}, {"4h", "4 hours"}}

var shelveChoices = []shelveChoice{
	{"30m", "30 minutes"}, {"2h", "2 hours"}, {"8h", "8 hours"}, {"tomorrow", "until tomorrow, 07:00"}}

// shelveEnd returns when one of shelveChoices ends, counted from now.
func shelveEnd(w words.Words, choice string, now time.Time) (time.Time, bool) {
	if choice == "tomorrow" {
		y, m, d := now.In(w.Zone).Date()
		return time.Date(y, m, d+1, morning, 0, 0, 0, w.Zone), true
	}
	long, err := time.ParseDuration(choice)
	return now.Add(long), err == nil && slices.ContainsFunc(shelveChoices, func(c shelveChoice) bool { return c.Value == choice })
}

var moveWords = map[alarms.Move]tongue.Text{
	alarms.Raise: "came", alarms.Worsen: "worse", alarms.Ease: "less bad", alarms.Return: "over",
	alarms.Ack: "acknowledged|what was done", alarms.Realarm: "reminder", alarms.Chatter: "comes and goes",
	alarms.ShelveOn: "shelved", alarms.ShelveOff: "shelving ended", alarms.Suppress: "said by another",
	alarms.Release: "said by itself again", alarms.Out: "out of service", alarms.Back: "in service again",
	alarms.Note: "note"}
