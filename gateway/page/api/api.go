package api

import (
	"cmp"
	"context"
	"crypto/sha256"
	_ "embed" // for the document
	"encoding/hex"
	"encoding/json"
	"errors"
	"io"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"time"

	"telltale/alarms/say"
	"telltale/gateway/page/service"
	"telltale/gateway/page/words"

	"telltale/gateway/page/answer"
	"telltale/gateway/page/door"
)

//go:embed openapi.json
var document []byte

// longestEcho is how much is repeated of what was sent.
const longestEcho = 40

// programName is who acts where a program gives no name.
const programName = "a program"

// API is the interface for programs, with what it asks. It has no state.
type API struct {
	Watch   service.Watch
	Tending service.Tending // nil: neither log nor tellings
	Untold  service.Untold
	Words   words.Words
	Door    *door.Door
	Acts    Acts
	// Companion is for another watch that accompanies this one; nil: there is nothing to accompany.
	Companion service.Companion
}

// Acts is what programs may do like people. A handler finds what was asked in
// r.PostForm, as if a form had been sent.
type Acts struct {
	Acknowledge, Unshelve, TakeAlarmOut, PutAlarmBack, TakeProbeOut, PutProbeBack, SetSeason answer.Handler
	Shelve                                                                                   func(w http.ResponseWriter, r *http.Request, until time.Time) error
	SendTest                                                                                 func(context.Context) (id string, err error)
	Tested                                                                                   func(ctx context.Context, id string) (all []service.Telling, known bool, err error)
}

// inJSON answers errors as JSON, whatever the client would rather have.
func inJSON(h answer.Handler) answer.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		r.Header.Set("Accept", "application/json")
		return h(w, r)
	}
}

// Register hands out all addresses of the interface; each is for who may look, or
// for who may act.
func (a *API) Register(open func(pattern string, h answer.Handler)) {
	read := func(path string, h answer.Handler) { open("GET /api/v1/"+path, inJSON(a.Door.Program(h))) }
	act := func(path string, fields []string, h answer.Handler) {
		open("POST /api/v1/"+path, inJSON(a.Door.Program(a.Door.Acting(asForm(a.Door, fields, h)))))
	}
	read("openapi.json", describe)
	read("account", a.account)
	read("state", a.state)
	read("houses", a.houses)
	read("alarms", a.alarms)
	read("probes", a.probes)
	read("history", a.history)
	if a.Tending != nil {
		read("log", a.log)
		read("told", a.told)
	}
	read("test-message", a.tested)
	act("test-message", nil, a.test)
	act("alarms/acknowledge", []string{"alarm", "transition", "until?"}, a.Acts.Acknowledge)
	act("alarms/shelve", []string{"alarm", "until", "reason"}, a.shelve)
	act("alarms/unshelve", []string{"alarm"}, a.Acts.Unshelve)
	act("alarms/take-out", []string{"alarm", "reason"}, a.Acts.TakeAlarmOut)
	act("alarms/put-back", []string{"alarm"}, a.Acts.PutAlarmBack)
	act("probes/take-out", []string{"probe", "reason"}, a.Acts.TakeProbeOut)
	act("probes/put-back", []string{"probe"}, a.Acts.PutProbeBack)
	act("houses/season", []string{"house", "season"}, a.Acts.SetSeason)
	a.companionRoutes(open)
	open("/api/", inJSON(a.Door.Program(func(http.ResponseWriter, *http.Request) error {
		return answer.Errorf(answer.Absent, "There is no such address in this interface, or not for this method: /api/v1/openapi.json lists all.")
	})))
}

// asForm reads a JSON object of texts into r.PostForm. A field with a question mark may be missing.
func asForm(d *door.Door, fields []string, h answer.Handler) answer.Handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		known := []string{"by"}
		for _, f := range fields {
			known = append(known, strings.TrimSuffix(f, "?"))
		}
		given, err := readTexts(r, known)
		if err != nil {
			return err
		}
		for _, f := range fields {
			if given[f] == "" && !strings.HasSuffix(f, "?") {
				return answer.Errorf(answer.Invalid, "The field %q is missing, so nothing was done.", f)
			}
		}
		form := url.Values{"seen": {given["transition"]}}
		for f, text := range given {
			form.Set(f, text)
		}
		r = d.Named(r, cmp.Or(answer.Tidy(given["by"], longestEcho), programName))
		r.PostForm, r.Form = form, form
		return h(w, r)
	}
}

// readTexts reads a JSON object whose fields are texts.
func readTexts(r *http.Request, fields []string) (map[string]string, error) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return nil, answer.Errorf(answer.Invalid, "Send JSON, with Content-Type: application/json (got %q). Nothing was done.", answer.Tidy(r.Header.Get("Content-Type"), longestEcho))
	}
	var given map[string]string
	d := json.NewDecoder(r.Body)
	if err := d.Decode(&given); err != nil {
		if _, ok := errors.AsType[*http.MaxBytesError](err); ok {
			return nil, err
		}
		f := answer.Errorf(answer.Invalid, "What was sent is no JSON object of texts, so nothing was done.")
		f.Err = err
		return nil, f
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, answer.Errorf(answer.Invalid, "Something follows the JSON object, so nothing was done.")
	}
	for f := range given {
		if !slices.Contains(fields, f) {
			return nil, answer.Errorf(answer.Invalid, "The field %q is not known here; known: %s. Nothing was done.", answer.Tidy(f, longestEcho), strings.Join(fields, ", "))
		}
	}
	return given, nil
}

// describe answers with the document that describes all this.
func describe(w http.ResponseWriter, r *http.Request) error {
	sum := sha256.Sum256(document)
	tag := hex.EncodeToString(sum[:8])
	w.Header().Set("ETag", `"`+tag+`"`)
	w.Header().Set("Cache-Control", "private, no-cache")
	if strings.Contains(r.Header.Get("If-None-Match"), tag) { // it may have come packed
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	_, _ = w.Write(document) // a client that has gone cannot be told
	return nil
}

// shelve puts an alarm aside until a time.
func (a *API) shelve(w http.ResponseWriter, r *http.Request) error {
	now := a.Watch.Now()
	until, err := answer.Time("until", r.PostForm.Get("until"), now)
	if err != nil {
		return err
	}
	if !until.After(now) || until.After(now.Add(longestShelf)) {
		return answer.Errorf(answer.Invalid, "The field \"until\" must be later than now and within %s, so nothing was done.", say.Locale{}.Span(longestShelf))
	}
	return a.Acts.Shelve(w, r, until)
}
