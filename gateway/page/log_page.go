package page

import (
	"context"
	"net/http"
	"net/url"
	"slices"
	"strconv"
	"strings"
	"time"

	"telltale/alarms"
	"telltale/alarms/tongue"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/lookback"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

// records are the pages of what was: log, tellings, one alarm, ground loop.
type records struct{ *Server }

const logPageLines = 50

type logPage struct {
	frame
	Filter logFilter
	Kinds  []logChoice
	Houses []logChoice
	Ranks  []logChoice
	Lines  []tendLine
	Drives []string // how each switched today, where that is asked for
	Back   string   // how far back a search has looked, where it has not looked everywhere
	Older  string   // address of the next page, "" at the end
	AtTop  bool     // nothing newer was left out
}

// logChoice is one choice of a filter.
type logChoice struct {
	Value, Words, Address string
	Here                  bool
}

// tendLine is a line of the log with what belongs to it.
type tendLine struct {
	When     string
	Late     string // when it was noticed, if much later
	Sentence string
	Priority string // in words
	Mark     string // class of the priority
	Move     string
	Alarm    string // address of its alarm, "" for none
	Told     string // address of who was told, "" for nobody

	Anchor string
	Follow []string // sentences of what another alarm said too at the same time, folded
}

// logPage shows what happened, newest first.
func (s records) logPage(w http.ResponseWriter, r *http.Request) error {
	say, now := s.wordsOf(r), s.watch.Now()
	p := s.picture(say)
	f, err := logAsked(r.URL.Query(), say.Zone, p.Houses)
	if err != nil {
		return err
	}
	found, err := s.options.Tending.Search(r.Context(), f.query())
	if err != nil {
		return err
	}
	v := logPage{frame: s.frame(r, "What happened"), Filter: f, AtTop: f.From == (service.LogMark{})}
	v.Kinds, v.Houses, v.Ranks = f.kinds(say), f.houses(say, p.Houses), f.ranks(say)
	v.Lines = tendLines(say, found.Lines, now)
	if found.More {
		v.Older = f.at(found.Next).address()
		if len(found.Lines) < logPageLines {
			v.Back = say.Clock(found.Back, now)
		}
	}
	if f.Kind == service.LogDrives && v.AtTop && f.Day == "" {
		v.Drives = drivesToday(p.Houses, f.House)
	}
	return s.render(w, r, http.StatusOK, "log", v)
}

// drivesToday says how each drive has switched.
func drivesToday(houses []alarms.HousePicture, of alarms.HouseID) (all []string) {
	for _, h := range houses {
		if of != "" && h.ID != of {
			continue
		}
		for _, d := range h.Drives {
			all = append(all, h.Name+": "+d.Sentence)
		}
	}
	return all
}

func tendLines(w words.Words, ts []alarms.Transition, now time.Time) []tendLine {
	lines := make([]tendLine, 0, len(ts))
	for i, t := range ts {
		if i > 0 && saidTogether(&ts[i-1], &t) {
			last := &lines[len(lines)-1]
			last.Follow = append(last.Follow, w.Said(t))
			continue
		}
		l := tendLine{Anchor: words.Anchor("line", t.ID), When: w.ClockSeconds(t.Due, now), Sentence: w.Said(t), Priority: w.Say(rankWords[t.Priority.String()]),
			Mark: t.Priority.String(), Move: w.Say(moveWords[t.Move])}
		if t.Noticed.Sub(t.Due) > time.Minute {
			l.Late = w.Say("noticed %s", w.Clock(t.Noticed, now))
		}
		if t.Move == alarms.Note {
			l.Priority = "" // of a log, which nobody must act on
		} else {
			l.Alarm = alarmAddress(t.Alarm)
		}
		if t.Told() {
			l.Told = toldAddress(service.ToldQuery{Transitions: []string{t.ID}})
		}
		lines = append(lines, l)
	}
	return lines
}

// saidTogether reports whether two alarms next to each other in the log follow from one
// cause. One that is released to speak for itself is never folded.
func saidTogether(a, b *alarms.Transition) bool {
	return a.Move == alarms.Suppress && b.Move == alarms.Suppress && a.Reason.Cause == b.Reason.Cause
}

// logFilter is what a person asked of the log.
type logFilter struct {
	Kind  service.LogKind
	House alarms.HouseID
	Rank  string // priority, "" for any
	Words string // as typed
	Day   string // 2006-01-02: that day and what is older
	From  service.LogMark

	dayEnd time.Time
}

const (
	maxLogWords = 100 // characters
	mostWords   = 8
)

var logKinds = []service.LogKind{service.LogAny, service.LogAlarms, service.LogPeople, service.LogDrives, service.LogWatch}

var kindWords = map[service.LogKind]tongue.Text{
	service.LogAny: "Everything", service.LogAlarms: "Alarms", service.LogPeople: "What people did",
	service.LogDrives: "What the drives did", service.LogWatch: "The watch itself",
}

var logRanks = []string{"", "high", "medium", "low"}

var rankWords = map[string]tongue.Text{"": "any priority", "high": "high priority", "medium": "medium priority", "low": "low priority"}

// logAsked reads a filter. What is not known is told: a filter that is silently
// left out would show what was not asked for.
func logAsked(q url.Values, zone *time.Location, houses []alarms.HousePicture) (f logFilter, err error) {
	f = logFilter{Kind: service.LogKind(q.Get("of")), House: alarms.HouseID(q.Get("house")), Rank: q.Get("rank"),
		Words: answer.Tidy(q.Get("words"), maxLogWords), Day: q.Get("day")}
	switch {
	case !slices.Contains(logKinds, f.Kind):
		return f, answer.Say(answer.Invalid, "That part of the log cannot be found.")
	case !slices.Contains(logRanks, f.Rank):
		return f, answer.Say(answer.Invalid, "There is no such priority.")
	case f.House != "" && !slices.ContainsFunc(houses, func(h alarms.HousePicture) bool { return h.ID == f.House }):
		return f, answer.Say(answer.Invalid, "There is no such house.")
	}
	if f.Day != "" {
		day, err := time.ParseInLocation(time.DateOnly, f.Day, zone)
		if err != nil {
			return f, &answer.Error{Kind: answer.Invalid, Say: "Write the day as year, month and day, such as 2026-06-21.", Err: err}
		}
		f.dayEnd = day.AddDate(0, 0, 1)
	}
	if text := q.Get("before"); text != "" {
		due, seq, _ := strings.Cut(text, ".")
		var err1, err2 error
		f.From.Due, err1 = strconv.ParseInt(due, 10, 64)
		if seq != "" {
			f.From.Seq, err2 = strconv.ParseInt(seq, 10, 64)
		}
		if err1 != nil || err2 != nil {
			return f, answer.Say(answer.Invalid, "That page of the log cannot be found.")
		}
	}
	return f, nil
}

func (f logFilter) query() service.LogQuery {
	q := service.LogQuery{From: f.From, House: f.House, Kind: f.Kind, Words: strings.Fields(f.Words), Limit: logPageLines}
	q.Words = q.Words[:min(len(q.Words), mostWords)]
	if q.From == (service.LogMark{}) && !f.dayEnd.IsZero() {
		q.From = service.LogMark{Due: f.dayEnd.UnixNano()}
	}
	if f.Rank != "" {
		_ = q.Priority.UnmarshalText([]byte(f.Rank)) // one of logRanks
	}
	return q
}

// at is f from another place on.
func (f logFilter) at(m service.LogMark) logFilter { f.From = m; return f }

// address is that of what f asks for.
func (f logFilter) address() string {
	q := url.Values{}
	for key, v := range map[string]string{"of": string(f.Kind), "house": string(f.House), "rank": f.Rank, "words": f.Words, "day": f.Day} {
		if v != "" {
			q.Set(key, v)
		}
	}
	if f.From != (service.LogMark{}) {
		q.Set("before", strconv.FormatInt(f.From.Due, 10)+"."+strconv.FormatInt(f.From.Seq, 10))
	}
	if len(q) == 0 {
		return "/log"
	}
	return "/log?" + q.Encode()
}

// Newest is the address of the first page of f, for the template.
func (f logFilter) Newest() string { return f.at(service.LogMark{}).address() }

// Any reports whether f asks for less than everything.
func (f logFilter) Any() bool {
	f.From = service.LogMark{}
	return f.address() != "/log"
}

// kinds offers the kinds of lines, with all else as it is.
func (f logFilter) kinds(w words.Words) (all []logChoice) {
	for _, k := range logKinds {
		to := f.at(service.LogMark{})
		to.Kind = k
		all = append(all, logChoice{Value: string(k), Words: w.Say(kindWords[k]), Address: to.address(), Here: k == f.Kind})
	}
	return all
}

func (f logFilter) houses(w words.Words, houses []alarms.HousePicture) []logChoice {
	all := []logChoice{{Words: w.Say("all houses"), Here: f.House == ""}}
	for _, h := range houses {
		all = append(all, logChoice{Value: string(h.ID), Words: h.Name, Here: h.ID == f.House})
	}
	return all
}

func (f logFilter) ranks(w words.Words) (all []logChoice) {
	for _, rank := range logRanks {
		all = append(all, logChoice{Value: rank, Words: w.Say(rankWords[rank]), Here: rank == f.Rank})
	}
	return all
}

// alarmPage is what is known of one alarm, and all that can be done about it.
type alarmPage struct {
	frame
	ID      alarms.AlarmID
	Now     *alarmView // nil: it is normal
	AsOf    string     // clock time of Now: this page does not follow
	Choices []shelveChoice
	Ways    []shelveChoice
	Lines   []tendLine
	Told    []toldLine
	Untold  bool           // nothing of Told has gone out
	Strip   lookback.Strip // the day around its newest line; empty: there is none
}

// alarmLines is how much of the past of an alarm its page shows.
const alarmLines = 30

func (s records) alarmPage(w http.ResponseWriter, r *http.Request) error {
	id := alarms.AlarmID(r.URL.Query().Get("id"))
	ts, err := s.options.Tending.AlarmLog(r.Context(), id, alarmLines)
	if err != nil {
		return err
	}
	say, now := s.wordsOf(r), s.watch.Now()
	v := alarmPage{frame: s.frame(r, "One alarm"), ID: id, Choices: shelveChoices, Ways: wayChoices,
		Lines: tendLines(say, ts, now), Now: alarmNow(say, s.picture(say), id, now), AsOf: say.ClockSeconds(now, now)}
	v.Said = s.wordsOf(r).Say(sayings[r.URL.Query().Get("said")])
	if v.Now == nil && len(ts) == 0 {
		return answer.Say(answer.Absent, "There is no such alarm, or it has never been raised.")
	}
	v.Strip = s.around(r.Context(), say, id, ts, now)
	told, err := s.toldOf(r.Context(), ts)
	if err != nil {
		return err
	}
	v.Untold = len(told) < alarmLines && !slices.ContainsFunc(told, func(t service.Telling) bool { return t.Outcome.Went() })
	for _, t := range told {
		v.Told = append(v.Told, toldLineOf(say, t, now))
		v.Told[len(v.Told)-1].Alarm = ""
	}
	for i := range v.Lines {
		v.Lines[i].Alarm, v.Lines[i].Told = "", "" // both stand here
	}
	return s.render(w, r, http.StatusOK, "alarm", v)
}

// around draws the day around the newest line of an alarm, where it is of a house; the one
// up to now while it is not normal.
func (s records) around(ctx context.Context, w words.Words, id alarms.AlarmID, ts []alarms.Transition, now time.Time) (none lookback.Strip) {
	p := s.picture(w)
	house, place, at := alarms.HouseID(""), alarms.PlaceID(""), now
	if len(ts) > 0 {
		house, place, at = ts[0].Reason.House, ts[0].Reason.Place, ts[0].Due
	}
	if a := byID(p)[id]; a != nil {
		house, place, at = a.House, a.Place, now
	}
	i := slices.IndexFunc(p.Houses, func(h alarms.HousePicture) bool { return h.ID == house })
	if i < 0 || !s.looksBack() {
		return none
	}
	ctx, cancel := context.WithTimeout(ctx, dayWait)
	defer cancel()
	return s.strips().Draw(ctx, w, lookback.Around(p.Houses[i], place, at, now))
}

// alarmNow is the alarm as it is now, nil where it is normal.
func alarmNow(w words.Words, p alarms.Picture, id alarms.AlarmID, now time.Time) *alarmView {
	by := byID(p)
	if a := by[id]; a != nil {
		one := alarmViewOf(w, *a, by, now)
		return &one
	}
	return nil
}

// toldOf lists who was told of some transitions of one alarm.
func (s records) toldOf(ctx context.Context, ts []alarms.Transition) ([]service.Telling, error) {
	if len(ts) == 0 {
		return nil, nil
	}
	ids := make([]string, 0, len(ts))
	for _, t := range ts {
		ids = append(ids, t.ID)
	}
	return s.options.Tending.Tellings(ctx, service.ToldQuery{Transitions: ids, Limit: alarmLines})
}
