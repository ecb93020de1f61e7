package companion

import (
	"errors"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"

	"telltale/alarms"
	"telltale/alarms/companion"
)

const token = "a-token-drawn-at-random-24"

// first is a server that answers as given, and keeps what it was asked.
type first struct {
	*Client
	asked  []string
	status int
	answer string
}

func newFirst(t *testing.T) *first {
	f := &first{status: http.StatusOK}
	s := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		body, _ := io.ReadAll(r.Body)
		f.asked = append(f.asked, r.Method+" "+r.URL.Path+" "+r.Header.Get("Authorization")+" "+string(body))
		if f.status == http.StatusFound {
			w.Header().Set("Location", "/elsewhere")
		}
		w.WriteHeader(f.status)
		_, _ = io.WriteString(w, f.answer)
	}))
	t.Cleanup(s.Close)
	f.Client = New(Options{First: s.URL, Token: token})
	t.Cleanup(f.Close)
	return f
}

func TestReportIsAsked(t *testing.T) {
	f := newFirst(t)
	f.answer = `{"form":1,"garden":"g","plan":"p","alarms":[{"alarm":"long-house/bench/temperature/high","state":"unacknowledged","level":"outer","told_level":"outer","told_s_ago":3}]}`
	r, err := f.Report(t.Context())
	if err != nil || r.Plan != "p" || len(r.Alarms) != 1 || r.Alarms[0].State != alarms.Unacknowledged || r.Alarms[0].ToldAgo != 3 {
		t.Errorf("got %+v, %v", r, err)
	}
	if want := "GET /api/v1/companion Bearer " + token + " "; len(f.asked) != 1 || f.asked[0] != want {
		t.Errorf("asked %q, want %q", f.asked, want)
	}
}

// Whatever the first answers that is no report is an error which says what to look at.
func TestNoReportIsAnError(t *testing.T) {
	for _, c := range []struct {
		status       int
		answer, want string
	}{
		{200, `{"form":2}`, "reports in form 2, and this program reads form 1"},
		{200, "<html>", "is there a Telltale of the same version"},
		{200, `{"form":1,"plan":"` + strings.Repeat("x", most), "cannot be read"},
		{401, `{"error":"Sign in."}`, `may = "accompany"`},
		{403, `{"error":"This is for a companion alone."}`, "This is for a companion alone."},
		{302, "", "status 302"},
		{500, "", "Internal Server Error"},
		{404, `{"error":"There is no such page."}`, "There is no such page."},
	} {
		f := newFirst(t)
		f.status, f.answer = c.status, c.answer
		if _, err := f.Report(t.Context()); err == nil || !strings.Contains(err.Error(), c.want) {
			t.Errorf("%d %.40s: got %v, want an error with %q", c.status, c.answer, err, c.want)
		}
		if len(f.asked) != 1 {
			t.Errorf("%d: it asked %d times, and must not go where it is sent", c.status, len(f.asked))
		}
	}
	gone := New(Options{First: "http://127.0.0.1:1", Token: token})
	if _, err := gone.Report(t.Context()); err == nil || !strings.Contains(err.Error(), "it does not answer at http://127.0.0.1:1") || strings.Contains(err.Error(), token) {
		t.Errorf("of nobody: %v", err)
	}
}

func TestPlanAndActs(t *testing.T) {
	f := newFirst(t)
	f.answer = `{"version":"v","plan":"[house.long-house]\n"}`
	if plan, err := f.Plan(t.Context()); err != nil || string(plan) != "[house.long-house]\n" {
		t.Errorf("got %q, %v", plan, err)
	}
	f.answer = `{"version":"","plan":""}`
	if _, err := f.Plan(t.Context()); err == nil {
		t.Error("an empty plan is taken")
	}
	f.answer = `{"said":"done"}`
	act := companion.Act{ID: 3, Kind: alarms.Acknowledge.String(), Alarm: "long-house/bench/temperature/high", By: "Ada"}
	if err := f.Give(t.Context(), act); err != nil {
		t.Error(err)
	}
	if got := f.asked[2]; !strings.HasPrefix(got, "POST /api/v1/companion/act ") || !strings.Contains(got, `"by":"Ada"`) {
		t.Errorf("gave %q", got)
	}
	for _, status := range []int{http.StatusBadRequest, http.StatusConflict} {
		f.status, f.answer = status, `{"error":"It is over."}`
		if err := f.Give(t.Context(), act); !errors.Is(err, ErrRefused) || !strings.Contains(err.Error(), "It is over.") {
			t.Errorf("%d: got %v", status, err)
		}
	}
	f.status = http.StatusServiceUnavailable
	if err := f.Give(t.Context(), act); err == nil || errors.Is(err, ErrRefused) {
		t.Errorf("a first that cannot just now gives %v, want an error that is tried again", err)
	}
}

var noon = time.Date(2026, 6, 20, 12, 0, 0, 0, time.UTC)
