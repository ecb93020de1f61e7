package metrics

import (
	"io"
	"net/http"
	"net/http/httptest"
	"testing"
)

// A web page cannot read the figures by a name that was made to point here.
func TestOnLoopbackForeignNamesAreRefused(t *testing.T) {
	s := httptest.NewServer(ByNumber(http.HandlerFunc(func(w http.ResponseWriter, _ *http.Request) { _, _ = io.WriteString(w, "figures") })))
	defer s.Close()
	for host, want := range map[string]int{"127.0.0.1:8471": 200, "[::1]:8471": 200, "localhost:8471": 200, "LOCALHOST": 200,
		"garden.example.org:8471": 421, "127.0.0.1.example.org": 421} {
		r, err := http.NewRequest("GET", s.URL, nil)
		if err != nil {
			t.Fatal(err)
		}
		r.Host = host
		a, err := s.Client().Do(r)
		if err != nil {
			t.Fatal(err)
		}
		_ = a.Body.Close()
		if a.StatusCode != want {
			t.Errorf("%s: got status %d, want %d", host, a.StatusCode, want)
		}
	}
}
