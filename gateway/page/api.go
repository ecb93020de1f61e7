package page

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

	"telltale/alarms"
)

// The interface for programs, below /api/v1/. Its names and meanings stay:
// what must change comes under another number. Everything in it is in °C and
// in the units it names, times are RFC 3339 in UTC, and every error is
// {"error": "a sentence"}. Answers are not to be stored, but for the document.

//go:embed openapi.json
var apiDocument []byte

// programName is who acts where a program gives no name.
const programName = "a program"

// tokenHeader is where a browser that is signed in gives its form token.
const tokenHeader = "Telltale-Token"

// callerKey is under which a request's context has its caller.
type callerKey struct{}

// caller is who uses the API.
type apiCaller struct {
	account *keeper // nil where nobody need show anything
	proof   proof
	name    string // in the log
}

// api is something to read, for who may look.
func (rt router) api(pattern string, h handler) {
	rt.open(pattern, apiErrors(rt.s, rt.s.apiSigned(h)))
}

// apiAct is something to do, for who may act. The handler finds what was asked
// in r.PostForm, as if a form had been sent.
func (rt router) apiAct(pattern string, fields []string, h handler) {
	rt.open(pattern, apiErrors(rt.s, rt.s.apiSigned(rt.s.acting(rt.s.apiForm(fields, h)))))
}

// apiErrors answers errors as JSON, whatever the client would rather have.
func apiErrors(s *Server, h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		r.Header.Set("Accept", "application/json")
		return h(w, r)
	}
}

func (s *Server) apiRoutes(rt router) {
	rt.api("GET /api/v1/openapi.json", apiDescribe)
	rt.api("GET /api/v1/account", s.apiAccount)
	rt.api("GET /api/v1/state", s.apiState)
	rt.api("GET /api/v1/houses", s.apiHouses)
	rt.api("GET /api/v1/alarms", s.apiAlarms)
	rt.api("GET /api/v1/probes", s.apiProbes)
	rt.api("GET /api/v1/history", s.apiHistory)
	if s.tends() {
		rt.api("GET /api/v1/log", s.apiLog)
		rt.api("GET /api/v1/told", s.apiTold)
	}
	rt.api("GET /api/v1/test-message", s.apiTested)
	rt.apiAct("POST /api/v1/test-message", nil, s.apiTest)
	rt.apiAct("POST /api/v1/alarms/acknowledge", []string{"alarm", "transition", "until?"}, s.acknowledge)
	rt.apiAct("POST /api/v1/alarms/shelve", []string{"alarm", "until", "reason"}, s.apiShelve)
	rt.apiAct("POST /api/v1/alarms/unshelve", []string{"alarm"}, s.unshelve)
	rt.apiAct("POST /api/v1/alarms/take-out", []string{"alarm", "reason"}, s.takeAlarmOut)
	rt.apiAct("POST /api/v1/alarms/put-back", []string{"alarm"}, s.putAlarmBack)
	rt.apiAct("POST /api/v1/probes/take-out", []string{"probe", "reason"}, s.takeProbeOut)
	rt.apiAct("POST /api/v1/probes/put-back", []string{"probe"}, s.putProbeBack)
	rt.apiAct("POST /api/v1/houses/season", []string{"house", "season"}, s.setSeason)
	rt.api("/api/", func(http.ResponseWriter, *http.Request) error {
		return faultf(kindAbsent, "There is no such address in this interface, or not for this method: /api/v1/openapi.json lists all.")
	})
}

// apiSigned lets in who may look, and nothing that another web page sent.
func (s *Server) apiSigned(h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		if s.fromElsewhere(r) {
			return faultf(kindRefused, "That came from another web page, so it is not answered.")
		}
		account, how, err := s.caller(w, r)
		if err != nil {
			return err
		}
		c := apiCaller{account: account, proof: how}
		if account != nil {
			c.name = account.Name
		}
		return h(w, r.WithContext(context.WithValue(r.Context(), callerKey{}, c)))
	}
}

