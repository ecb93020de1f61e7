package page

import (
	"bytes"
	"encoding/json"
	"io"
	"net/http"
	"net/url"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/getkin/kin-openapi/openapi3"
	"github.com/getkin/kin-openapi/openapi3filter"
	"github.com/getkin/kin-openapi/routers"
	"github.com/getkin/kin-openapi/routers/gorillamux"

	"telltale/alarms"
	"telltale/gateway/page/door"
)

const (
	programToken = "c2Vrcml0LXRva2VuLW9mLXRoZXNlLXRlc3Rz"
	secondToken  = "b25lLW1vcmUtdG9rZW4tb2YtdGhlc2UtdGVzdHM"
	lookToken    = "YW5vdGhlci10b2tlbi1vZi10aGVzZS10ZXN0cw"
)

// people are two accounts of people and two of programs.
func people() []door.Account {
	return []door.Account{
		{ID: "ada", Name: "Ada", May: door.MayAct, PasswordHash: quickHash(password)},
		{ID: "ben", Name: "Ben", May: door.MayView, PasswordHash: quickHash(benPassword)},
		{ID: "lamp", May: door.MayAct, Token: programToken},
		{ID: "screen", Name: "Screen in the shed", May: door.MayView, Token: lookToken},
	}
}

// document reads the published document by a library that knows OpenAPI 3.1,
// which checks it against that specification.
func document(t *testing.T) (*openapi3.T, routers.Router) {
	t.Helper()
	doc, err := openapi3.NewLoader().LoadFromFile("api/openapi.json")
	if err != nil {
		t.Fatal(err)
	}
	if err := doc.Validate(t.Context()); err != nil {
		t.Fatal(err)
	}
	router, err := gorillamux.NewRouter(doc)
	if err != nil {
		t.Fatal(err)
	}
	return doc, router
}

// apiStand is a served API, and its document to hold answers against.
type apiStand struct {
	*started
	fake   *fakeWatch
	router routers.Router
	used   map[string]bool // operations that answered well
}

func apiOf(t *testing.T) *apiStand {
	t.Helper()
	f, tending := tended()
	st := start(t, Options{Watch: f, Accounts: append(people(), door.Account{ID: "second", May: door.MayAccompany, Token: secondToken}), Tending: tending,
		Companion: &fakeCompanion{}})
	st.client.Jar = nil
	_, router := document(t)
	return &apiStand{started: st, fake: f, router: router, used: map[string]bool{}}
}

// call sends a request with a token and holds request and answer against the
// document: what is answered with 200 must have been asked as documented.
func (a *apiStand) call(method, path, token, body string, want int) []byte {
	a.t.Helper()
	r, err := http.NewRequest(method, a.base+path, strings.NewReader(body))
	if err != nil {
		a.t.Fatal(err)
	}
	if token != "" {
		r.Header.Set("Authorization", "Bearer "+token)
	}
	if method == "POST" {
		r.Header.Set("Content-Type", "application/json")
	}
	answer, err := a.client.Do(r)
	if err != nil {
		a.t.Fatal(err)
	}
	defer answer.Body.Close()
	text, err := io.ReadAll(answer.Body)
	if err != nil {
		a.t.Fatal(err)
	}
	if answer.StatusCode != want {
		a.t.Errorf("%s %s: got status %d, want %d: %s", method, path, answer.StatusCode, want, text)
		return text
	}
	route, params, err := a.router.FindRoute(r)
	if err != nil {
		a.t.Fatalf("%s %s is not documented: %v", method, path, err)
	}
	r.Body = io.NopCloser(strings.NewReader(body))
	in := &openapi3filter.RequestValidationInput{Request: r, PathParams: params, Route: route,
		Options: &openapi3filter.Options{AuthenticationFunc: openapi3filter.NoopAuthenticationFunc, IncludeResponseStatus: true}}
	if want == http.StatusOK {
		if err := openapi3filter.ValidateRequest(a.t.Context(), in); err != nil {
			a.t.Errorf("%s %s is answered but not documented so: %v", method, path, err)
		}
		a.used[method+" "+route.Path] = true
	}
	out := &openapi3filter.ResponseValidationInput{RequestValidationInput: in, Status: answer.StatusCode, Header: answer.Header,
		Options: in.Options}
	out.SetBodyBytes(text)
	if err := openapi3filter.ValidateResponse(a.t.Context(), out); err != nil {
		a.t.Errorf("%s %s: the answer is not as documented: %v\n%s", method, path, err, text)
	}
	return text
}

