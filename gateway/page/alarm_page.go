package page

import (
	"context"
	"net/http"
	"slices"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"
)

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
	Untold  bool // nothing of Told has gone out
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
	v.Said = sayings[r.URL.Query().Get("said")]
	if v.Now == nil && len(ts) == 0 {
		return answer.Errorf(answer.Absent, "There is no such alarm, or it has never been raised.")
	}
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
	return s.render(w, http.StatusOK, "alarm", v)
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
