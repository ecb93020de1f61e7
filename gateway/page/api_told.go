package page

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"telltale/alarms"
)

type apiTelling struct {
	Seq        int64          `json:"seq"`
	Person     string         `json:"person,omitempty"`
	Channel    string         `json:"channel"`
	Kind       string         `json:"kind,omitempty"`
	Test       bool           `json:"test"`
	Alarm      alarms.AlarmID `json:"alarm,omitempty"`
	Transition string         `json:"transition,omitempty"`
	Sentence   string         `json:"sentence,omitempty"`
	Planned    time.Time      `json:"planned"`
	Outcome    ToldOutcome    `json:"outcome"`
	At         time.Time      `json:"tried_at,omitzero"`
	Tries      int            `json:"tries"`
	Next       time.Time      `json:"next_try,omitzero"`
	Waits      ToldWait       `json:"waits_for,omitempty"`
	Why        string         `json:"why,omitempty"`
}

type apiToldView struct {
	Tellings []apiTelling `json:"tellings"`
	Next     string       `json:"next,omitempty"`
}

// apiTold answers with who was to be told what, newest first.
func (s *Server) apiTold(w http.ResponseWriter, r *http.Request) error {
	if err := apiKnown(r, "after", "limit", "person", "channel"); err != nil {
		return err
	}
	q := r.URL.Query()
	ask := ToldQuery{Person: q.Get("person"), Channel: q.Get("channel")}
	if after := q.Get("after"); after != "" {
		n, err := strconv.ParseInt(after, 10, 64)
		if err != nil || n < 1 {
			return faultf(kindInvalid, "\"after\" must be the \"next\" of an answer before (got %q).", tidy(after, maxName))
		}
		ask.Before = n
	}
	limit, err := apiNumber("limit", q.Get("limit"), 50, mostLines)
	if err != nil {
		return err
	}
	ask.Limit = limit + 1
	ctx, cancel := context.WithTimeout(r.Context(), apiWait)
	defer cancel()
	found, err := s.options.Tending.Tellings(ctx, ask)
	if err != nil {
		return err
	}
	v := apiToldView{Tellings: []apiTelling{}}
	if len(found) > limit {
		found = found[:limit]
		v.Next = strconv.FormatInt(found[limit-1].Seq, 10)
	}
	for _, t := range found {
		v.Tellings = append(v.Tellings, s.apiTelling(t))
	}
	writeJSON(w, http.StatusOK, v)
	return nil
}

func (s *Server) apiTelling(t Telling) apiTelling {
	outcome := t.Outcome
	if outcome == ToldUndelivered {
		outcome = ToldGivenUp // which it has always been here
	}
	return apiTelling{t.Seq, t.Person, t.Channel, t.Kind, t.Test, t.Of.Alarm, t.Of.ID, s.lineOf(t.Of).Sentence,
		utc(t.Planned), outcome, utc(t.At), t.Tries, utc(t.Next), t.Waits, t.Why}
}