func TestAPIAnswersAsDocumented(t *testing.T) {
	a := apiOf(t)
	for _, path := range []string{"/account", "/state", "/houses", "/alarms", "/probes", "/openapi.json", "/log", "/told",
		"/history?house=long-house&place=ridge&quantity=temperature",
		"/history?house=long-house&place=ridge&quantity=temperature&points=10&from=2026-06-20T00:00:00Z&to=2026-06-20T12:00:00%2B02:00",
		"/log?limit=2&kind=alarms&priority=high&words=too", "/told?limit=1&person=Ada&channel=mail"} {
		for _, token := range []string{programToken, lookToken} {
			a.call("GET", "/api/v1"+path, token, "", http.StatusOK)
		}
	}
	a.call("GET", "/api/v1/companion?word=hello", secondToken, "", http.StatusOK)
	a.call("GET", "/api/v1/companion/plan", secondToken, "", http.StatusOK)
	a.call("POST", "/api/v1/companion/act", secondToken, `{"id":1,"kind":"acknowledge","alarm":"`+string(ridgeHigh)+`","by":"Ada","until":"`+noon.Format(time.RFC3339)+`"}`, http.StatusOK)
	seen := string(ridgeHigh) + "#3"
	until := noon.Add(time.Hour).Format(time.RFC3339)
	for _, c := range []struct {
		path, body string
		kind       alarms.InputKind
	}{
		{"/alarms/acknowledge", `{"alarm":"` + string(ridgeHigh) + `","transition":"` + seen + `","by":"Mallory"}`, alarms.Acknowledge},
		{"/alarms/shelve", `{"alarm":"` + string(ridgeHigh) + `","until":"` + until + `","reason":"the fan is being mended"}`, alarms.Shelve},
		{"/alarms/unshelve", `{"alarm":"` + string(ridgeHigh) + `"}`, alarms.Unshelve},
		{"/probes/take-out", `{"probe":"ridge-1","reason":"new battery"}`, alarms.TakeOut},
		{"/probes/put-back", `{"probe":"ridge-1"}`, alarms.PutBack},
		{"/houses/season", `{"house":"long-house","season":"winter"}`, alarms.SetSeason},
	} {
		before := len(a.fake.done())
		a.call("POST", "/api/v1"+c.path, programToken, c.body, http.StatusOK)
		done := a.fake.done()
		if len(done) != before+1 || done[before].Kind != c.kind || done[before].By != "lamp" {
			t.Errorf("%s: got the acts %+v, want one more, %s by lamp", c.path, done[before:], c.kind)
		}
		a.call("POST", "/api/v1"+c.path, lookToken, c.body, http.StatusForbidden)
		if n := len(a.fake.done()); n != before+1 {
			t.Errorf("%s: a program that may look only did something", c.path)
		}
	}
	a.fake.settle()
	var sent struct {
		Test     string
		Known    bool
		Tellings []any
	}
	if err := json.Unmarshal(a.call("POST", "/api/v1/test-message", programToken, `{}`, http.StatusOK), &sent); err != nil || !sent.Known || len(sent.Tellings) != 5 {
		t.Errorf("the test message: %+v, %v", sent, err)
	}
	a.call("POST", "/api/v1/test-message", programToken, `{"by":"Ada"}`, http.StatusTooManyRequests)
	a.call("POST", "/api/v1/test-message", lookToken, `{}`, http.StatusForbidden)
	a.call("GET", "/api/v1/test-message?test="+url.QueryEscape(sent.Test), lookToken, "", http.StatusOK)
	a.fake.change(func(p *alarms.Picture) { p.Alarms[0].State = alarms.OutOfService })
	a.call("POST", "/api/v1/alarms/take-out", programToken, `{"alarm":"`+string(ridgeHigh)+`","reason":"the fan is away"}`, http.StatusOK)
	a.call("POST", "/api/v1/alarms/put-back", programToken, `{"alarm":"`+string(ridgeHigh)+`"}`, http.StatusOK)
	doc, _ := document(t)
	for path, item := range doc.Paths.Map() {
		for method := range item.Operations() {
			if !a.used[method+" "+path] {
				t.Errorf("%s %s was never answered well here", method, path)
			}
		}
	}
}

