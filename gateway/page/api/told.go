package api

import (
	"context"
	"net/http"
	"strconv"
	"time"

	"telltale/alarms"
	"telltale/gateway/page/answer"
	"telltale/gateway/page/service"
)

type telling struct {
	Seq        int64               `json:"seq"`
	Person     string              `json:"person,omitempty"`
	Channel    string              `json:"channel"`
	Kind       string              `json:"kind,omitempty"`
	Test       bool                `json:"test"`
	Alarm      alarms.AlarmID      `json:"alarm,omitempty"`
	Transition string              `json:"transition,omitempty"`
	Sentence   string              `json:"sentence,omitempty"`
	Planned    time.Time           `json:"planned"`
	Outcome    service.ToldOutcome `json:"outcome"`
	At         time.Time           `json:"tried_at,omitzero"`
	Tries      int                 `json:"tries"`
	Next       time.Time           `json:"next_try,omitzero"`
	Waits      service.ToldWait    `json:"waits_for,omitempty"`
	Why        string              `json:"why,omitempty"`
}

type toldView struct {
	Tellings []telling `json:"tellings"`
	Next     string    `json:"next,omitempty"`
}

// told answers with who was to be told what, newest first.
func (a *API) told(w http.ResponseWriter, r *http.Request) error {
	if err := onlyKnown(r, "after", "limit", "person", "channel"); err != nil {
		return err
	}
	q := r.URL.Query()
	ask := service.ToldQuery{Person: q.Get("person"), Channel: q.Get("channel")}
	if after := q.Get("after"); after != "" {
		n, err := strconv.ParseInt(after, 10, 64)
		if err != nil || n < 1 {
			return answer.Errorf(answer.Invalid, "\"after\" must be the \"next\" of an answer before (got %q).", answer.Tidy(after, longestEcho))
		}
		ask.Before = n
	}
	limit, err := number("limit", q.Get("limit"), 50, mostLines)
	if err != nil {
		return err
	}
	ask.Limit = limit + 1
	ctx, cancel := context.WithTimeout(r.Context(), apiWait)
	defer cancel()
	found, err := a.Tending.Tellings(ctx, ask)
	if err != nil {
		return err
	}
	v := toldView{Tellings: []telling{}}
	if len(found) > limit {
		found = found[:limit]
		v.Next = strconv.FormatInt(found[limit-1].Seq, 10)
	}
	for _, t := range found {
		v.Tellings = append(v.Tellings, a.telling(t))
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}

func (a *API) telling(t service.Telling) telling {
	outcome := t.Outcome
	if outcome == service.ToldUndelivered {
		outcome = service.ToldGivenUp // which it has always been here
	}
	return telling{t.Seq, t.Person, t.Channel, t.Kind, t.Test, t.Of.Alarm, t.Of.ID, a.lineOf(t.Of).Sentence,
		t.Planned.UTC(), outcome, t.At.UTC(), t.Tries, t.Next.UTC(), t.Waits, t.Why}
}

type testView struct {
	Test     string    `json:"test"`
	Known    bool      `json:"known"`
	Tellings []telling `json:"tellings"`
}

// test sends a test message and answers with what came of it.
func (a *API) test(w http.ResponseWriter, r *http.Request) error {
	id, err := a.Acts.SendTest(r.Context())
	if err != nil {
		return err
	}
	return a.testOf(w, r, id)
}

// tested answers with what came of a test message.
func (a *API) tested(w http.ResponseWriter, r *http.Request) error {
	if err := onlyKnown(r, "test"); err != nil {
		return err
	}
	return a.testOf(w, r, r.URL.Query().Get("test"))
}

func (a *API) testOf(w http.ResponseWriter, r *http.Request, id string) error {
	all, known, err := a.Acts.Tested(r.Context(), id)
	if err != nil {
		return err
	}
	v := testView{Test: id, Known: known}
	for _, t := range all {
		v.Tellings = append(v.Tellings, a.telling(t))
	}
	answer.JSON(w, http.StatusOK, v)
	return nil
}
