package api

import (
	"context"
	"encoding/json"
	"io"
	"mime"
	"net/http"

	"telltale/alarms/companion"
	"telltale/gateway/page/answer"
)

// mostWord is how long the word of a companion may be, which comes back in the report.
const mostWord = 64

// companionRoutes are for another watch of the same garden alone.
func (a *API) companionRoutes(open func(pattern string, h answer.Handler)) {
	only := func(pattern string, h answer.Handler) {
		open(pattern, inJSON(a.Door.Accompanying(func(w http.ResponseWriter, r *http.Request) error {
			if a.Companion == nil {
				return answer.Errorf(answer.Absent, "This watch has nothing that could be accompanied.")
			}
			return h(w, r)
		})))
	}
	only("GET /api/v1/companion", a.report)
	only("GET /api/v1/companion/plan", a.plan)
	only("POST /api/v1/companion/act", a.companionAct)
}

// report says how the watch is.
func (a *API) report(w http.ResponseWriter, r *http.Request) error {
	if err := onlyKnown(r, "word"); err != nil {
		return err
	}
	answer.JSON(w, http.StatusOK, a.Companion.Report(answer.Tidy(r.URL.Query().Get("word"), mostWord)))
	return nil
}

type planView struct {
	Version string `json:"version"`
	Plan    string `json:"plan"`
}

// plan is what the companion judges by and whom it tells.
func (a *API) plan(w http.ResponseWriter, r *http.Request) error {
	if err := onlyKnown(r); err != nil {
		return err
	}
	text, version := a.Companion.Plan()
	answer.JSON(w, http.StatusOK, planView{version, text})
	return nil
}

// companionAct does what somebody did at the companion.
func (a *API) companionAct(w http.ResponseWriter, r *http.Request) error {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return answer.Errorf(answer.Invalid, "Send JSON, with Content-Type: application/json. Nothing was done.")
	}
	var act companion.Act
	d := json.NewDecoder(r.Body)
	d.DisallowUnknownFields()
	if err := d.Decode(&act); err != nil {
		return &answer.Error{Kind: answer.Invalid, Say: "What was sent is no act of a person, so nothing was done.", Err: err}
	}
	if _, err := d.Token(); err != io.EOF {
		return answer.Errorf(answer.Invalid, "Something follows the JSON object, so nothing was done.")
	}
	ctx, cancel := context.WithTimeout(r.Context(), apiWait)
	defer cancel()
	if err := a.Companion.Act(ctx, act); err != nil {
		return answer.Errorf(answer.Changed, "That was not done: %v", err)
	}
	answer.JSON(w, http.StatusOK, map[string]string{"said": "It was done here as at the companion."})
	return nil
}