// Every route of the API is in the document, and the other way round.
func TestAPIRoutesAndDocumentAgree(t *testing.T) {
	a := apiOf(t)
	doc, _ := document(t)
	var routes, documented []string
	for _, pattern := range a.server.served {
		if strings.Contains(pattern, " /api/") {
			routes = append(routes, pattern)
		}
	}
	for path, item := range doc.Paths.Map() {
		for method := range item.Operations() {
			documented = append(documented, method+" "+path)
		}
	}
	slices.Sort(routes)
	slices.Sort(documented)
	if !slices.Equal(routes, documented) || len(routes) < 15 {
		t.Errorf("served\n%s\ndocumented\n%s", strings.Join(routes, "\n"), strings.Join(documented, "\n"))
	}
}

// The same temperature is 28.4 °C in a garden that reads °F, too.
func TestAPIIsInCelsius(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f, Words: alarms.Words{Fahrenheit: true}})
	_, text := st.get("/api/v1/state", "Accept", "application/json")
	wantNone(t, text, "°F")
	_, text = st.get("/api/v1/houses", "Accept", "application/json")
	var got struct {
		Houses []struct {
			Places []struct {
				ID     string
				Points []struct {
					Quantity, Unit string
					Value          *float64
				}
			}
		}
	}
	if err := json.Unmarshal([]byte(text), &got); err != nil {
		t.Fatal(err)
	}
	pt := got.Houses[0].Places[0].Points[0]
	want := f.Picture().Houses[0].Places[0].Points[0]
	if pt.Unit != "°C" || pt.Value == nil || *pt.Value != want.Value {
		t.Errorf("got %+v, want %v °C", pt, want.Value)
	}
}

