package page

import (
	"bytes"
	"compress/gzip"
	"io"
	"net/http"
	"net/http/httptest"
	"strings"
	"testing"
	"time"
)

// plainly asks without the packing that Go's client would undo by itself.
func (st *started) plainly(path string, headers ...string) (*http.Response, []byte) {
	st.t.Helper()
	was := st.client.Transport
	st.client.Transport = &http.Transport{DisableCompression: true}
	defer func() { st.client.Transport = was }()
	a, text := st.get(path, headers...)
	return a, []byte(text)
}

func unpacked(t *testing.T, data []byte) string {
	t.Helper()
	z, err := gzip.NewReader(bytes.NewReader(data))
	if err != nil {
		t.Fatal(err)
	}
	text, err := io.ReadAll(z)
	if err != nil {
		t.Fatal(err)
	}
	return string(text)
}

func TestPagesAndFilesArePacked(t *testing.T) {
	st := startDay(t)
	for _, path := range []string{"/", "/back?house=long-house&zoom=year", "/state.json", "/static/page.css", "/static/page.js"} {
		plain, whole := st.plainly(path)
		a, packed := st.plainly(path, "Accept-Encoding", "gzip")
		if a.Header.Get("Content-Encoding") != "gzip" || plain.Header.Get("Content-Encoding") != "" {
			t.Errorf("%s: got encodings %q and without asking %q", path, a.Header.Get("Content-Encoding"), plain.Header.Get("Content-Encoding"))
			continue
		}
		for _, one := range []*http.Response{a, plain} {
			if got := one.Header.Values("Vary"); !strings.Contains(strings.Join(got, ","), "Accept-Encoding") {
				t.Errorf("%s: caches are not told that it varies: %q", path, got)
			}
		}
		if got := len(unpacked(t, packed)); got < len(whole)*9/10 || got > len(whole)*11/10 {
			t.Errorf("%s: unpacked it is %d bytes, plain %d", path, got, len(whole))
		}
		if len(packed) > len(whole)/2 {
			t.Errorf("%s: packed it is %d bytes of %d", path, len(packed), len(whole))
		}
	}
	for _, path := range []string{"/healthz", "/signed-in", "/static/icon.svg"} { // too small to pay
		if a, _ := st.plainly(path, "Accept-Encoding", "gzip"); a.Header.Get("Content-Encoding") != "" {
			t.Errorf("%s: packed", path)
		}
	}
}

func TestFilesAreKeptByBrowsers(t *testing.T) {
	st := startDay(t)
	for _, name := range []string{"page.css", "page.js", "icon.svg"} {
		a, _ := st.plainly(st.server.views.assets[name], "Accept-Encoding", "gzip")
		if got := a.Header.Get("Cache-Control"); got != "public, max-age=31536000, immutable" {
			t.Errorf("%s: got %q", name, got)
		}
		a, _ = st.plainly("/static/"+name, "Accept-Encoding", "gzip")
		tag := a.Header.Get("Etag")
		if a.Header.Get("Cache-Control") != "no-cache" || tag == "" {
			t.Errorf("%s without its version: got %q, tag %q", name, a.Header.Get("Cache-Control"), tag)
		}
		if again, body := st.plainly("/static/"+name, "If-None-Match", tag, "Accept-Encoding", "gzip"); again.StatusCode != http.StatusNotModified || len(body) > 0 {
			t.Errorf("%s: asked whether %s is still so: got status %d and %d bytes", name, tag, again.StatusCode, len(body))
		}
		if again, _ := st.plainly("/static/"+name, "If-None-Match", `"another"`); again.StatusCode != http.StatusOK {
			t.Errorf("%s: with another tag: got status %d", name, again.StatusCode)
		}
	}
}

// News must reach a browser at once, and so are not packed.
func TestNewsAreNotPacked(t *testing.T) {
	st := start(t, Options{Watch: newFake()}, quick)
	r, err := http.NewRequestWithContext(t.Context(), "GET", st.base+"/live", nil)
	if err != nil {
		t.Fatal(err)
	}
	r.Header.Set("Accept-Encoding", "gzip")
	a, err := (&http.Client{Transport: &http.Transport{DisableCompression: true}}).Do(r)
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	first := make([]byte, 12)
	if _, err := io.ReadFull(a.Body, first); err != nil || string(first) != "event: news\n" || a.Header.Get("Content-Encoding") != "" {
		t.Errorf("got %q, %v, encoding %q", first, err, a.Header.Get("Content-Encoding"))
	}
}

func packed(t *testing.T, h http.HandlerFunc) http.Handler {
	t.Helper()
	pack, err := packing()
	if err != nil {
		t.Fatal(err)
	}
	return pack(h)
}

// What is flushed can be read, packed or not, and before the rest is written.
func TestFlushedIsThere(t *testing.T) {
	goOn := make(chan struct{})
	server := httptest.NewServer(packed(t, func(w http.ResponseWriter, _ *http.Request) {
		w.Header().Set("Content-Type", "text/plain")
		w.Header().Set("Content-Length", "4000")
		control := http.NewResponseController(w)
		_, _ = w.Write(bytes.Repeat([]byte("a"), 2000))
		if err := control.Flush(); err != nil {
			t.Error(err)
		}
		if err := control.SetWriteDeadline(time.Now().Add(time.Minute)); err != nil {
			t.Error(err)
		}
		<-goOn
		_, _ = w.Write(bytes.Repeat([]byte("b"), 2000))
	}))
	defer server.Close()
	a, err := http.Get(server.URL) // unpacks by itself
	if err != nil {
		t.Fatal(err)
	}
	defer a.Body.Close()
	half := make([]byte, 2000)
	if _, err := io.ReadFull(a.Body, half); err != nil || !a.Uncompressed {
		t.Fatalf("got %v, packed: %v", err, a.Uncompressed)
	}
	close(goOn)
	rest, err := io.ReadAll(a.Body)
	if err != nil || string(rest) != strings.Repeat("b", 2000) {
		t.Errorf("got %d bytes, %v", len(rest), err)
	}
}

// Answers without a body, small ones, and heads keep their status.
func TestSmallAnswersKeepTheirStatus(t *testing.T) {
	h := packed(t, func(w http.ResponseWriter, r *http.Request) {
		w.Header().Set("Content-Type", "text/html")
		switch r.URL.Path {
		case "/none":
			w.WriteHeader(http.StatusNoContent)
		case "/small":
			w.WriteHeader(http.StatusTeapot)
			_, _ = w.Write([]byte("small"))
		case "/silent":
		default:
			_, _ = w.Write(make([]byte, 5000))
		}
	})
	for _, c := range []struct {
		method, path string
		status       int
		encoding     string
	}{{"GET", "/none", 204, ""}, {"GET", "/small", 418, ""}, {"GET", "/silent", 200, ""}, {"GET", "/large", 200, "gzip"}} {
		r := httptest.NewRequest(c.method, c.path, nil)
		r.Header.Set("Accept-Encoding", "gzip")
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		if w.Code != c.status || w.Header().Get("Content-Encoding") != c.encoding {
			t.Errorf("%s %s: got %d %q, want %d %q", c.method, c.path, w.Code, w.Header().Get("Content-Encoding"), c.status, c.encoding)
		}
	}
}
