package page

import (
	"context"
	"errors"
	"net/http"
	"strings"
	"testing"

	"telltale/alarms"
	"telltale/alarms/companion"
	"telltale/alarms/say"
)

// fakeCompanion answers a companion like a watch with one alarm.
type fakeCompanion struct{ acts []companion.Act }

func (f *fakeCompanion) Report(echo string) companion.Report {
	p := scene(noon)
	r := companion.Of(p, p.At, func(alarms.AlarmID) companion.Told { return companion.Told{Level: alarms.Outer, At: p.At} })
	r.Garden, r.Plan, r.Echo = "garden", "0123", echo
	return r
}

func (f *fakeCompanion) Plan() (text, version string) { return "[house.long-house]\n", "0123" }

func (f *fakeCompanion) Act(_ context.Context, a companion.Act) error {
	if a.Alarm == "no/such" {
		return errors.New("there is no such alarm")
	}
	f.acts = append(f.acts, a)
	return nil
}

func TestTheCompanionsAccountSeesNothingElse(t *testing.T) {
	a := apiOf(t)
	for _, path := range a.server.served {
		method, path, _ := strings.Cut(path, " ")
		if method != "GET" || strings.HasPrefix(path, "/api/v1/companion") || strings.Contains(path, "{") || path == "/healthz" {
			continue
		}
		r, err := http.NewRequest(method, a.base+path, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Header.Set("Authorization", "Bearer "+secondToken)
		got, err := (&http.Client{CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }}).Do(r)
		if err != nil {
			t.Fatal(err)
		}
		got.Body.Close()
		if got.StatusCode == http.StatusOK && path != "/sign-in" && !strings.HasSuffix(path, ".webmanifest") && !strings.HasSuffix(path, ".js") && !strings.HasSuffix(path, ".svg") {
			t.Errorf("%s %s: got status 200", method, path)
		}
	}
	for _, token := range []string{programToken, lookToken, ""} {
		want := http.StatusForbidden
		if token == "" {
			want = http.StatusUnauthorized
		}
		a.call("GET", "/api/v1/companion", token, "", want)
		a.call("GET", "/api/v1/companion/plan", token, "", want)
		a.call("POST", "/api/v1/companion/act", token, `{"id":1,"kind":"acknowledge"}`, want)
	}
	for body, want := range map[string]int{
		`{"id":1,"kind":"acknowledge","alarm":"no/such"}`: http.StatusConflict,
		`{"id":1,"kind":"acknowledge","more":"x"}`:        http.StatusBadRequest,
		`{"id":1,"kind":"acknowledge"}{}`:                 http.StatusBadRequest,
		`[]`:                                              http.StatusBadRequest,
	} {
		a.call("POST", "/api/v1/companion/act", secondToken, body, want)
	}
}

func TestEveryPageOfACompanionSaysSo(t *testing.T) {
	f, tending := tended()
	said := "This is the companion of the watch at https://long-house.example.org."
	st := start(t, Options{Watch: f, Tending: tending, Accompanies: func(say.Locale) string { return said }})
	for _, path := range []string{"/", "/wall", "/log", "/probes", "/told", "/help"} {
		if _, text := st.get(path); !strings.Contains(text, said) {
			t.Errorf("%s does not say what it accompanies", path)
		}
	}
}