func TestAPIRefuses(t *testing.T) {
	a := apiOf(t)
	ack := `{"alarm":"` + string(ridgeHigh) + `","transition":"` + string(ridgeHigh) + `#2"}`
	for _, c := range []struct {
		method, path, token, body string
		status                    int
		says                      string
	}{
		{"GET", "/state", "", "", 401, "Give a token, or name and password."},
		{"GET", "/state", "no such token, but a long one", "", 401, "That token is not known."},
		{"POST", "/alarms/acknowledge", "", ack, 401, "Give a token"},
		{"POST", "/alarms/acknowledge", programToken, ack, 409, "It changed while you were reading, so nothing was done."},
		{"POST", "/alarms/acknowledge", programToken, `{"alarm":"no/such","transition":"x"}`, 409, "That alarm is not there any more"},
		{"POST", "/alarms/acknowledge", programToken, `{"alarm":"x"}`, 400, `The field "transition" is missing`},
		{"POST", "/alarms/acknowledge", programToken, `{"alarm":1}`, 400, "no JSON object of texts"},
		{"POST", "/alarms/acknowledge", programToken, `{"alarm":"x","transition":"y"} x`, 400, "Something follows"},
		{"POST", "/alarms/acknowledge", programToken, `{"alarm":"x","transition":"y","when":"z"}`, 400, `The field "when" is not known here; known: by, alarm, transition, until.`},
		{"POST", "/alarms/acknowledge", programToken, ``, 400, "no JSON object"},
		{"POST", "/alarms/shelve", programToken, `{"alarm":"x","until":"tomorrow","reason":"r"}`, 400, `"until" must be a time such as 2026-06-21T12:00:00Z (got "tomorrow").`},
		{"POST", "/alarms/shelve", programToken, `{"alarm":"x","until":"2026-06-21T12:00:00Z","reason":"r"}`, 400, `must be later than now`},
		{"POST", "/alarms/shelve", programToken, `{"alarm":"x","until":"2027-06-21T12:00:00Z","reason":"r"}`, 400, `within 14 d`},
		{"POST", "/houses/season", programToken, `{"house":"long-house","season":"autumn"}`, 400, "Choose a season"},
		{"POST", "/probes/take-out", programToken, `{"probe":"x","reason":"y"}`, 409, "That probe is not there any more"},
		{"GET", "/history?house=long-house&place=nowhere&quantity=temperature", programToken, "", 404, `no place "nowhere"`},
		{"GET", "/history?house=long-house&place=ridge&quantity=smell", programToken, "", 404, `has no "smell"`},
		{"GET", "/history?house=long-house&place=ridge&quantity=temperature&points=0", programToken, "", 400, "from 1 to 2000"},
		{"GET", "/history?house=long-house&place=ridge&quantity=temperature&from=2027-01-01T00:00:00Z", programToken, "", 400, `"from" must be earlier`},
		{"GET", "/history?house=long-house&place=ridge&quantity=temperature&form=x", programToken, "", 400, `The parameter "form" is not known here`},
		{"GET", "/log?kind=gossip", programToken, "", 400, `"kind" must be`},
		{"GET", "/log?priority=none", programToken, "", 400, `"priority" must be`},
		{"GET", "/log?after=x", programToken, "", 400, `"after" must be`},
		{"GET", "/log?limit=5000", programToken, "", 400, "from 1 to 200"},
		{"GET", "/told?after=-1", programToken, "", 400, `"after" must be`},
		{"GET", "/test-message?test=x", programToken, "", 404, "There is no such test message"},
		{"GET", "/test-message?of=x", programToken, "", 400, `The parameter "of" is not known here`},
		{"POST", "/test-message", programToken, `{"to":"Ada"}`, 400, `The field "to" is not known here; known: by.`},
	} {
		text := a.call(c.method, "/api/v1"+c.path, c.token, c.body, c.status)
		var got struct{ Error string }
		if err := json.Unmarshal(text, &got); err != nil || !strings.Contains(got.Error, c.says) {
			t.Errorf("%s %s %s: got %s, want %q", c.method, c.path, c.body, text, c.says)
		}
	}
	if n := len(a.fake.done()); n != 0 {
		t.Errorf("%d things were done", n)
	}
	answer, text := a.get("/api/v1/nothing", "Authorization", "Bearer "+programToken)
	if answer.StatusCode != http.StatusNotFound || answer.Header.Get("Content-Type") != "application/json; charset=utf-8" {
		t.Errorf("an address that is none: got %d %s", answer.StatusCode, text)
	}
}

// What a browser may do in the API, signed in as Ada.
func TestAPIFromABrowser(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f, Accounts: people(), Tending: plainTending(f)})
	if a, _ := st.post("/sign-in", "account", "Ada", "password", password); a.StatusCode != http.StatusSeeOther {
		t.Fatalf("sign in: got status %d", a.StatusCode)
	}
	_, text := st.get("/api/v1/account", "Sec-Fetch-Site", "same-origin")
	var me struct {
		Account, Name string
		May           door.May
	}
	if err := json.Unmarshal([]byte(text), &me); err != nil || me.Account != "ada" || me.Name != "Ada" || me.May != door.MayAct {
		t.Fatalf("got %s", text)
	}
	send := func(headers ...string) int {
		t.Helper()
		r, err := http.NewRequest("POST", st.base+"/api/v1/houses/season", bytes.NewBufferString(`{"house":"long-house","season":"winter"}`))
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Content-Type", "application/json")
		for i := 0; i+1 < len(headers); i += 2 {
			r.Header.Set(headers[i], headers[i+1])
		}
		a, err := st.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		return a.StatusCode
	}
	for name, c := range map[string]struct {
		headers []string
		want    int
	}{
		"from another site":             {[]string{"Sec-Fetch-Site", "cross-site"}, 403},
		"from another origin":           {[]string{"Origin", "http://evil.example.org"}, 403},
		"a form, as any page can send":  {[]string{"Content-Type", "text/plain"}, 400},
		"a program behind another page": {[]string{"Authorization", "Bearer " + programToken, "Sec-Fetch-Site", "cross-site"}, 403},
	} {
		if got := send(c.headers...); got != c.want || len(f.done()) != 0 {
			t.Errorf("%s: got status %d and %d acts, want %d and none", name, got, len(f.done()), c.want)
		}
	}
	if got := send("Sec-Fetch-Site", "same-origin", "Origin", st.base); got != http.StatusOK || len(f.done()) != 1 || f.done()[0].By != "Ada" {
		t.Errorf("from the page itself: got status %d and %+v", got, f.done())
	}
}

