package page

import (
	"net/http"
	"strings"
	"time"

	"telltale/alarms"
)

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
}

// logPage shows what happened, newest first.
func (s *Server) logPage(w http.ResponseWriter, r *http.Request) error {
	words, now := s.wordsOf(r), s.watch.Now()
	p := s.picture(words)
	f, err := logAsked(r.URL.Query(), words.zone, p.Houses)
	if err != nil {
		return err
	}
	found, err := s.options.Tending.Search(r.Context(), f.query())
	if err != nil {
		return err
	}
	v := logPage{frame: s.frame(w, r, "What happened"), Filter: f, AtTop: f.From == (LogMark{})}
	v.Kinds, v.Houses, v.Ranks = f.kinds(), f.houses(p.Houses), f.ranks()
	v.Lines = words.tendLines(found.Lines, now)
	if found.More {
		v.Older = f.at(found.Next).address()
		if len(found.Lines) < logPageLines {
			v.Back = words.clock(found.Back, now)
		}
	}
	if f.Kind == LogDrives && v.AtTop && f.Day == "" {
		v.Drives = drivesToday(p.Houses, f.House)
	}
	return s.render(w, http.StatusOK, "log", v)
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

func (w words) tendLines(ts []alarms.Transition, now time.Time) []tendLine {
	lines := make([]tendLine, 0, len(ts))
	for _, t := range ts {
		l := tendLine{When: w.clockSeconds(t.Due, now), Sentence: w.said(t), Priority: strings.ToLower(priorityWords[t.Priority]),
			Mark: t.Priority.String(), Move: moveWords[t.Move]}
		if t.Noticed.Sub(t.Due) > time.Minute {
			l.Late = "noticed " + w.clock(t.Noticed, now)
		}
		if t.Move == alarms.Note {
			l.Priority = "" // of a log, which nobody must act on
		} else {
			l.Alarm = alarmAddress(t.Alarm)
		}
		if t.Told() {
			l.Told = toldAddress(ToldQuery{Transitions: []string{t.ID}})
		}
		lines = append(lines, l)
	}
	return lines
}
