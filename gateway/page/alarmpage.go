package page

import (
	"context"
	"net/http"
	"time"

	"telltale/alarms"
)

// alarmPage is what is known of one alarm, and all that can be done about it.
type alarmPage struct {
	frame
	ID      alarms.AlarmID
	Now     *alarmView // nil: it is normal
	Choices []shelveChoice
	Lines   []tendLine
	Told    []toldLine
}

// alarmLines is how much of the past of an alarm its page shows.
const alarmLines = 30

func (s *Server) alarmPage(w http.ResponseWriter, r *http.Request) error {
	id := alarms.AlarmID(r.URL.Query().Get("id"))
	ts, err := s.options.Tending.AlarmLog(r.Context(), id, alarmLines)
	if err != nil {
		return err
	}
	words, now := s.wordsOf(r), s.watch.Now()
	v := alarmPage{frame: s.frame(w, r, "One alarm"), ID: id, Choices: shelveChoices,
		Lines: words.tendLines(ts, now), Now: words.alarmNow(s.picture(words), id, now)}
	v.Said = sayings[r.URL.Query().Get("said")]
	if v.Now == nil && len(ts) == 0 {
		return faultf(kindAbsent, "There is no such alarm, or it has never been raised.")
	}
	if v.Told, err = s.toldOf(r.Context(), words, ts, now); err != nil {
		return err
	}
	for i := range v.Lines {
		v.Lines[i].Alarm, v.Lines[i].Told = "", "" // both stand here
	}
	return s.render(w, http.StatusOK, "alarm", v)
}

// alarmNow is the alarm as it is now, nil where it is normal.
func (w words) alarmNow(p alarms.Picture, id alarms.AlarmID, now time.Time) *alarmView {
	bySentence := map[alarms.AlarmID]string{}
	for _, a := range p.Alarms {
		bySentence[a.ID] = a.Sentence
	}
	for _, a := range p.Alarms {
		if a.ID == id {
			one := w.alarm(a, bySentence, now)
			return &one
		}
	}
	return nil
}

// toldOf lists who was told of some transitions of one alarm.
func (s *Server) toldOf(ctx context.Context, w words, ts []alarms.Transition, now time.Time) (lines []toldLine, err error) {
	if len(ts) == 0 {
		return nil, nil
	}
	ids := make([]string, 0, len(ts))
	for _, t := range ts {
		ids = append(ids, t.ID)
	}
	told, err := s.options.Tending.Tellings(ctx, ToldQuery{Transitions: ids, Limit: alarmLines})
	for _, t := range told {
		line := w.toldLine(t, now)
		line.Alarm = ""
		lines = append(lines, line)
	}
	return lines, err
}