func TestAPIWithNameAndPassword(t *testing.T) {
	a := apiOf(t)
	for _, c := range []struct {
		name, password string
		want           int
	}{{"ada", password, 200}, {"Ada", password, 200}, {"ben", benPassword, 200}, {"ada", benPassword, 401}, {"nobody", password, 401}, {"", password, 401}} {
		r, err := http.NewRequest("GET", a.base+"/api/v1/account", nil)
		if err != nil {
			t.Fatal(err)
		}
		r.SetBasicAuth(c.name, c.password)
		answer, err := a.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		answer.Body.Close()
		if answer.StatusCode != c.want {
			t.Errorf("%s: got status %d, want %d", c.name, answer.StatusCode, c.want)
		}
	}
}

// The document has an ETag; all else is not to be stored.
func TestAPIAndCaches(t *testing.T) {
	a := apiOf(t)
	bearer := []string{"Authorization", "Bearer " + lookToken}
	first, _ := a.get("/api/v1/openapi.json", bearer...)
	tag := first.Header.Get("ETag")
	again, text := a.get("/api/v1/openapi.json", append(bearer, "If-None-Match", tag)...)
	if tag == "" || again.StatusCode != http.StatusNotModified || text != "" {
		t.Errorf("got the tag %q, then status %d", tag, again.StatusCode)
	}
	for _, path := range []string{"state", "houses", "alarms", "probes", "log", "told", "account"} {
		if got, _ := a.get("/api/v1/"+path, bearer...); got.Header.Get("Cache-Control") != "no-store" {
			t.Errorf("%s: got Cache-Control %q", path, got.Header.Get("Cache-Control"))
		}
	}
}

// Without any password, the machine's own programs act under the name they give.
func TestAPIOnAnOpenPage(t *testing.T) {
	f := newFake()
	st := start(t, Options{Watch: f})
	for by, want := range map[string]string{`,"by":"Ben"`: "Ben", "": "a program"} {
		before := len(f.done())
		r, err := http.NewRequest("POST", st.base+"/api/v1/houses/season", strings.NewReader(`{"house":"long-house","season":"winter"`+by+`}`))
		if err != nil {
			t.Fatal(err)
		}
		f.change(func(p *alarms.Picture) { p.Houses[0].Season = alarms.SeasonOpen })
		r.Header.Set("Content-Type", "application/json")
		a, err := st.client.Do(r)
		if err != nil {
			t.Fatal(err)
		}
		a.Body.Close()
		if a.StatusCode != http.StatusOK || len(f.done()) != before+1 || f.done()[before].By != want || len(a.Cookies()) != 0 {
			t.Errorf("%q: got status %d, acts %+v, cookies %v", by, a.StatusCode, f.done()[before:], a.Cookies())
		}
	}
	if a, _ := st.get("/api/v1/state?"+url.Values{}.Encode(), "Host", "evil.example.org"); a.StatusCode != http.StatusForbidden {
		t.Errorf("under a foreign name: got status %d", a.StatusCode)
	}
}