// fromElsewhere reports whether a browser says that another page asks.
func (s *Server) fromElsewhere(r *http.Request) bool {
	switch r.Header.Get("Sec-Fetch-Site") {
	case "same-origin", "none":
		return false
	case "":
	default:
		return true
	}
	origin := r.Header.Get("Origin")
	if origin == "" {
		return false
	}
	u, err := url.Parse(origin)
	return err != nil || u.Host != r.Host && !slices.Contains(s.options.Hosts, u.Hostname())
}

// apiForm reads a JSON object of texts into r.PostForm. A browser that is
// signed in must give its form token; another proof no page can send unasked.
// A field with a question mark may be missing.
func (s *Server) apiForm(fields []string, h handler) handler {
	return func(w http.ResponseWriter, r *http.Request) error {
		c, _ := r.Context().Value(callerKey{}).(apiCaller)
		if c.proof == bySession && !s.sessions.tokenFits(s.sessions.visitor(r), r.Header.Get(tokenHeader)) {
			return faultf(kindRefused, "A browser that is signed in must send its form token in the header %s, so nothing was done.", tokenHeader)
		}
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
				return faultf(kindInvalid, "The field %q is missing, so nothing was done.", f)
			}
		}
		if c.name == "" {
			c.name = cmp.Or(tidy(given["by"], maxName), programName)
		}
		form := url.Values{"seen": {given["transition"]}}
		for f, text := range given {
			form.Set(f, text)
		}
		r = r.WithContext(context.WithValue(r.Context(), callerKey{}, c))
		r.PostForm, r.Form = form, form
		return h(w, r)
	}
}

// readTexts reads a JSON object whose fields are texts.
func readTexts(r *http.Request, fields []string) (map[string]string, error) {
	if kind, _, err := mime.ParseMediaType(r.Header.Get("Content-Type")); err != nil || kind != "application/json" {
		return nil, faultf(kindInvalid, "Send JSON, with Content-Type: application/json (got %q). Nothing was done.", tidy(r.Header.Get("Content-Type"), maxName))
	}
	var given map[string]string
	d := json.NewDecoder(r.Body)
	if err := d.Decode(&given); err != nil {
		var tooBig *http.MaxBytesError
		if errors.As(err, &tooBig) {
			return nil, err
		}
		return nil, &fault{Kind: kindInvalid, Say: "What was sent is no JSON object of texts, so nothing was done.", Err: err}
	}
	if _, err := d.Token(); err != io.EOF {
		return nil, faultf(kindInvalid, "Something follows the JSON object, so nothing was done.")
	}
	for f := range given {
		if !slices.Contains(fields, f) {
			return nil, faultf(kindInvalid, "The field %q is not known here; known: %s. Nothing was done.", tidy(f, maxName), strings.Join(fields, ", "))
		}
	}
	return given, nil
}

// apiDescribe answers with the document that describes all this.
func apiDescribe(w http.ResponseWriter, r *http.Request) error {
	sum := sha256.Sum256(apiDocument)
	tag := `"` + hex.EncodeToString(sum[:8]) + `"`
	w.Header().Set("ETag", tag)
	w.Header().Set("Cache-Control", "private, no-cache")
	if strings.Contains(r.Header.Get("If-None-Match"), tag) { // weak comparison: it may have come packed
		w.WriteHeader(http.StatusNotModified)
		return nil
	}
	w.Header().Set("Content-Type", "application/json; charset=utf-8")
	_, _ = w.Write(apiDocument) // a client that has gone cannot be told
	return nil
}

// apiShelve puts an alarm aside until a time.
func (s *Server) apiShelve(w http.ResponseWriter, r *http.Request) error {
	now := s.watch.Now()
	until, err := apiTime("until", r.PostForm.Get("until"), now)
	if err != nil {
		return err
	}
	if !until.After(now) || until.After(now.Add(longestShelf)) {
		return faultf(kindInvalid, "The field \"until\" must be later than now and within %s, so nothing was done.", alarms.Span(longestShelf))
	}
	a, err := s.find(r.PostForm.Get("alarm"))
	if err != nil {
		return err
	}
	return s.shelveUntil(w, r, a.ID, until)
}
